"""The report as plain tables with typed columns: one definition for CSV, XLSX and tests."""

from collections.abc import Iterable, Mapping
from uuid import UUID

from django.utils import timezone

from agency.diagnostics.models import Result
from agency.wording import words

from .bench import BenchLine
from .disclosure import EVERYTHING, HIDDEN_WORD, Person, Telling
from .distribution import PERCENTILE_METHOD
from .figures import Figure, Group, Share
from .group_tables import (
    band_tables,
    corrections_table,
    county_gaps_table,
    cycle_time_table,
    housing_by_fuel_table,
)
from .quarter import FuelSum, QuarterReport
from .rows import FuelSaving, JobRow, fuel_word
from .table import PERCENT, Cell, Kind, Table, columns, range_cells, range_columns, scaled

TABLE_TITLES = {
    "homes": "Homes",
    "summary": "Summary",
    "distribution": "Distribution",
    "left_out": "Left out",
    "savings": "Savings",
    "savings_by_home": "Savings by home",
    "other_tests": "Other tests",
    "by_crew": "By crew",
    "by_dwelling": "By housing type",
    "by_vintage": "By year built",
    "by_county": "By county",
    "housing_by_fuel": "Housing by heating fuel",
    "county_gaps": "Counties without a unit",
    "cycle_time": "Cycle time",
    "corrections": "Corrections",
}
"""Every table by its name, for those who choose before there is a report."""


def tables_of(report: QuarterReport, telling: Telling = EVERYTHING) -> tuple[Table, ...]:
    """Every table of the report, the homes first; no single home where counts are withheld."""
    of_all = (
        summary_table(report, telling),
        distribution_table(report, telling),
        savings_table(report, telling),
        other_tests_table(report, telling),
        *band_tables(report, telling),
        housing_by_fuel_table(report, telling),
        county_gaps_table(report),
        cycle_time_table(report, telling),
    )
    if not telling.lists_homes:
        return of_all
    summary, distribution, savings, other_tests, *rest = of_all
    return (
        homes_table(report, telling),
        summary,
        distribution,
        left_out_table(report),
        savings,
        savings_by_home_table(report),
        other_tests,
        *rest,
        corrections_table(report),
    )


def head_of(report: QuarterReport, telling: Telling = EVERYTHING) -> tuple[tuple[str, Cell], ...]:
    """What every file says before its table: period, filter, counts, versions."""
    pairs = report.coverage.part.n
    return (
        ("report", "Air leakage before and after weatherization"),
        ("period", report.period.label),
        ("first_day", report.period.first),
        ("last_day", report.period.last),
        ("filter", report.filter),
        ("counting_rule", report.counting_rule),
        ("made_at", words.iso(report.made_at, timezone.get_current_timezone())),
        *_lock_lines(report),
        ("maths_versions", "; ".join(report.maths_versions) or "none met"),
        ("standards", "; ".join(report.standards) or "none met"),
        ("rule_book_sha256", report.rule_book),
        ("report_edition", report.edition),
        ("units_counted", telling.told("units", report.units.n)),
        ("units_corrected", telling.told("corrected", report.corrected_units)),
        ("units_included_in_reductions", telling.told("pairs", pairs)),
        ("units_left_out_of_reductions", telling.told("left-out", report.units.n - pairs)),
        *_left_out_counts(report, telling),
        ("reductions", "Only comparable, accepted pairs of tests; negative reductions stay in."),
        ("empty_cell", words.NOT_MEASURED),
        *_privacy_lines(telling),
    )


def _lock_lines(report: QuarterReport) -> list[tuple[str, Cell]]:
    if report.lock is None:
        return [("locked", "no")]
    at = words.iso(report.lock.at, timezone.get_current_timezone())
    return [("locked", f"{at} by {report.lock.by}"), ("sha256", report.lock.sha256)]


def _privacy_lines(telling: Telling) -> list[tuple[str, Cell]]:
    if telling.lists_homes:
        return []
    return [(
        HIDDEN_WORD,
        "Small counts, and others from which they could be worked out; single homes are left out.",
    )]  # fmt: skip


def _left_out_counts(report: QuarterReport, telling: Telling) -> list[tuple[str, Cell]]:
    return [
        (
            f"left_out: {title}: {group.reason}",
            telling.told(f"left-{heading}-{place}", group.units.n),
        )
        for heading, (title, groups) in enumerate(report.left_out)
        for place, group in enumerate(groups)
    ]


