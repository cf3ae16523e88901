"""Degree days of a weather year by every convention, which are not interchangeable."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from agency.savings.climate import (
    Convention,
    cooling_degree_days,
    erbs_cooling_degree_days,
    erbs_heating_degree_days,
    heating_degree_days,
    schoenau_cooling_degree_days,
    schoenau_heating_degree_days,
)
from agency.savings.errors import ClimateError

from ..weather import MONTH_DAYS
from ..weather_year import Array, WeatherYear

HOURS_A_DAY = 24


@dataclass(frozen=True, slots=True, kw_only=True)
class DegreeDays:
    """One convention's degree days at one base. [K day]"""

    convention: str
    heating: float
    cooling: float


NAMES: Mapping[str, str] = {
    Convention.HOURLY: "Hourly: mean of the day's hours beyond the base",
    Convention.DAILY_MEAN: "Daily mean of the hours",
    Convention.MAX_MIN: "Half of the day's highest plus lowest (weather service)",
    "erbs": "Monthly means alone (Erbs, Klein and Beckman 1983)",
    "schoenau": "Monthly means and spread of daily means (Schoenau and Kehrig 1990)",
}


def degree_days(weather: WeatherYear, *, base: float) -> list[DegreeDays]:
    """Degree days of a complete year by each convention, base in °C.

    Raises
    ------
    ClimateError
        A year with gaps: the days after them would be shifted.
    """
    if not weather.is_complete:
        raise ClimateError(
            f"{weather.hours:,} of 8,760 hours can be used; degree days need a complete year. "
            "Use another file of this station."
        )
    hours = weather.temperature
    found = [
        DegreeDays(
            convention=NAMES[convention],
            heating=heating_degree_days(hours, base=base, convention=convention),
            cooling=cooling_degree_days(hours, base=base, convention=convention),
        )
        for convention in Convention
    ]
    return [*found, *_monthly(hours, base)]


def _monthly(hours: Array, base: float) -> list[DegreeDays]:
    days = hours.reshape(-1, HOURS_A_DAY).mean(axis=-1)
    months = np.split(days, np.cumsum(MONTH_DAYS)[:-1])
    given = {"monthly_means": [month.mean() for month in months], "days": MONTH_DAYS}
    spread = given | {"daily_spreads": [month.std(ddof=1) for month in months]}
    ways: Mapping[str, tuple[Callable[..., float], Callable[..., float], Mapping[str, object]]] = {
        "erbs": (erbs_heating_degree_days, erbs_cooling_degree_days, given),
        "schoenau": (schoenau_heating_degree_days, schoenau_cooling_degree_days, spread),
    }
    return [
        DegreeDays(
            convention=NAMES[name],
            heating=heating(**arguments, base=base),
            cooling=cooling(**arguments, base=base),
        )
        for name, (heating, cooling, arguments) in ways.items()
    ]
