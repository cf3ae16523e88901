"""What has changed in locked quarters since: noted once, in the quarter that is running."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from agency.estimates.models import SavingsEstimate
from agency.jobs.models import Job
from agency.programs.models import Program
from agency.wording import words

from .canonical import canonical_text, revived
from .evidence import CorrectionRow, Evidence
from .models import Correction, LockedQuarter
from .periods import Period
from .rows import JobRow, fuel_word, rows_of

Value = float | str | None
Facts = dict[str, Value]


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact:
    """One fact a locked quarter reported of each unit."""

    name: str
    unit: str
    of: Callable[[JobRow], Value]
    because: Callable[[Job, datetime], str]
    """Why it is another now, from what was recorded since."""


def note_corrections(now: datetime) -> int:
    """Note every change of a locked quarter that is not noted yet; how many there were."""
    return sum(_note(one, now) for one in LockedQuarter.objects.select_related("program"))


def correction_rows(period: Period, program: Program | None) -> tuple[CorrectionRow, ...]:
    """The corrections that stand in the report of `period`."""
    return tuple(map(_row, Correction.objects.noted_in(period, program)))


@transaction.atomic
def _note(locked: LockedQuarter, now: datetime) -> int:
    # Two sweeps at once would note a change twice.
    LockedQuarter.objects.select_for_update(of=("self",)).get(pk=locked.pk)
    known, present = _reported(locked), _present(locked)
    changes = [
        (job, fact, old, new)
        for job in sorted(known.keys() | present.keys(), key=str)
        for fact, old, new in _changes(known.get(job, {}), present.get(job, {}))
    ]
    jobs = Job.objects.with_people().in_bulk({job for job, *_ in changes})
    Correction.objects.bulk_create(
        Correction(
            locked=locked,
            job=jobs[job],
            what=fact.name,
            old=old,
            new=new,
            why=fact.because(jobs[job], locked.locked_at),
            noted_at=now,
            noted_on=timezone.localdate(now),
        )
        for job, fact, old, new in changes
    )
    return len(changes)


def _reported(locked: LockedQuarter) -> dict[UUID, Facts]:
    """What was said of each job last: when the quarter was locked, or by a correction since."""
    rows = revived(Evidence, locked.evidence).rows
    facts = {row.job_id: _facts(row) for row in rows}
    for one in locked.corrections.order_by("noted_at", "id"):
        facts.setdefault(one.job_id, {})[one.what] = one.new
    return facts


def _present(locked: LockedQuarter) -> dict[UUID, Facts]:
    period = Period(
        first=locked.first_day, last=locked.last_day, code=locked.code, label=locked.label
    )
    return {row.job_id: _facts(row) for row in rows_of(period, locked.program)}


def _facts(row: JobRow) -> Facts:
    return {fact.name: fact.of(row) for fact in FACTS}


def _changes(known: Facts, present: Facts) -> Iterable[tuple[Fact, Value, Value]]:
    """A unit that left or came is one change; of one that stayed, each fact by itself."""
    counted = FACTS[0]
    was, now = known.get(counted.name, NO), present.get(counted.name, NO)
    if was != now:
        yield counted, was, now
    if now == NO:
        return
    for fact in FACTS[1:]:
        old, new = known.get(fact.name), present.get(fact.name)
        # A unit that comes in brings its facts along; there was nothing to correct.
        if fact.name in known and canonical_text(old) != canonical_text(new):
            yield fact, old, new


def _row(correction: Correction) -> CorrectionRow:
    fact = BY_NAME[correction.what]
    counted = fact is FACTS[0]
    units = 0 if not counted else 1 if correction.new == YES else -1
    return CorrectionRow(
        quarter=str(correction.locked),
        job_id=correction.job_id,
        job_number=correction.job.number,
        what=fact.name,
        unit=fact.unit,
        old=correction.old,
        new=correction.new,
        units=units,
        why=correction.why,
        noted_on=correction.noted_on,
    )


def _moved(job: Job, since: datetime) -> str:
    event = job.events.filter(at__gt=since).select_related("by").last()
    if event is None:
        return "The counting date, the grant or the state of the job was put right."
    reason = f": {event.reason}" if event.reason else ""
    return f"{event.get_new_display()} on {_day(event.at)} by {event.by}{reason}."


def _compared(job: Job, since: datetime) -> str:
    newest: Any = job.comparisons.filter(computed_at__gt=since).first()
    if newest is None:
        return "The stored comparison was put right."
    told = [one.get("message", "") if isinstance(one, Mapping) else one for one in newest.reasons]
    because = f": {' '.join(filter(None, told))}" if any(told) else "."
    return f"Tests compared anew on {_day(newest.computed_at)}{because}"


def _estimated(job: Job, since: datetime) -> str:
    newest = SavingsEstimate.objects.filter(job=job, computed_at__gt=since).first()
    if newest is None:
        return "The estimate no longer rests on the tests that count."
    return f"Saving estimated anew on {_day(newest.computed_at)}."


def _house_changed(job: Job, since: datetime) -> str:
    return _record_changed("House record", job.house, since)


def _job_changed(job: Job, since: datetime) -> str:
    return _record_changed("Job record", job, since)


def _record_changed(record: str, held: Any, since: datetime) -> str:
    entry = held.history.filter(history_date__gt=since).select_related("history_user").first()
    if entry is None:
        return f"{record} put right."
    by = f" by {entry.history_user}" if entry.history_user else ""
    reason = f": {entry.history_change_reason}" if entry.history_change_reason else ""
    return f"{record} changed on {_day(entry.history_date)}{by}{reason}."


def _day(at: datetime) -> str:
    return words.day(timezone.localdate(at))


def _scaled(value: float | None, one_unit: float) -> float | None:
    return None if value is None else value / one_unit


def _saved(row: JobRow) -> float | None:
    return sum(one.mmbtu.central for one in row.savings) if row.savings else None


YES, NO = "yes", "no"
FACTS = (
    Fact(name="Counted", unit="", of=lambda row: YES, because=_moved),
    Fact(name="Comparison", unit="", of=lambda row: row.verdict_word, because=_compared),
    Fact(
        name="Flow before", unit="cfm", of=lambda row: _scaled(row.before, words.CFM),
        because=_compared,
    ),
    Fact(
        name="Flow after", unit="cfm", of=lambda row: _scaled(row.after, words.CFM),
        because=_compared,
    ),
    Fact(
        name="Reduction", unit="percent", of=lambda row: _scaled(row.reduction, 0.01),
        because=_compared,
    ),
    Fact(name="Saving, modelled", unit="mmbtu_a_year", of=_saved, because=_estimated),
    Fact(name="County", unit="", of=lambda row: row.county, because=_house_changed),
    Fact(name="Housing type", unit="", of=lambda row: row.dwelling, because=_house_changed),
    Fact(
        name="Heating fuel", unit="", of=lambda row: fuel_word(row.heating_fuel) or "not recorded",
        because=_house_changed,
    ),
    Fact(name="Year built", unit="", of=lambda row: row.year_built, because=_house_changed),
    Fact(name="Crew", unit="", of=lambda row: row.crew, because=_job_changed),
)  # fmt: skip
BY_NAME = {fact.name: fact for fact in FACTS}
