"""Until when a household's case file must be kept, by the rules of the day."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import Exists, OuterRef, QuerySet, Subquery
from django.utils import timezone

from agency.intake.book import rules_on, whole
from agency.intake.days import months_after
from agency.intake.models import Application
from agency.jobs.models import Job
from agency.people.models import Client

YEAR = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """A case file and how long it is kept; `until` is None when that cannot be told yet."""

    client: Client
    until: date | None
    why: str


def closed_files() -> "QuerySet[Client]":
    """Clients with nothing open, not held and not erased yet."""
    open_jobs = Job.objects.open().filter(client=OuterRef("pk"))
    open_applications = Application.objects.open().filter(client=OuterRef("pk"))
    return Client.objects.filter(
        ~Exists(open_jobs), ~Exists(open_applications), erased_at=None, legal_hold=""
    )


def kept_files(*, on: date) -> Iterator[Kept]:
    """Every closed file with the day until which it is kept: the longest of all rules."""
    rules = rules_on(on)
    state = whole(rules, "retention.state_years", on=on)
    federal = whole(rules, "retention.federal_years", on=on)
    changes = Client.history.filter(id=OuterRef("pk")).order_by("-history_date")
    rows: Any = closed_files().annotate(changed_at=Subquery(changes.values("history_date")[:1]))
    rows = rows.prefetch_related(
        "jobs__program", "jobs__events", "applications__program", "applications__events"
    )
    for client in rows.iterator(chunk_size=500):
        yield _kept(client, state_years=state, federal_years=federal)


def due_files(*, on: date) -> list[Kept]:
    """Files whose time is over on that day, the oldest first."""
    due = [kept for kept in kept_files(on=on) if kept.until is not None and kept.until < on]
    return sorted(due, key=lambda kept: (kept.until, str(kept.client.pk)))


def _kept(client: Any, *, state_years: int, federal_years: int) -> Kept:
    cases = [*client.jobs.all(), *client.applications.all()]
    entries = [event.at for case in cases for event in case.events.all()]
    last = max((timezone.localdate(at) for at in [*entries, client.changed_at] if at), default=None)
    if last is None:
        return Kept(client=client, until=None, why="no entry is dated")
    until, why = months_after(last, state_years * YEAR), f"{state_years} years after the last entry"
    for program in {case.program for case in cases}:
        if program.final_report_on is None:
            return Kept(client=client, until=None, why=f"{program} has no final report yet")
        federal = months_after(program.final_report_on, federal_years * YEAR)
        if federal > until:
            until, why = federal, f"{federal_years} years after the final report of {program}"
    return Kept(client=client, until=until, why=why)
