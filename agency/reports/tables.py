"""The report as plain tables with typed columns: one definition for CSV, XLSX and tests."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from uuid import UUID

from django.utils import timezone

from agency.diagnostics.models import Result
from agency.wording import words

from .bench import BenchLine
from .distribution import PERCENTILE_METHOD
from .quarter import Figure, FuelSum, Group, QuarterReport
from .rows import FuelSaving, JobRow, Range, fuel_word

Cell = str | int | float | date | None
"""None stands for not measured and becomes an empty cell."""

PERCENT = 0.01
"""One percent as a share. [-]"""


class Kind(StrEnum):
    """What a column holds; it decides the type of every cell below the header."""

    TEXT = "text"
    WHOLE = "whole"
    NUMBER = "number"
    DATE = "date"


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """A header that names the unit, and the kind of its cells."""

    name: str
    kind: Kind


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """One table: one sheet of a workbook, one CSV file."""

    name: str
    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]


def tables_of(report: QuarterReport) -> tuple[Table, ...]:
    """Every table of the report, the homes first."""
    return (
        homes_table(report),
        summary_table(report),
        distribution_table(report),
        left_out_table(report),
        savings_table(report),
        savings_by_home_table(report),
        other_tests_table(report),
    )


def head_of(report: QuarterReport) -> tuple[tuple[str, Cell], ...]:
    """What every file says before its table: period, filter, counts, versions."""
    return (
        ("report", "Air leakage before and after weatherization"),
        ("period", report.period.label),
        ("first_day", report.period.first),
        ("last_day", report.period.last),
        ("filter", report.filter),
        ("counting_rule", report.counting_rule),
        ("made_at", words.iso(report.made_at, timezone.get_current_timezone())),
        ("maths_versions", "; ".join(report.maths_versions) or "none met"),
        ("units_counted", report.units.n),
        ("units_included_in_reductions", report.coverage.part.n),
        ("units_left_out_of_reductions", report.units.n - report.coverage.part.n),
        *_left_out_counts(report),
        ("reductions", "Only comparable, accepted pairs of tests; negative reductions stay in."),
        ("empty_cell", words.NOT_MEASURED),
    )


def _left_out_counts(report: QuarterReport) -> list[tuple[str, Cell]]:
    return [
        (f"left_out: {heading}: {group.reason}", group.units.n)
        for heading, groups in report.left_out
        for group in groups
    ]


def homes_table(report: QuarterReport) -> Table:
    """One row per counted job."""
    columns = _columns(
        ("job_id", Kind.TEXT),
        ("job_number", Kind.TEXT),
        ("counted_on", Kind.DATE),
        ("grant_number", Kind.TEXT),
        ("city", Kind.TEXT),
        ("county_code", Kind.TEXT),
        ("county", Kind.TEXT),
        ("dwelling_type", Kind.TEXT),
        ("year_built", Kind.WHOLE),
        ("crew", Kind.TEXT),
        ("before_flow50_cfm", Kind.NUMBER),
        ("after_flow50_cfm", Kind.NUMBER),
        ("reduction_percent", Kind.NUMBER),
        ("reduction_low95_percent", Kind.NUMBER),
        ("reduction_high95_percent", Kind.NUMBER),
        ("verdict", Kind.TEXT),
        ("reasons", Kind.TEXT),
        ("maths_version", Kind.TEXT),
    )
    return Table(name="homes", title="Homes", columns=columns, rows=tuple(map(_home, report.rows)))


def _home(row: JobRow) -> tuple[Cell, ...]:
    return (
        str(row.job_id),
        row.number,
        row.counted_on,
        row.program,
        row.city,
        row.county_code,
        row.county,
        row.dwelling,
        row.year_built,
        row.crew,
        _scaled(row.before, words.CFM),
        _scaled(row.after, words.CFM),
        _scaled(row.reduction, PERCENT),
        _scaled(row.reduction_low, PERCENT),
        _scaled(row.reduction_high, PERCENT),
        row.verdict_word,
        "; ".join(row.reasons),
        row.maths_version,
    )


def summary_table(report: QuarterReport) -> Table:
    """The figures of the group, each with its unit, its n and its 95 % interval."""
    columns = _columns(
        ("figure", Kind.TEXT),
        ("unit", Kind.TEXT),
        ("value", Kind.NUMBER),
        ("low95", Kind.NUMBER),
        ("high95", Kind.NUMBER),
        ("n", Kind.WHOLE),
    )
    coverage, first = report.coverage, report.first_pass
    rows: tuple[tuple[Cell, ...], ...] = (
        ("Units counted", "units", report.units.n, None, None, len(report.units.jobs)),
        ("Comparable pairs of tests", "units", coverage.part.n, None, None, coverage.whole.n),
        ("Coverage, pairs over units", "percent", _scaled(coverage.value, PERCENT), None, None,
         coverage.whole.n),
        _figure(report.mean_reduction, "percent", PERCENT),
        _figure(report.pooled_reduction, "percent", PERCENT),
        _figure(report.flow_before, "cfm", words.CFM),
        _figure(report.flow_after, "cfm", words.CFM),
        _figure(report.flow_saved, "cfm", words.CFM),
        ("Pairs without a reduction larger than its uncertainty", "units",
         report.not_detectable.n, None, None, coverage.part.n),
        ("Passed at the first final inspection", "percent", _scaled(first.value, PERCENT), None,
         None, first.whole.n),
    )  # fmt: skip
    return Table(name="summary", title="Summary", columns=columns, rows=rows)


def _figure(figure: Figure, unit: str, one_unit: float) -> tuple[Cell, ...]:
    value, low, high = (_scaled(one, one_unit) for one in (figure.value, figure.low, figure.high))
    return (figure.name, unit, value, low, high, figure.n)


def distribution_table(report: QuarterReport) -> Table:
    """Order statistics, then the bins."""
    columns = _columns(("statistic", Kind.TEXT), ("unit", Kind.TEXT), ("value", Kind.NUMBER))
    spread = report.distribution
    percentile = f"{PERCENTILE_METHOD} interpolation"
    statistics = (
        ("Mean", spread.mean),
        ("Standard deviation, n - 1", spread.standard_deviation),
        ("Smallest", spread.minimum),
        (f"10th percentile, {percentile}", spread.p10),
        (f"25th percentile, {percentile}", spread.p25),
        (f"Median, {percentile}", spread.median),
        (f"75th percentile, {percentile}", spread.p75),
        (f"90th percentile, {percentile}", spread.p90),
        ("Largest", spread.maximum),
    )
    rows: list[tuple[Cell, ...]] = [("Homes", "homes", spread.n)]
    rows += [(name, "percent", _scaled(value, PERCENT)) for name, value in statistics]
    rows += [(f"Reduction {one.label}", "homes", one.n) for one in report.bins]
    return Table(name="distribution", title="Distribution", columns=columns, rows=tuple(rows))


def left_out_table(report: QuarterReport) -> Table:
    """Every job that is in no pair, with the reason; then pairs that show no change."""
    columns = _columns(
        ("why", Kind.TEXT), ("reason", Kind.TEXT), ("job_number", Kind.TEXT), ("job_id", Kind.TEXT)
    )
    numbers = {row.job_id: row.number for row in report.rows}
    rows = [
        line for heading, groups in report.left_out for line in _listed(heading, groups, numbers)
    ]
    rows += _listed("No savings estimate", report.not_estimated, numbers)
    unseen = Group(reason="the pair stays in every figure", units=report.not_detectable)
    rows += _listed("Reduction not larger than its uncertainty", [unseen], numbers)
    return Table(name="left_out", title="Left out", columns=columns, rows=tuple(rows))


def _listed(
    heading: str, groups: Iterable[Group], numbers: Mapping[UUID, str]
) -> list[tuple[Cell, ...]]:
    return [
        (heading, group.reason, numbers[job], str(job))
        for group in groups
        for job in group.units.jobs
    ]


def savings_table(report: QuarterReport) -> Table:
    """Sums of modelled first-year savings by fuel, then over all fuels."""
    columns = _columns(
        ("fuel", Kind.TEXT),
        ("basis", Kind.TEXT),
        ("homes", Kind.WHOLE),
        *_range_columns("site_energy", "mmbtu_a_year"),
        ("homes_priced", Kind.WHOLE),
        *_range_columns("money", "usd_a_year"),
    )
    sums = [*report.savings, *([report.savings_total] if report.savings_total else [])]
    return Table(name="savings", title="Savings", columns=columns, rows=tuple(map(_saving, sums)))


def _saving(saving: FuelSum) -> tuple[Cell, ...]:
    return (
        "All fuels" if saving.fuel == "total" else fuel_word(saving.fuel),
        "modelled",
        saving.homes.n,
        *_range_cells(saving.mmbtu),
        saving.priced.n,
        *_range_cells(saving.dollars),
    )


def savings_by_home_table(report: QuarterReport) -> Table:
    """One row per home and fuel: what the sums are made of."""
    columns = _columns(
        ("job_number", Kind.TEXT),
        ("job_id", Kind.TEXT),
        ("saved_by", Kind.TEXT),
        ("fuel", Kind.TEXT),
        ("basis", Kind.TEXT),
        *_range_columns("site_energy", "mmbtu_a_year"),
        *_range_columns("money", "usd_a_year"),
        ("maths_version", Kind.TEXT),
    )
    rows = tuple(_home_saving(row, part) for row in report.rows for part in row.savings)
    return Table(name="savings_by_home", title="Savings by home", columns=columns, rows=rows)


def _home_saving(row: JobRow, part: FuelSaving) -> tuple[Cell, ...]:
    return (
        row.number,
        str(row.job_id),
        part.part,
        fuel_word(part.fuel),
        "modelled",
        *_range_cells(part.mmbtu),
        *_range_cells(part.dollars),
        row.savings_maths_version,
    )


def other_tests_table(report: QuarterReport) -> Table:
    """Every other kind of test: homes by answer, and the main figure before and after."""
    columns = _columns(
        ("test", Kind.TEXT),
        ("way", Kind.TEXT),
        ("tests_accepted", Kind.WHOLE),
        ("homes", Kind.WHOLE),
        *((f"homes_{answer}", Kind.WHOLE) for answer in Result.Answer.values),
        ("main_figure", Kind.TEXT),
        ("unit", Kind.TEXT),
        ("pairs", Kind.WHOLE),
        ("mean_before", Kind.NUMBER),
        ("mean_after", Kind.NUMBER),
    )
    rows = tuple(_other_test(line) for line in report.bench)
    return Table(name="other_tests", title="Other tests", columns=columns, rows=rows)


def _other_test(line: BenchLine) -> tuple[Cell, ...]:
    measure = words.QUANTITIES[line.quantity]
    return (
        line.title,
        words.coded(line.method),
        line.tests,
        len(line.jobs),
        *(len(line.answers[answer]) for answer in Result.Answer.values),
        line.figure,
        measure.unit,
        len(line.pairs),
        _scaled(line.mean_before, measure.one_unit),
        _scaled(line.mean_after, measure.one_unit),
    )


def _columns(*named: tuple[str, Kind]) -> tuple[Column, ...]:
    return tuple(Column(name=name, kind=kind) for name, kind in named)


def _range_columns(what: str, unit: str) -> list[tuple[str, Kind]]:
    return [(f"{what}_{end}_{unit}", Kind.NUMBER) for end in ("low", "central", "high")]


def _range_cells(figures: Range | None) -> tuple[Cell, ...]:
    if figures is None:
        return (None, None, None)
    return (figures.low, figures.central, figures.high)


def _scaled(value: float | None, one_unit: float) -> float | None:
    """A value in SI counted in units of `one_unit`, unrounded."""
    return None if value is None else value / one_unit
