"""A look-back as a plain table, for the same safe export as the quarter report."""

from datetime import datetime

from django.utils import timezone

from agency.wording import words

from .look_back import LookBack, Reach, Touched
from .table import Cell, Column, Kind, Table

COLUMNS = (
    Column(name="test_run_id", kind=Kind.TEXT),
    Column(name="made_at", kind=Kind.TEXT),
    Column(name="made_on", kind=Kind.DATE),
    Column(name="phase", kind=Kind.TEXT),
    Column(name="review", kind=Kind.TEXT),
    Column(name="job_number", kind=Kind.TEXT),
    Column(name="job_id", kind=Kind.TEXT),
    Column(name="house_id", kind=Kind.TEXT),
    Column(name="city", kind=Kind.TEXT),
    Column(name="grant_number", kind=Kind.TEXT),
    Column(name="inspection_passed_on", kind=Kind.DATE),
    Column(name="in_doubt_because", kind=Kind.TEXT),
    Column(name="excepted_by", kind=Kind.TEXT),
    Column(name="exception_reason", kind=Kind.TEXT),
)


def look_back_table(reach: Reach) -> Table:
    """One row a test run, newest first."""
    rows = tuple(map(_row, reach.runs))
    return Table(name="runs", title="Test runs", columns=COLUMNS, rows=rows)


def look_back_head(
    found: LookBack, reach: Reach, *, listed: str, now: datetime
) -> tuple[tuple[str, Cell], ...]:
    """What the file says before its table: whose runs, which of them, and how many."""
    good = found.last_good
    return (
        ("report", "Test runs of one instrument"),
        ("instrument", str(found.instrument)),
        ("listed", listed),
        ("made_at", words.iso(now, timezone.get_current_timezone())),
        ("last_good_calibration", good.calibrated_on if good else "none known"),
        *(("in_doubt", f"{doubt.days}: {doubt.reason}") for doubt in found.doubts),
        ("test_runs", len(reach.runs)),
        ("test_runs_in_doubt_without_exception", len(reach.open_runs)),
        ("homes", len(reach.homes)),
        ("reports", "; ".join(one.period.label for one in reach.reports) or "none"),
    )


def _row(touched: Touched) -> tuple[Cell, ...]:
    run, exception = touched.run, touched.exception
    job = run.job
    return (
        str(run.pk),
        words.iso(touched.made_at, timezone.get_current_timezone()),
        touched.made_on,
        words.coded(run.phase),
        words.coded(run.review),
        job.number,
        str(job.pk),
        str(job.house_id),
        job.house.city,
        job.program.grant_number,
        job.inspection_passed_on,
        touched.doubt.reason if touched.doubt else "",
        str(exception.by) if exception else "",
        exception.reason if exception else "",
    )
