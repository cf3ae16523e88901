"""The counted units by housing type, fuel, crew, age and county, and how long the work took."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from agency.houses.models import House
from agency.programs.models import Fuel

from .distribution import PERCENTILE_METHOD
from .figures import Reductions, Units, reductions_of, units_of
from .rows import JobRow

NOT_RECORDED: Final = "not recorded"
VINTAGES = (1940, 1960, 1980, 2000)
"""First years of the bands of year built after the first. Common practice, no source."""
QUARTILES = (25, 50, 75)


@dataclass(frozen=True, slots=True, kw_only=True)
class CrossingRow:
    """The counted units of one housing type, by fuel in the order of the table."""

    dwelling: str
    cells: tuple[Units, ...]
    total: Units


@dataclass(frozen=True, slots=True, kw_only=True)
class Crossing:
    """Housing type against heating fuel; every unit stands in exactly one cell."""

    fuels: tuple[str, ...]
    rows: tuple[CrossingRow, ...]
    totals: tuple[Units, ...]
    total: Units


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """One group of a breakdown: its counted units, and the reductions of its pairs."""

    name: str
    units: Units
    pairs: Units
    reductions: Reductions


@dataclass(frozen=True, slots=True, kw_only=True)
class Breakdown:
    """The counted units told apart by one property."""

    key: str
    title: str
    bands: tuple[Band, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CycleTime:
    """Days from opening a job to its first passed final inspection; finished jobs only."""

    days: Units
    """The jobs it is taken over; a house with two jobs took two times."""
    n: int
    p25: float | None
    median: float | None
    p75: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class CountyName:
    """A county the agency serves."""

    code: str
    name: str


def crossing_of(rows: Sequence[JobRow]) -> Crossing:
    """Units by housing type and fuel; both belong to the house, so each unit stands in one cell."""
    fuels = (*Fuel.values, "")
    found: dict[tuple[str, str], list[JobRow]] = {}
    for row in rows:
        found.setdefault((row.dwelling_code, row.heating_fuel), []).append(row)

    def units(dwellings: Sequence[str], of_fuels: Sequence[str]) -> Units:
        return units_of(
            row for one in dwellings for fuel in of_fuels for row in found.get((one, fuel), ())
        )

    dwellings = House.Dwelling.values
    return Crossing(
        fuels=tuple(str(Fuel(fuel).label) if fuel else NOT_RECORDED for fuel in fuels),
        rows=tuple(
            CrossingRow(
                dwelling=str(House.Dwelling(one).label),
                cells=tuple(units([one], [fuel]) for fuel in fuels),
                total=units([one], fuels),
            )
            for one in dwellings
        ),
        totals=tuple(units(dwellings, [fuel]) for fuel in fuels),
        total=units(dwellings, fuels),
    )


def breakdowns_of(rows: Sequence[JobRow]) -> tuple[Breakdown, ...]:
    """By crew, housing type, year built and county."""
    dwellings = [str(label) for label in House.Dwelling.labels]
    bands = [vintage_of(year) for year in (VINTAGES[0] - 1, *VINTAGES, None)]
    return (
        _breakdown("crew", "By crew", rows, lambda row: row.crew, ()),
        _breakdown("dwelling", "By housing type", rows, lambda row: row.dwelling, dwellings),
        _breakdown("vintage", "By year built", rows, lambda row: vintage_of(row.year_built), bands),
        _breakdown("county", "By county", rows, lambda row: row.county, ()),
    )


def vintage_of(year: int | None) -> str:
    """The band of a year built: "1940 to 1959"."""
    if year is None:
        return NOT_RECORDED
    if year < VINTAGES[0]:
        return f"before {VINTAGES[0]}"
    if year >= VINTAGES[-1]:
        return f"{VINTAGES[-1]} and later"
    first = max(start for start in VINTAGES if start <= year)
    return f"{first} to {VINTAGES[VINTAGES.index(first) + 1] - 1}"


def _breakdown(
    key: str,
    title: str,
    rows: Sequence[JobRow],
    name_of: Callable[[JobRow], str],
    order: Sequence[str],
) -> Breakdown:
    """Groups in the given order, any others by name; an empty group is left out."""
    found: dict[str, list[JobRow]] = {}
    for row in rows:
        found.setdefault(name_of(row), []).append(row)
    names = [*(name for name in order if name in found), *sorted(set(found) - set(order))]
    return Breakdown(key=key, title=title, bands=tuple(_band(one, found[one]) for one in names))


def _band(name: str, rows: Sequence[JobRow]) -> Band:
    pairs = [row for row in rows if row.is_pair]
    return Band(
        name=name, units=units_of(rows), pairs=units_of(pairs), reductions=reductions_of(pairs)
    )


def cycle_time_of(rows: Sequence[JobRow]) -> CycleTime:
    """Median and quartiles, interpolated linearly."""
    days = [(row.counted_on - row.opened_on).days for row in rows]
    if not days:
        return CycleTime(days=units_of(rows), n=0, p25=None, median=None, p75=None)
    p25, median, p75 = (float(x) for x in np.percentile(days, QUARTILES, method=PERCENTILE_METHOD))
    return CycleTime(days=units_of(rows), n=len(days), p25=p25, median=median, p75=p75)


def counties_without_unit(
    counties: Iterable[CountyName], rows: Iterable[JobRow]
) -> tuple[CountyName, ...]:
    """Counties the agency serves in which no unit was counted."""
    served = {row.county_code for row in rows}
    return tuple(one for one in counties if one.code not in served)