def homes_table(report: QuarterReport, telling: Telling = EVERYTHING) -> Table:
    """One row per counted job; names of people only where they were asked for."""
    people = telling.people
    named = () if people is None else (("client", Kind.TEXT), ("address", Kind.TEXT))
    header = columns(
        ("job_id", Kind.TEXT),
        ("job_number", Kind.TEXT),
        *named,
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
    rows = tuple(_home(row, people) for row in report.rows)
    return Table(name="homes", title="Homes", columns=header, rows=rows)


def _home(row: JobRow, people: Mapping[UUID, Person] | None) -> tuple[Cell, ...]:
    return (
        str(row.job_id),
        row.number,
        *_person(row, people),
        row.counted_on,
        row.program,
        row.city,
        row.county_code,
        row.county,
        row.dwelling,
        row.year_built,
        row.crew,
        scaled(row.before, words.CFM),
        scaled(row.after, words.CFM),
        scaled(row.reduction, PERCENT),
        scaled(row.reduction_low, PERCENT),
        scaled(row.reduction_high, PERCENT),
        row.verdict_word,
        "; ".join(row.reasons),
        row.maths_version,
    )


def _person(row: JobRow, people: Mapping[UUID, Person] | None) -> tuple[Cell, ...]:
    if people is None:
        return ()
    found = people.get(row.job_id)
    return (found.client, found.address) if found else (None, None)


def summary_table(report: QuarterReport, telling: Telling = EVERYTHING) -> Table:
    """The figures of the group, each with its unit, its n and its 95 % interval."""
    header = columns(
        ("figure", Kind.TEXT),
        ("unit", Kind.TEXT),
        ("value", Kind.NUMBER),
        ("low95", Kind.NUMBER),
        ("high95", Kind.NUMBER),
        ("n", Kind.WHOLE),
    )
    units, pairs, unseen = report.units.n, report.coverage.part.n, report.not_detectable.n
    inspected = telling.told("inspected", report.first_pass.whole.n)

    def count(name: str, key: str, n: int, whole: Cell) -> tuple[Cell, ...]:
        return (name, "units", telling.told(key, n), None, None, whole)

    rows: tuple[tuple[Cell, ...], ...] = (
        count("Units counted", "units", units, telling.told("units", len(report.units.jobs))),
        count("Comparable pairs of tests", "pairs", pairs, telling.told("units", units)),
        _share("Coverage, pairs over units", "pairs", "units", report.coverage, telling),
        _figure(report.mean_reduction, "percent", PERCENT, telling),
        _figure(report.pooled_reduction, "percent", PERCENT, telling),
        _figure(report.flow_before, "cfm", words.CFM, telling),
        _figure(report.flow_after, "cfm", words.CFM, telling),
        _figure(report.flow_saved, "cfm", words.CFM, telling),
        count("Pairs without a reduction larger than its uncertainty", "unseen", unseen,
              telling.told("pairs", pairs)),
        _share("Passed at the first final inspection", "first-pass", "inspected",
               report.first_pass, telling),
        _share("Sent back for rework at least once", "rework", "inspected", report.rework,
               telling),
        ("Final inspections failed", "inspections",
         telling.told("rework", report.failed_inspections), None, None, inspected),
        ("Units corrected in earlier quarters", "units",
         telling.told("corrected", report.corrected_units), None, None,
         telling.told("corrections", len(report.corrections))),
    )  # fmt: skip
    return Table(name="summary", title="Summary", columns=header, rows=rows)


def _share(name: str, part: str, whole: str, share: Share, telling: Telling) -> tuple[Cell, ...]:
    value = (
        HIDDEN_WORD if telling.hides(whole) else telling.told(part, scaled(share.value, PERCENT))
    )
    return (name, "percent", value, None, None, telling.told(whole, share.whole.n))


def _figure(figure: Figure, unit: str, one_unit: float, telling: Telling) -> tuple[Cell, ...]:
    ends = (scaled(one, one_unit) for one in (figure.value, figure.low, figure.high))
    value, low, high = (telling.told("reductions", end) for end in ends)
    return (figure.name, unit, value, low, high, telling.told("pairs", figure.n))


def distribution_table(report: QuarterReport, telling: Telling = EVERYTHING) -> Table:
    """Order statistics, then the bins."""
    header = columns(("statistic", Kind.TEXT), ("unit", Kind.TEXT), ("value", Kind.NUMBER))
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
    rows: list[tuple[Cell, ...]] = [("Homes", "homes", telling.told("pairs", spread.n))]
    rows += [
        (name, "percent", telling.told(_spread_key(name), scaled(value, PERCENT)))
        for name, value in statistics
    ]
    rows += [
        (f"Reduction {one.label}", "homes", telling.told(f"bin-{place}", one.n))
        for place, one in enumerate(report.bins)
    ]
    return Table(name="distribution", title="Distribution", columns=header, rows=tuple(rows))


def _spread_key(name: str) -> str:
    return "extremes" if name in {"Smallest", "Largest"} else "reductions"


def left_out_table(report: QuarterReport) -> Table:
    """Every job that is in no pair, with the reason; then pairs that show no change."""
    header = columns(
        ("why", Kind.TEXT), ("reason", Kind.TEXT), ("job_number", Kind.TEXT), ("job_id", Kind.TEXT)
    )
    numbers = {row.job_id: row.number for row in report.rows}
    rows = [
        line for heading, groups in report.left_out for line in _listed(heading, groups, numbers)
    ]
    rows += _listed("No savings estimate", report.not_estimated, numbers)
    unseen = Group(reason="the pair stays in every figure", units=report.not_detectable)
    rows += _listed("Reduction not larger than its uncertainty", [unseen], numbers)
    return Table(name="left_out", title="Left out", columns=header, rows=tuple(rows))


def _listed(
    heading: str, groups: Iterable[Group], numbers: Mapping[UUID, str]
) -> list[tuple[Cell, ...]]:
    return [
        (heading, group.reason, numbers[job], str(job))
        for group in groups
        for job in group.units.jobs
    ]


def savings_table(report: QuarterReport, telling: Telling = EVERYTHING) -> Table:
    """Sums of modelled first-year savings by fuel, then over all fuels."""
    header = columns(
        ("fuel", Kind.TEXT),
        ("basis", Kind.TEXT),
        ("homes", Kind.WHOLE),
        *range_columns("site_energy", "mmbtu_a_year"),
        ("homes_priced", Kind.WHOLE),
        *range_columns("money", "usd_a_year"),
    )
    sums = [*report.savings, *([report.savings_total] if report.savings_total else [])]
    rows = tuple(_saving(one, telling) for one in sums)
    return Table(name="savings", title="Savings", columns=header, rows=rows)


def _saving(saving: FuelSum, telling: Telling) -> tuple[Cell, ...]:
    told = (
        saving.homes.n,
        *range_cells(saving.mmbtu),
        saving.priced.n,
        *range_cells(saving.dollars),
    )
    return (
        "All fuels" if saving.fuel == "total" else fuel_word(saving.fuel),
        "modelled",
        *(telling.told(f"fuel-{saving.fuel}", one) for one in told),
    )


def savings_by_home_table(report: QuarterReport) -> Table:
    """One row per home and fuel: what the sums are made of."""
    header = columns(
        ("job_number", Kind.TEXT),
        ("job_id", Kind.TEXT),
        ("saved_by", Kind.TEXT),
        ("fuel", Kind.TEXT),
        ("basis", Kind.TEXT),
        *range_columns("site_energy", "mmbtu_a_year"),
        *range_columns("money", "usd_a_year"),
        ("maths_version", Kind.TEXT),
    )
    rows = tuple(_home_saving(row, part) for row in report.rows for part in row.savings)
    return Table(name="savings_by_home", title="Savings by home", columns=header, rows=rows)


def _home_saving(row: JobRow, part: FuelSaving) -> tuple[Cell, ...]:
    return (
        row.number,
        str(row.job_id),
        part.part,
        fuel_word(part.fuel),
        "modelled",
        *range_cells(part.mmbtu),
        *range_cells(part.dollars),
        row.savings_maths_version,
    )


def other_tests_table(report: QuarterReport, telling: Telling = EVERYTHING) -> Table:
    """Every other kind of test: homes by answer, and the main figure before and after."""
    header = columns(
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
    rows = tuple(_other_test(f"bench-{at}", one, telling) for at, one in enumerate(report.bench))
    return Table(name="other_tests", title="Other tests", columns=header, rows=rows)


def _other_test(key: str, line: BenchLine, telling: Telling) -> tuple[Cell, ...]:
    measure = words.QUANTITIES[line.quantity]
    paired = (
        len(line.pairs),
        scaled(line.mean_before, measure.one_unit),
        scaled(line.mean_after, measure.one_unit),
    )
    return (
        line.title,
        words.coded(line.method),
        telling.told(f"{key}-homes", line.tests),
        telling.told(f"{key}-homes", len(line.jobs)),
        *(
            telling.told(f"{key}-{answer}", len(line.answers[answer]))
            for answer in Result.Answer.values
        ),
        line.figure,
        measure.unit,
        *(telling.told(f"{key}-pairs", one) for one in paired),
    )
