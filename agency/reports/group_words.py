"""Groups of units in words: reductions by property, housing by fuel, cycle time, corrections."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from uuid import UUID

from agency.wording import words

from .breakdowns import Band, Crossing, CycleTime
from .disclosure import HIDDEN_WORD, Telling, crossing_key
from .evidence import CorrectionRow
from .figures import Units
from .lines import Line, percent_interval
from .quarter import QuarterReport


@dataclass(frozen=True, slots=True, kw_only=True)
class BandWords:
    """One group of a breakdown."""

    units: Line
    pairs: Line
    mean: Line
    pooled: Line


@dataclass(frozen=True, slots=True, kw_only=True)
class BandTable:
    """The groups of one property."""

    key: str
    title: str
    bands: Sequence[BandWords]

    @property
    def lines(self) -> list[Line]:
        """What can be followed to its jobs."""
        return [line for one in self.bands for line in (one.units, one.pairs)]


@dataclass(frozen=True, slots=True, kw_only=True)
class CrossingWords:
    """Housing type against heating fuel, the totals last."""

    fuels: Sequence[str]
    rows: Sequence[tuple[str, Sequence[Line]]]
    empty_fuels: str
    """Fuels no unit has; their columns are left out of what is read."""

    @property
    def lines(self) -> list[Line]:
        """What can be followed to its jobs; the grand total is the units counted."""
        return [line for _, cells in self.rows for line in cells if line.key != "units"]


@dataclass(frozen=True, slots=True, kw_only=True)
class CorrectionWords:
    """One change of a locked quarter."""

    quarter: str
    job: UUID
    number: str
    what: str
    old: str
    new: str
    why: str
    noted_on: date


def band_tables(report: QuarterReport, telling: Telling) -> list[BandTable]:
    """Each property with its groups."""
    return [
        BandTable(
            key=one.key,
            title=one.title,
            bands=[
                _band(f"band-{one.key}-{place}", band, telling)
                for place, band in enumerate(one.bands)
            ],
        )
        for one in report.breakdowns
    ]


def _band(key: str, band: Band, telling: Telling) -> BandWords:
    pairs = f"{key}-pairs"
    hidden = telling.hides(pairs)

    def reduction(name: str) -> Line:
        figure = getattr(band.reductions, f"{name}_reduction")
        interval = percent_interval(figure) if figure.n else "no pair"
        return Line(
            key="",
            name=f"{band.name}, {name}",
            value=telling.told(pairs, words.percent(figure.value, 1) if figure.n else "no pair"),
            interval=HIDDEN_WORD if hidden else interval,
        )

    def count(of: str, n: int, jobs: Sequence[UUID]) -> Line:
        name = f"{key}-{of}"
        told = telling.told(name, words.number(n))
        return Line(key=name, name=f"{band.name}, {of}", value=told, jobs=jobs)

    return BandWords(
        units=count("units", band.units.n, band.units.jobs),
        pairs=count("pairs", band.pairs.n, band.pairs.jobs),
        mean=reduction("mean"),
        pooled=reduction("pooled"),
    )


def crossing_said(table: Crossing, telling: Telling) -> CrossingWords:
    """The table without the columns of fuels no unit has, which are named instead."""
    used = [place for place, total in enumerate(table.totals) if total.n]
    lines = [(one.dwelling, (*one.cells, one.total)) for one in table.rows]
    lines.append(("Total", (*table.totals, table.total)))
    columns = [*used, len(table.fuels)]
    return CrossingWords(
        fuels=[*(table.fuels[place] for place in used), "Total"],
        rows=[
            (
                name,
                [
                    _cell(
                        crossing_key(table, row=row, place=place),
                        f"{name}, {(*table.fuels, 'total')[place].lower()}",
                        cells[place],
                        telling,
                    )
                    for place in columns
                ],
            )
            for row, (name, cells) in enumerate(lines)
        ],
        empty_fuels=", ".join(
            fuel.lower() for place, fuel in enumerate(table.fuels) if place not in used
        ),
    )


def _cell(key: str, name: str, units: Units, telling: Telling) -> Line:
    return Line(key=key, name=name, value=telling.told(key, words.number(units.n)), jobs=units.jobs)


def cycle_lines(time: CycleTime, telling: Telling) -> list[Line]:
    """How long the finished jobs took; only their number where there are none."""
    told = telling.told("cycle", words.number(time.n))
    lines = [Line(key="cycle", name="Finished jobs", value=told, jobs=time.days.jobs)]
    if time.median is None or telling.hides("cycle"):
        return lines
    for name, value in (
        ("25th percentile", time.p25),
        ("Median", time.median),
        ("75th percentile", time.p75),
    ):
        lines.append(Line(key="", name=name, value=words.quantity(value, "days", 1)))
    return lines


def corrections_said(corrections: Iterable[CorrectionRow]) -> list[CorrectionWords]:
    """Each change with its old and its new value."""
    return [
        CorrectionWords(
            quarter=one.quarter,
            job=one.job_id,
            number=one.job_number,
            what=one.what,
            old=_value(one.old, one.unit),
            new=_value(one.new, one.unit),
            why=one.why,
            noted_on=one.noted_on,
        )
        for one in corrections
    ]


UNITS = {"cfm": ("cfm", 0), "percent": ("%", 1), "mmbtu_a_year": ("million Btu a year", 1)}


def _value(value: float | str | None, unit: str) -> str:
    if value is None:
        return words.NOT_MEASURED
    if isinstance(value, str):
        return value
    if not unit:
        # A year, which has no commas.
        return f"{value:.0f}"
    return words.quantity(value, *UNITS[unit])
