"""What a funder is told about a period: units, pairs, reductions, gaps and modelled savings."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from agency.diagnostics.models import Comparison
from agency.programs.models import Program

from .bench import BenchLine, bench_lines
from .breakdowns import (
    Breakdown,
    CountyName,
    Crossing,
    CycleTime,
    breakdowns_of,
    counties_without_unit,
    crossing_of,
    cycle_time_of,
)
from .canonical import digest
from .distribution import Bin, Distribution, bins_of, distribution_of
from .evidence import CorrectionRow, Evidence, Inspected, gather
from .figures import Figure, Group, Share, Units, grouped, reductions_of, share_of, units_of
from .periods import Period
from .rows import NOT_COMPARED, FuelSaving, JobRow, Range

EDITION = "1"
"""Raised with every change of what a report counts or how; a locked quarter keeps its own."""
COUNTING_RULE = (
    "A unit counts in the period of its first passed final inspection, once its job is approved."
)
MODELLED = (
    "Modelled first-year savings in site energy, not measured from bills. The ranges are added end "
    "to end, as if every home erred the same way."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Lock:
    """Who froze the report, when, and the hash that anyone can work out again."""

    by: str
    at: datetime
    sha256: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FuelSum:
    """Modelled savings of one fuel over all estimated homes."""

    fuel: str
    mmbtu: Range
    homes: Units
    dollars: Range | None
    """None when none of the homes has a price for this fuel."""
    priced: Units


@dataclass(frozen=True, slots=True, kw_only=True)
class QuarterReport:
    """Everything the report page and the exports show. Shares are fractions of one."""

    period: Period
    program: str
    filter: str
    made_at: datetime
    edition: str
    """Of this report's own arithmetic."""
    maths_versions: tuple[str, ...]
    standards: tuple[str, ...]
    """Standards and editions the tests were evaluated by."""
    rule_book: str
    """SHA-256 of the rules in force on the last day of the period."""
    counting_rule: str
    units: Units
    coverage: Share
    """Comparable pairs of tests over units."""
    rows: tuple[JobRow, ...]
    mean_reduction: Figure
    pooled_reduction: Figure
    flow_before: Figure
    flow_after: Figure
    flow_saved: Figure
    """Sums over the pairs. [m³/s]"""
    breakdowns: tuple[Breakdown, ...]
    """The same reductions by crew, housing type, year built and county."""
    crossing: Crossing
    counties_without_unit: tuple[CountyName, ...]
    cycle_time: CycleTime
    distribution: Distribution
    bins: tuple[Bin, ...]
    missing_before: tuple[Group, ...]
    missing_after: tuple[Group, ...]
    not_comparable: tuple[Group, ...]
    not_compared: tuple[Group, ...]
    not_detectable: Units
    """Pairs that show no reduction larger than its uncertainty; they stay in every figure."""
    first_pass: Share
    """Passed at the first final inspection over first inspected in the period."""
    rework: Share
    """Failed a final inspection at least once over first inspected in the period."""
    failed_inspections: int
    """How many times the units first inspected in the period were sent back in all."""
    savings: tuple[FuelSum, ...]
    savings_total: FuelSum | None
    savings_note: str
    not_estimated: tuple[Group, ...]
    bench: tuple[BenchLine, ...]
    """Every other kind of test made in the counted jobs."""
    corrections: tuple[CorrectionRow, ...]
    """What has changed in locked quarters since, noted in this one."""
    corrected_units: int
    """Units the corrections add, less those they take away."""
    lock: Lock | None = None
    """None while the quarter is not locked."""

    @property
    def left_out(self) -> tuple[tuple[str, tuple[Group, ...]], ...]:
        """Why units are in no pair, by heading."""
        return (
            ("No test before the work", self.missing_before),
            ("No test after the work", self.missing_after),
            ("Not comparable", self.not_comparable),
            ("Not compared yet", self.not_compared),
        )


def quarter_report(
    period: Period,
    *,
    program: Program | None = None,
    corrections: Iterable[CorrectionRow] = (),
    now: datetime,
) -> QuarterReport:
    """The report of `period` from what is stored now; no test is evaluated anew.

    Parameters
    ----------
    period : Period
        The days a first passed final inspection must lie in.
    program : Program or None
        Only this grant's jobs; None for all.
    corrections : iterable of CorrectionRow
        What has changed in quarters locked before.
    now : datetime
        Our clock, printed as the time the report was made.
    """
    return report_of(gather(period, program=program, corrections=corrections, now=now))


