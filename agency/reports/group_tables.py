"""The tables of groups: reductions by property, units by housing and fuel, gaps, corrections."""

from .breakdowns import Band, Breakdown
from .disclosure import EVERYTHING, Telling, crossing_key
from .quarter import QuarterReport
from .table import PERCENT, Cell, Kind, Table, columns, scaled


def band_tables(report: QuarterReport, telling: Telling = EVERYTHING) -> tuple[Table, ...]:
    """One table a property: units, pairs, and the reductions of the pairs."""
    return tuple(_bands(one, telling) for one in report.breakdowns)


def _bands(breakdown: Breakdown, telling: Telling) -> Table:
    header = columns(
        (breakdown.key, Kind.TEXT),
        ("units", Kind.WHOLE),
        ("pairs", Kind.WHOLE),
        ("mean_reduction_percent", Kind.NUMBER),
        ("mean_low95_percent", Kind.NUMBER),
        ("mean_high95_percent", Kind.NUMBER),
        ("pooled_reduction_percent", Kind.NUMBER),
        ("pooled_low95_percent", Kind.NUMBER),
        ("pooled_high95_percent", Kind.NUMBER),
    )
    rows = tuple(
        _band(f"band-{breakdown.key}-{place}", one, telling)
        for place, one in enumerate(breakdown.bands)
    )
    name = f"by_{breakdown.key}"
    return Table(name=name, title=breakdown.title, columns=header, rows=rows)


def _band(key: str, band: Band, telling: Telling) -> tuple[Cell, ...]:
    mean, pooled = band.reductions.mean_reduction, band.reductions.pooled_reduction
    ends = (mean.value, mean.low, mean.high, pooled.value, pooled.low, pooled.high)
    return (
        band.name,
        telling.told(f"{key}-units", band.units.n),
        telling.told(f"{key}-pairs", band.pairs.n),
        *(telling.told(f"{key}-pairs", scaled(end, PERCENT)) for end in ends),
    )


def housing_by_fuel_table(report: QuarterReport, telling: Telling = EVERYTHING) -> Table:
    """Counted units by housing type and heating fuel; rows and columns add up to the units."""
    crossing = report.crossing
    header = columns(
        ("housing_type", Kind.TEXT),
        *((f"units_{fuel.lower().replace(' ', '_')}", Kind.WHOLE) for fuel in crossing.fuels),
        ("units_total", Kind.WHOLE),
    )
    lines = [(line.dwelling, (*line.cells, line.total)) for line in crossing.rows]
    lines.append(("Total", (*crossing.totals, crossing.total)))
    rows = tuple(
        (
            name,
            *(
                telling.told(crossing_key(crossing, row=row, place=place), cell.n)
                for place, cell in enumerate(cells)
            ),
        )
        for row, (name, cells) in enumerate(lines)
    )
    return Table(name="housing_by_fuel", title="Housing by heating fuel", columns=header, rows=rows)


def county_gaps_table(report: QuarterReport) -> Table:
    """Counties the agency serves in which no unit was counted."""
    header = columns(("county_code", Kind.TEXT), ("county", Kind.TEXT), ("units", Kind.WHOLE))
    rows = tuple((one.code, one.name, 0) for one in report.counties_without_unit)
    return Table(name="county_gaps", title="Counties without a unit", columns=header, rows=rows)


def cycle_time_table(report: QuarterReport, telling: Telling = EVERYTHING) -> Table:
    """Days from opening a job to its first passed final inspection."""
    header = columns(("statistic", Kind.TEXT), ("unit", Kind.TEXT), ("value", Kind.NUMBER))
    time = report.cycle_time
    rows = (
        ("Finished jobs", "jobs", telling.told("cycle", time.n)),
        *(
            (name, "days", telling.told("cycle", value))
            for name, value in (
                ("25th percentile, linear interpolation", time.p25),
                ("Median, linear interpolation", time.median),
                ("75th percentile, linear interpolation", time.p75),
            )
        ),
    )
    return Table(name="cycle_time", title="Cycle time", columns=header, rows=rows)


def corrections_table(report: QuarterReport) -> Table:
    """What has changed in locked quarters and was noted in this one."""
    header = columns(
        ("locked_quarter", Kind.TEXT),
        ("job_number", Kind.TEXT),
        ("job_id", Kind.TEXT),
        ("what", Kind.TEXT),
        ("unit", Kind.TEXT),
        ("old", Kind.NUMBER),
        ("new", Kind.NUMBER),
        ("change_of_units", Kind.WHOLE),
        ("why", Kind.TEXT),
        ("noted_on", Kind.DATE),
    )
    rows = tuple(
        (
            one.quarter,
            one.job_number,
            str(one.job_id),
            one.what,
            one.unit,
            one.old,
            one.new,
            one.units,
            one.why,
            one.noted_on,
        )
        for one in report.corrections
    )
    return Table(name="corrections", title="Corrections", columns=header, rows=rows)
