"""What an instrument touched: its test runs, their homes, and the reports these homes count in."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from functools import cached_property
from uuid import UUID

from agency.diagnostics.doubting import doubt_on, exception_for
from agency.diagnostics.excepting import InstrumentException
from agency.diagnostics.models import InstrumentUse, TestRun
from agency.diagnostics.uses import day_of
from agency.instruments.doubts import Doubt
from agency.instruments.models import Calibration, Instrument
from agency.jobs.models import CLOSED, Job
from agency.programs.models import Program

from .periods import MONTHS_A_QUARTER, Period


@dataclass(frozen=True, slots=True, kw_only=True)
class Touched:
    """One test run made with the instrument."""

    run: TestRun
    made_at: datetime
    made_on: date
    doubt: Doubt | None
    exception: InstrumentException | None
    """What lets it stand in spite of the doubt."""

    @property
    def is_open(self) -> bool:
        """In doubt, and nobody lets it stand."""
        return self.doubt is not None and self.exception is None


@dataclass(frozen=True, slots=True, kw_only=True)
class TouchedReport:
    """One quarter's report and how many of its homes were tested with the instrument."""

    period: Period
    program: Program | None
    """None: the calendar quarter, over all grants."""
    homes: int


@dataclass(frozen=True, kw_only=True)
class Reach:
    """Some runs of the instrument, and what rests on them."""

    runs: tuple[Touched, ...]

    @cached_property
    def jobs(self) -> dict[UUID, Job]:
        """The jobs the runs were made for."""
        return {one.run.job_id: one.run.job for one in self.runs}

    @cached_property
    def homes(self) -> frozenset[UUID]:
        """The houses they were made in."""
        return frozenset(job.house_id for job in self.jobs.values())

    @cached_property
    def reports(self) -> tuple[TouchedReport, ...]:
        """The reports in which a job of theirs counts, newest quarter first."""
        return _reports(self.jobs.values())

    @cached_property
    def open_runs(self) -> tuple[Touched, ...]:
        """In doubt without an exception."""
        return tuple(one for one in self.runs if one.is_open)


@dataclass(frozen=True, slots=True, kw_only=True)
class LookBack:
    """Everything known on one day about the trust in an instrument."""

    instrument: Instrument
    on: date
    last_good: Calibration | None
    doubts: tuple[Doubt, ...]
    exceptions: tuple[InstrumentException, ...]
    """The withdrawn ones too, newest first."""
    in_doubt: Reach
    since_last_good: Reach
    """Every run when there was no good calibration."""


def look_back(instrument: Instrument, *, on: date) -> LookBack:
    """Follow the instrument back, in two queries once its calibrations are fetched.

    Parameters
    ----------
    instrument : Instrument
        Of the register; its calibrations say when it may be trusted.
    on : date
        What was known on this day counts.
    """
    doubts = instrument.doubts(on)
    last_good = instrument.last_good_calibration(on)
    exceptions = tuple(InstrumentException.objects.of([instrument]))
    uses = InstrumentUse.objects.of(instrument).timed()
    start = date.min if last_good is None else last_good.calibrated_on
    if last_good is not None:
        uses = uses.since(start) | uses.in_doubt({instrument: doubts})
    touched = [_touched(use, doubts, exceptions) for use in uses.with_job().newest_first()]
    return LookBack(
        instrument=instrument,
        on=on,
        last_good=last_good,
        doubts=tuple(doubts),
        exceptions=exceptions,
        in_doubt=Reach(runs=tuple(one for one in touched if one.doubt)),
        since_last_good=Reach(runs=tuple(one for one in touched if one.made_on >= start)),
    )


def _touched(
    use: InstrumentUse, doubts: list[Doubt], exceptions: Iterable[InstrumentException]
) -> Touched:
    run = use.test_run
    made_at = run.corrected_taken_at
    day = day_of(made_at)
    doubt = doubt_on(doubts, day)
    exception = None if doubt is None else exception_for(doubt, exceptions, run_id=run.pk, day=day)
    return Touched(run=run, made_at=made_at, made_on=day, doubt=doubt, exception=exception)


def _reports(jobs: Iterable[Job]) -> tuple[TouchedReport, ...]:
    homes: dict[tuple[Period, Program | None], set[UUID]] = defaultdict(set)
    for job in jobs:
        for key in _counted_in(job):
            homes[key].add(job.pk)
    found = [
        TouchedReport(period=period, program=program, homes=len(counted))
        for (period, program), counted in homes.items()
    ]
    return tuple(sorted(found, key=lambda one: (one.period.first, one.period.code), reverse=True))


def _counted_in(job: Job) -> list[tuple[Period, Program | None]]:
    """The calendar quarter and the quarter of the grant; none before the job is approved."""
    day = job.inspection_passed_on
    if job.status not in CLOSED or day is None:
        return []
    number = (day.month - 1) // MONTHS_A_QUARTER + 1
    counted: list[tuple[Period, Program | None]] = [
        (Period.calendar_quarter(year=day.year, number=number), None)
    ]
    program = job.program
    if program.first_day <= day <= program.last_day:
        counted.append((_program_quarter_of(program, day), program))
    return counted


def _program_quarter_of(program: Program, day: date) -> Period:
    number = 1
    while (period := Period.program_quarter(program, number)).last < day:
        number += 1
    return period