def report_of(evidence: Evidence) -> QuarterReport:
    """The report of this evidence; equal evidence gives an equal report."""
    rows = evidence.rows
    pairs = [row for row in rows if row.is_pair]
    reductions = [(row.job_id, row.reduction) for row in pairs if row.reduction is not None]
    units, group = units_of(rows), reductions_of(pairs)
    return QuarterReport(
        period=evidence.period,
        program=evidence.program,
        filter=evidence.filter,
        made_at=evidence.made_at,
        edition=EDITION,
        maths_versions=_maths_versions(rows),
        standards=tuple(sorted({name for row in rows for name in row.standards})),
        rule_book=digest(evidence.rules),
        counting_rule=COUNTING_RULE,
        units=units,
        coverage=share_of(units_of(pairs), units),
        rows=rows,
        mean_reduction=group.mean_reduction,
        pooled_reduction=group.pooled_reduction,
        flow_before=group.flow_before,
        flow_after=group.flow_after,
        flow_saved=group.flow_saved,
        breakdowns=breakdowns_of(rows),
        crossing=crossing_of(rows),
        counties_without_unit=counties_without_unit(evidence.counties, rows),
        cycle_time=cycle_time_of(rows),
        distribution=distribution_of(reductions),
        bins=bins_of(reductions),
        missing_before=_by_reason(rows, Comparison.Verdict.NO_BEFORE),
        missing_after=_by_reason(rows, Comparison.Verdict.NO_AFTER),
        not_comparable=_by_reason(rows, Comparison.Verdict.NOT_COMPARABLE),
        not_compared=_by_reason(rows, NOT_COMPARED),
        not_detectable=units_of(
            row for row in pairs if row.verdict == Comparison.Verdict.NOT_DETECTABLE
        ),
        **_passing(evidence.inspected),
        failed_inspections=sum(one.failures for one in evidence.inspected),
        **_savings(rows),
        not_estimated=grouped(
            [row for row in pairs if not row.savings], lambda row: row.no_savings_reasons
        ),
        bench=bench_lines(evidence.tests),
        corrections=evidence.corrections,
        corrected_units=sum(one.units for one in evidence.corrections),
    )


def _savings(rows: Sequence[JobRow]) -> dict[str, Any]:
    parts = [(row, saving) for row in rows for saving in row.savings]
    return {
        "savings": tuple(
            _fuel_sum(fuel, [(row, part) for row, part in parts if part.fuel == fuel])
            for fuel in sorted({part.fuel for _, part in parts})
        ),
        "savings_total": _fuel_sum("total", parts) if parts else None,
        "savings_note": MODELLED,
    }


def _maths_versions(rows: Iterable[JobRow]) -> tuple[str, ...]:
    """Which arithmetic made the figures, each version met once."""
    tightness = {f"tightness {row.maths_version}" for row in rows if row.maths_version}
    savings = {f"savings {row.savings_maths_version}" for row in rows if row.savings_maths_version}
    return (*sorted(tightness), *sorted(savings))


def _by_reason(rows: Iterable[JobRow], verdict: str) -> tuple[Group, ...]:
    return grouped([row for row in rows if row.verdict == verdict], lambda row: row.reasons)


def _passing(inspected: Sequence[Inspected]) -> dict[str, Any]:
    """Units first inspected in the period; a job that ever failed did not pass at first."""

    def units(found: Iterable[Inspected]) -> Units:
        listed = list(found)
        houses = {one.house_id: one.units for one in listed}
        return Units(n=sum(houses.values()), jobs=tuple(one.job_id for one in listed))

    whole = units(inspected)
    return {
        "first_pass": share_of(units(one for one in inspected if one.failures == 0), whole),
        "rework": share_of(units(one for one in inspected if one.failures > 0), whole),
    }


def _fuel_sum(fuel: str, parts: Sequence[tuple[JobRow, FuelSaving]]) -> FuelSum:
    priced = [(row, part.dollars) for row, part in parts if part.dollars is not None]
    return FuelSum(
        fuel=fuel,
        mmbtu=_added([part.mmbtu for _, part in parts]),
        homes=units_of(_once(row for row, _ in parts)),
        dollars=_added([dollars for _, dollars in priced]) if priced else None,
        priced=units_of(_once(row for row, _ in priced)),
    )


def _once(rows: Iterable[JobRow]) -> list[JobRow]:
    return list({row.job_id: row for row in rows}.values())


def _added(ranges: Sequence[Range]) -> Range:
    return Range(
        low=math.fsum(one.low for one in ranges),
        central=math.fsum(one.central for one in ranges),
        high=math.fsum(one.high for one in ranges),
    )
