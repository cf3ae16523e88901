"""One typical weather year in memory, with all that was wrong in the file it came from."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from agency.errors import AgencyError

Array = NDArray[np.float64]

HOURS_A_YEAR = 8760
NAMED_ROWS = 5
"""Rows a message names one by one before it only counts."""


class WeatherFileError(AgencyError):
    """A weather file that cannot stand for a year."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BadValue:
    """One value that cannot be used."""

    row: int
    """Line of the file, counted from 1."""
    quantity: str
    value: float | None
    reason: str
    """"missing" or "out of range"."""

    def __str__(self) -> str:
        shown = "" if self.value is None else f" ({self.value:g})"
        return f"row {self.row}: {self.quantity.replace('_', ' ')} {self.reason}{shown}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Quality:
    """What is wrong with a weather file; nothing is repaired."""

    rows: int
    bad_values: tuple[BadValue, ...]
    absent_hours: tuple[str, ...]
    """"12-31 hour 24" for each hour of the year that has no row."""

    @property
    def is_complete(self) -> bool:
        """Every hour of the year is there and usable."""
        return not self.bad_values and not self.absent_hours

    @property
    def bad_rows(self) -> tuple[int, ...]:
        """Lines of the file with at least one value that cannot be used."""
        return tuple(sorted({bad.row for bad in self.bad_values}))

    def summary(self) -> str:
        """One sentence with the first few faults by name."""
        if self.is_complete:
            return f"All {self.rows:,} hours are complete."
        parts = []
        if self.bad_values:
            parts.append(f"{len(self.bad_rows)} rows cannot be used: {_first_few(self.bad_values)}")
        if self.absent_hours:
            parts.append(
                f"{len(self.absent_hours)} hours have no row: {_first_few(self.absent_hours)}"
            )
        return "; ".join(parts) + "."


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WeatherYear:
    """One typical year of outdoor air, an entry an hour, in the order of the file."""

    station: str
    kind: str
    """EPW or TMY3."""
    origin: str
    """Kind of data the file says it holds; empty when it does not say."""
    comments: str
    elevation: float
    """[m]"""
    sha256: str
    rows: NDArray[np.int64]
    """Line of the file each hour was read from."""
    temperature: Array
    """Dry bulb. [°C]"""
    dew_point: Array
    """NaN where only the relative humidity was given. [°C]"""
    relative_humidity: Array
    """NaN where only the dew point was given. Fraction. [-]"""
    pressure: Array
    """Station pressure. [Pa]"""
    wind_speed: Array
    """[m/s]"""
    quality: Quality

    @property
    def hours(self) -> int:
        """Hours that can be used."""
        return len(self.rows)

    @property
    def is_complete(self) -> bool:
        """All 8,760 hours are there."""
        return self.hours == HOURS_A_YEAR


def _first_few(faults: Sequence[Any]) -> str:
    named = ", ".join(str(fault) for fault in faults[:NAMED_ROWS])
    more = len(faults) - NAMED_ROWS
    return f"{named} and {more} more" if more > 0 else named
