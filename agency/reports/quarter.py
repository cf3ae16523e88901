"""What a funder is told about a period: units, pairs, reductions, gaps and modelled savings."""

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db.models import Count, Min, Q

from agency.diagnostics.bridge.group import GroupFigure, group_reduction
from agency.diagnostics.models import Comparison
from agency.jobs.models import Visit
from agency.programs.models import Program

from .bench import BenchLine, bench_lines
from .distribution import Bin, Distribution, bins_of, distribution_of
from .periods import Period
from .rows import NOT_COMPARED, FuelSaving, JobRow, Range, rows_of

COUNTING_RULE = (
    "A unit counts in the period of its first passed final inspection, once its job is approved."
)
MODELLED = (
    "Modelled first-year savings in site energy, not measured from bills. The ranges are added end "
    "to end, as if every home erred the same way."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Units:
    """A number of dwelling units and the jobs it is made of."""

    n: int
    jobs: tuple[UUID, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """One number of units out of another; `value` is None when there is nothing to divide by."""

    value: float | None
    part: Units
    whole: Units


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """A figure of the group with the number of homes in it and their jobs."""

    name: str
    value: float | None
    uncertainty: float | None = None
    """Standard (k = 1); None when a home in it has no stored uncertainty."""
    low: float | None = None
    high: float | None = None
    """Ends of the 95 % interval."""
    n: int
    jobs: tuple[UUID, ...]
    without_uncertainty: tuple[UUID, ...] = ()
    """Homes that keep the figure from having an uncertainty."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Jobs that share one reason."""

    reason: str
    units: Units


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
    maths_versions: tuple[str, ...]
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
    savings: tuple[FuelSum, ...]
    savings_total: FuelSum | None
    savings_note: str
    not_estimated: tuple[Group, ...]
    bench: tuple[BenchLine, ...]
    """Every other kind of test made in the counted jobs."""

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
    period: Period, *, program: Program | None = None, now: datetime
) -> QuarterReport:
    """The report of `period` from stored results; nothing is computed anew.

    Parameters
    ----------
    period : Period
        The days a first passed final inspection must lie in.
    program : Program or None
        Only this grant's jobs; None for all.
    now : datetime
        Our clock, printed as the time the report was made.
    """
    rows = rows_of(period, program)
    pairs = [row for row in rows if row.pair is not None]
    reductions = [(row.job_id, row.reduction) for row in pairs if row.reduction is not None]
    units = _units(rows)
    parts = [(row, saving) for row in rows for saving in row.savings]
    return QuarterReport(
        period=period,
        program="" if program is None else program.grant_number,
        filter="All grants" if program is None else f"Grant: {program}",
        made_at=now,
        maths_versions=_maths_versions(rows),
        counting_rule=COUNTING_RULE,
        units=units,
        coverage=_share(_units(pairs), units),
        rows=rows,
        **_group_figures(pairs),
        distribution=distribution_of(reductions),
        bins=bins_of(reductions),
        missing_before=_by_reason(rows, Comparison.Verdict.NO_BEFORE),
        missing_after=_by_reason(rows, Comparison.Verdict.NO_AFTER),
        not_comparable=_by_reason(rows, Comparison.Verdict.NOT_COMPARABLE),
        not_compared=_by_reason(rows, NOT_COMPARED),
        not_detectable=_units(
            row for row in pairs if row.verdict == Comparison.Verdict.NOT_DETECTABLE
        ),
        first_pass=_first_pass(period, program),
        savings=tuple(
            _fuel_sum(fuel, [(row, part) for row, part in parts if part.fuel == fuel])
            for fuel in sorted({part.fuel for _, part in parts})
        ),
        savings_total=_fuel_sum("total", parts) if parts else None,
        savings_note=MODELLED,
        not_estimated=_grouped(
            [row for row in pairs if not row.savings], lambda row: row.no_savings_reasons
        ),
        bench=bench_lines(rows),
    )


def _units(rows: Iterable[JobRow]) -> Units:
    """Dwelling units, not jobs: a house two grants paid for is one unit."""
    listed = list(rows)
    return Units(n=len({row.house_id for row in listed}), jobs=tuple(row.job_id for row in listed))


def _share(part: Units, whole: Units) -> Share:
    return Share(value=part.n / whole.n if whole.n else None, part=part, whole=whole)


def _group_figures(pairs: Sequence[JobRow]) -> dict[str, Figure]:
    """Mean, pooled and summed figures of the pairs; without a pair they have no value."""
    group = group_reduction([pair for row in pairs if (pair := row.pair) is not None])
    jobs = tuple(row.job_id for row in pairs)
    unknown = tuple(
        row.job_id for row in pairs if row.before_share is None or row.after_share is None
    )

    def figure(name: str, found: GroupFigure | None) -> Figure:
        return Figure(
            name=name,
            value=found.value if found else None,
            uncertainty=found.uncertainty if found else None,
            low=found.low if found else None,
            high=found.high if found else None,
            n=len(jobs),
            jobs=jobs,
            without_uncertainty=unknown,
        )

    def total(name: str, value: float | None) -> Figure:
        return Figure(name=name, value=value, n=len(jobs), jobs=jobs)

    return {
        "mean_reduction": figure("Mean of the homes' reductions", group.mean if group else None),
        "pooled_reduction": figure(
            "Pooled reduction, all flow saved over all flow before", group.pooled if group else None
        ),
        "flow_saved": figure("Flow saved, all pairs", group.saved if group else None),
        "flow_before": total("Flow before, all pairs", group.flow_before if group else None),
        "flow_after": total("Flow after, all pairs", group.flow_after if group else None),
    }


def _maths_versions(rows: Iterable[JobRow]) -> tuple[str, ...]:
    """Which arithmetic made the figures, each version met once."""
    tightness = {f"tightness {row.maths_version}" for row in rows if row.maths_version}
    savings = {f"savings {row.savings_maths_version}" for row in rows if row.savings_maths_version}
    return (*sorted(tightness), *sorted(savings))


def _by_reason(rows: Iterable[JobRow], verdict: str) -> tuple[Group, ...]:
    return _grouped([row for row in rows if row.verdict == verdict], lambda row: row.reasons)


def _grouped(
    rows: Sequence[JobRow], reasons: Callable[[JobRow], tuple[str, ...]]
) -> tuple[Group, ...]:
    """Each job under its reasons taken together, so that the groups add up; largest first."""
    found: dict[str, list[JobRow]] = {}
    for row in rows:
        found.setdefault("; ".join(reasons(row)), []).append(row)
    groups = [Group(reason=reason, units=_units(members)) for reason, members in found.items()]
    return tuple(sorted(groups, key=lambda group: (-group.units.n, group.reason)))


def _first_pass(period: Period, program: Program | None) -> Share:
    """Units first inspected in the period; a job that ever failed did not pass at first."""
    inspections = Visit.objects.filter(
        kind=Visit.Kind.FINAL_INSPECTION,
        outcome__in=[Visit.Outcome.PASSED, Visit.Outcome.FAILED],
    )
    if program is not None:
        inspections = inspections.filter(job__program=program)
    firsts = (
        inspections.order_by("job__number")
        .values("job_id", "job__house_id", "job__number")
        .annotate(
            first=Min("planned_on"), failures=Count("pk", filter=Q(outcome=Visit.Outcome.FAILED))
        )
        .filter(first__range=(period.first, period.last))
    )
    inspected = list(firsts)
    passed = [row for row in inspected if row["failures"] == 0]

    def units(found: Sequence[Mapping[str, Any]]) -> Units:
        return Units(
            n=len({row["job__house_id"] for row in found}),
            jobs=tuple(row["job_id"] for row in found),
        )

    return _share(units(passed), units(inspected))


def _fuel_sum(fuel: str, parts: Sequence[tuple[JobRow, FuelSaving]]) -> FuelSum:
    priced = [(row, part.dollars) for row, part in parts if part.dollars is not None]
    return FuelSum(
        fuel=fuel,
        mmbtu=_added([part.mmbtu for _, part in parts]),
        homes=_units(_once(row for row, _ in parts)),
        dollars=_added([dollars for _, dollars in priced]) if priced else None,
        priced=_units(_once(row for row, _ in priced)),
    )


def _once(rows: Iterable[JobRow]) -> list[JobRow]:
    return list({row.job_id: row for row in rows}.values())


def _added(ranges: Sequence[Range]) -> Range:
    return Range(
        low=math.fsum(one.low for one in ranges),
        central=math.fsum(one.central for one in ranges),
        high=math.fsum(one.high for one in ranges),
    )
