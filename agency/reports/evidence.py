"""All that a quarter's report rests on, as plain data: gathered once, it can be frozen."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from django.db.models import Count, Min, Q

from agency.jobs.models import Job, Visit
from agency.programs.models import County, Program
from agency.rulebook.models import Rule

from .bench import BenchTest, bench_tests
from .breakdowns import CountyName
from .periods import Period
from .rows import JobRow, rows_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Inspected:
    """A job first inspected in the period, and how many final inspections it failed in all."""

    job_id: UUID
    house_id: UUID
    failures: int
    units: int = 1
    """Dwelling units inside the tested envelope."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleVersion:
    """One row of the rule book as it stood on the last day of the period."""

    code: str
    standard: str
    edition: str
    effective_from: date
    operator: str
    limit: float | None
    low: float | None
    high: float | None
    unit: str
    provenance: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CorrectionRow:
    """A unit of a locked quarter that has changed since; values in `unit`, None: no value."""

    quarter: str
    """The locked quarter, in words."""
    job_id: UUID
    job_number: str
    what: str
    unit: str
    old: float | str | None
    new: float | str | None
    units: int
    """What it does to the number of units: 1, 0 or -1."""
    why: str
    noted_on: date


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """What one report is made from; nothing else enters it."""

    period: Period
    program: str
    """Number of the only grant; empty for all."""
    filter: str
    made_at: datetime
    rows: tuple[JobRow, ...]
    inspected: tuple[Inspected, ...]
    tests: tuple[BenchTest, ...]
    counties: tuple[CountyName, ...]
    rules: tuple[RuleVersion, ...]
    corrections: tuple[CorrectionRow, ...]


def gather(
    period: Period,
    *,
    program: Program | None,
    corrections: Iterable[CorrectionRow],
    now: datetime,
) -> Evidence:
    """Everything stored that the report of `period` needs, in a fixed number of queries."""
    counted = Job.objects.counted_between(period.first, period.last)
    if program is not None:
        counted = counted.filter(program=program)
    return Evidence(
        period=period,
        program="" if program is None else program.grant_number,
        filter="All grants" if program is None else f"Grant: {program}",
        made_at=now,
        rows=rows_of(period, program),
        inspected=_inspected(period, program),
        tests=bench_tests(counted),
        counties=tuple(CountyName(code=one.code, name=one.name) for one in County.objects.all()),
        rules=_rules(period.last),
        corrections=tuple(corrections),
    )


def _inspected(period: Period, program: Program | None) -> tuple[Inspected, ...]:
    inspections = Visit.objects.filter(
        kind=Visit.Kind.FINAL_INSPECTION,
        outcome__in=[Visit.Outcome.PASSED, Visit.Outcome.FAILED],
    )
    if program is not None:
        inspections = inspections.filter(job__program=program)
    firsts = (
        inspections.order_by("job__number")
        .values("job_id", "job__house_id", "job__house__units", "job__number")
        .annotate(
            first=Min("planned_on"), failures=Count("pk", filter=Q(outcome=Visit.Outcome.FAILED))
        )
        .filter(first__range=(period.first, period.last))
    )
    return tuple(
        Inspected(
            job_id=one["job_id"],
            house_id=one["job__house_id"],
            failures=one["failures"],
            units=one["job__house__units"],
        )
        for one in firsts
    )


def _rules(on: date) -> tuple[RuleVersion, ...]:
    fields = RuleVersion.__slots__
    stored = Rule.objects.effective_on(on).order_by("code", "effective_from").values(*fields)
    return tuple(RuleVersion(**one) for one in stored)
