"""Who changed what on a job, its house and its test runs, as rows of words."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime
from itertools import pairwise
from typing import Any

from django.db import models

from agency.certificates.models import Handover
from agency.diagnostics.models import TestRun
from agency.houses.models import House
from agency.jobs.models import Job
from agency.wording import words
from agency.wording.templatetags.wording import day, moment

from .readings import as_read

UNIT_ENDINGS = {"_sqft": ", ft²", "_cuft": ", ft³", "_ft": ", ft"}
TOLD_BY_EVENTS = {"status", "approved_at"}
TOLD_BY_ENTRY = {"written_at", "written_by"}
TOLD_WITH_REVIEW = {"reviewed_by", "reviewed_at", "review_reason"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One change: when, by whom and in which role, of what, from which value to which, and why."""

    at: datetime
    who: str
    role: str
    what: str
    old: str = ""
    new: str = ""
    reason: str = ""


def history_of(job: Job) -> list[Entry]:
    """Every recorded change around a job, newest first."""
    entries = [
        *_events(job),
        *_stops(job),
        *_changes(job.history.all(), "Job", Job, told_elsewhere=TOLD_BY_EVENTS),
        *_changes(job.house.history.all(), "House", House),
        *_changes(
            Handover.history.filter(job_id=job.pk),
            "What the household is told",
            Handover,
            told_elsewhere=TOLD_BY_ENTRY,
        ),
        *_run_changes(job),
    ]
    return sorted(entries, key=lambda entry: entry.at, reverse=True)


def history_of_run(run: TestRun) -> list[Entry]:
    """Every recorded change of one test run, newest first; its review is told elsewhere."""
    rows = run.history.all()
    entries = _changes(rows, "Test run", TestRun, told_elsewhere=TOLD_WITH_REVIEW)
    return sorted(entries, key=lambda entry: entry.at, reverse=True)


def _events(job: Job) -> Iterator[Entry]:
    for event in job.events.select_related("by"):
        yield Entry(
            at=event.at,
            who=str(event.by),
            role=event.role,
            what="Job status",
            old=event.get_old_display(),
            new=event.get_new_display(),
            reason=event.reason,
        )


def _stops(job: Job) -> Iterator[Entry]:
    for stop in job.safety_stops.all():
        yield Entry(
            at=stop.raised_at, who="The computer", role="", what=f"Safety stop raised: {stop.words}"
        )
        if stop.acknowledged_at and stop.acknowledged_by:
            yield Entry(
                at=stop.acknowledged_at,
                who=str(stop.acknowledged_by),
                role=stop.acknowledged_by.role,
                what=f"Safety stop acknowledged by {stop.acknowledged_name}: {stop.words}",
            )
        if stop.cleared_at and stop.cleared_by:
            yield Entry(
                at=stop.cleared_at,
                who=str(stop.cleared_by),
                role=stop.cleared_by.role,
                what=f"Safety stop cleared: {stop.words}",
                reason=stop.cleared_reason,
            )


def _run_changes(job: Job) -> Iterator[Entry]:
    rows = TestRun.history.filter(job_id=job.pk).select_related("history_user")
    by_run: dict[Any, list[Any]] = {}
    for row in rows.order_by("history_date", "history_id"):
        by_run.setdefault(row.id, []).append(row)
    for versions in by_run.values():
        title = f"Test run {words.coded(versions[0].phase).lower()}"
        yield from _differences(versions, title, TestRun, told_elsewhere=TOLD_WITH_REVIEW)


def _changes(
    rows: "models.QuerySet[Any]",
    title: str,
    model: type[models.Model],
    *,
    told_elsewhere: Iterable[str] = (),
) -> Iterator[Entry]:
    versions = rows.select_related("history_user").order_by("history_date", "history_id")
    yield from _differences(list(versions), title, model, told_elsewhere=told_elsewhere)


def _differences(
    versions: list[Any],
    title: str,
    model: type[models.Model],
    *,
    told_elsewhere: Iterable[str],
) -> Iterator[Entry]:
    if versions and versions[0].history_type == "+":
        yield _entry(versions[0], f"{title} recorded")
    for old, new in pairwise(versions):
        delta = new.diff_against(old, excluded_fields=told_elsewhere, foreign_keys_are_objs=True)
        for change in delta.changes:
            field = model._meta.get_field(change.field)
            yield _entry(
                new,
                f"{title}: {_name(field)}",
                old=_value(field, change.old),
                new=_value(field, change.new),
            )


def _entry(version: Any, what: str, *, old: str = "", new: str = "") -> Entry:
    user = version.history_user
    return Entry(
        at=version.history_date,
        who=str(user) if user else "The computer",
        role=user.role if user else "",
        what=what,
        old=old,
        new=new,
        reason=getattr(version, "review_reason", "") or version.history_change_reason or "",
    )


def _name(field: Any) -> str:
    name: str = field.name
    for ending, unit in UNIT_ENDINGS.items():
        if name.endswith(ending):
            return name.removesuffix(ending).replace("_", " ") + unit
    return name.replace("_", " ")


def _value(field: Any, value: Any) -> str:
    if value is None:
        return words.NOT_MEASURED if isinstance(field, models.FloatField) else "empty"
    if field.choices:
        return str(dict(field.flatchoices).get(value, value))
    spelled: dict[type, Callable[[Any], str]] = {
        bool: lambda known: "yes" if known else "no",
        float: as_read,
        datetime: moment,
        date: day,
    }
    return spelled.get(type(value), str)(value)
