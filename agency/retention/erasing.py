"""Erases one household: persons and their circumstances go, readings and the audit trail stay."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from typing import Any

from django.db import transaction
from django.db.models import QuerySet

from agency.diagnostics.photos import Photo
from agency.errors import ActionRefused
from agency.houses.models import House, OwnerPermission
from agency.intake.models import (
    Application,
    ApplicationEvent,
    Benefit,
    Determination,
    EnergyUse,
    IncomeItem,
    Paper,
    PriorityScore,
)
from agency.jobs.models import Job, JobEvent, SafetyStop, Visit
from agency.people.models import Client, Household

from .models import Erasure

ERASED = "Erased"
NOBODY = dict.fromkeys((*Household.BANDS, "with_disability", "native_american"), 0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """Rows of one kind and what becomes of them."""

    name: str
    rows: "QuerySet[Any]"
    act: Callable[["QuerySet[Any]"], Any]


def planned(client: Client, *, now: datetime) -> dict[str, int]:
    """How many rows of each kind an erasure would touch; nothing is changed."""
    _refuse_to_erase(client)
    return {part.name: part.rows.count() for part in _parts(client, now)}


@transaction.atomic
def erase(client: Client, *, reason: str, now: datetime) -> Erasure:
    """Blank and delete, all of it or nothing; done again it changes nothing more."""
    locked = Client.objects.select_for_update().get(pk=client.pk)
    _refuse_to_erase(locked)
    if not reason.strip():
        raise ActionRefused("The reason is empty. Say why this household is erased.")
    parts = list(_parts(locked, now))
    done = {part.name: part.rows.count() for part in parts}
    for part in parts:
        part.act(part.rows)
    return Erasure.objects.create(client_id=locked.pk, at=now, reason=reason.strip(), done=done)


def _refuse_to_erase(client: Client) -> None:
    if client.legal_hold:
        raise ActionRefused(
            f"This file is held: {client.legal_hold} End the hold in the records first."
        )
    open_application = client.applications.open().first()
    if open_application is not None:
        raise ActionRefused(f"{open_application} is still open. Withdraw or deny it first.")
    open_job = client.jobs.open().first()
    if open_job is not None:
        raise ActionRefused(f"{open_job} is still open. Approve or withdraw it first.")


def _parts(client: Client, now: datetime) -> Iterator[Part]:
    applications = Application.objects.filter(client=client)
    yield from _circumstances(applications)
    yield from _decisions(applications, now)
    yield from _household(client, applications)
    yield from _visits(client)
    yield from _owners(client)
    yield _history("changes of the client", Client, id=client.pk)
    yield Part(
        name="client",
        rows=Client.objects.filter(pk=client.pk),
        act=lambda rows: rows.update(
            name=f"{ERASED} {str(client.pk)[:8]}", phone="", email="", erased_at=now
        ),
    )


def _circumstances(applications: "QuerySet[Application]") -> Iterator[Part]:
    """Income, benefits, bills and papers are deleted with every earlier version."""
    models: tuple[Any, ...] = (IncomeItem, Benefit, EnergyUse, Paper)
    for model in models:
        name = model._meta.verbose_name
        yield Part(
            name=f"{name} rows",
            rows=model.objects.filter(application__in=applications),
            act=lambda rows: rows.delete(),
        )
        yield _history(f"changes of {name}", model, application__in=list(applications))


def _decisions(applications: "QuerySet[Application]", now: datetime) -> Iterator[Part]:
    """Outcome, day and rules stay; what they were made from goes."""
    yield Part(
        name="determinations",
        rows=Determination.objects.filter(application__in=applications, erased_at=None),
        act=lambda rows: rows.update(
            inputs={}, lines=[], annual_income=None, limit=None, erased_at=now
        ),
    )
    yield Part(
        name="priority scores",
        rows=PriorityScore.objects.filter(application__in=applications, erased_at=None),
        act=lambda rows: rows.update(inputs={}, lines=[], erased_at=now),
    )


def _household(client: Client, applications: "QuerySet[Application]") -> Iterator[Part]:
    yield Part(
        name="reasons of applications",
        rows=ApplicationEvent.objects.filter(application__in=applications),
        act=lambda rows: rows.update(reason=""),
    )
    yield Part(
        name="applications",
        rows=applications,
        act=lambda rows: rows.update(
            income_method="",
            no_utility_release_reason="",
            emergency_reason="",
            disaster_reason="",
        ),
    )
    yield _history("changes of applications", Application, client=client)
    yield Part(
        name="households",
        rows=Household.objects.filter(client=client),
        act=lambda rows: rows.update(**NOBODY),
    )
    yield _history("changes of households", Household, client=client)


def _visits(client: Client) -> Iterator[Part]:
    """What was said and seen at the house; the readings are no personal data and stay."""
    jobs = Job.objects.filter(client=client)
    yield Part(
        name="notes of visits",
        rows=Visit.objects.filter(job__in=jobs),
        act=lambda rows: rows.update(note=""),
    )
    yield _history("changes of visits", Visit, job__in=list(jobs))
    yield Part(
        name="reasons of jobs",
        rows=JobEvent.objects.filter(job__in=jobs),
        act=lambda rows: rows.update(reason=""),
    )
    stops = SafetyStop.objects.filter(job__in=jobs).exclude(acknowledged_name="")
    yield Part(
        name="names under safety stops",
        rows=stops,
        act=lambda rows: rows.update(acknowledged_name=ERASED),
    )
    yield _history("changes of safety stops", SafetyStop, job__in=list(jobs))
    yield Part(name="photos", rows=Photo.objects.filter(job__in=jobs), act=_delete_photos)


def _delete_photos(photos: "QuerySet[Photo]") -> None:
    """Rows now, files once the rows are surely gone."""
    for photo in photos:
        for file in (photo.file, photo.small):
            transaction.on_commit(partial(file.storage.delete, str(file.name)))
    photos.delete()


def _owners(client: Client) -> Iterator[Part]:
    """Owners of dwellings that nobody else on file has lived in."""
    own = House.objects.filter(applications__client=client)
    others = Application.objects.exclude(client=client).filter(client__erased_at=None)
    alone = own.exclude(pk__in=others.values("house"))
    yield Part(
        name="owners' permissions",
        rows=OwnerPermission.objects.filter(house__in=alone),
        act=lambda rows: rows.update(owner_name=ERASED, owner_phone=""),
    )
    yield _history("changes of owners' permissions", OwnerPermission, house__in=list(alone))


def _history(name: str, model: Any, **of: Any) -> Part:
    return Part(name=name, rows=model.history.filter(**of), act=lambda rows: rows.delete())
