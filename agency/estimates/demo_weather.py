"""A made-up cold-climate year for the invented Quillmoor County, written as a real EPW file."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from pvlib.atmosphere import rh_from_tdew

Array = NDArray[np.float64]

HOURS_A_YEAR = 8760
YEAR = 2023
"""Any year of 365 days; it only fills the file's year field."""
ELEVATION = 262.0
"""[m]"""
MEAN_TEMPERATURE = 7.0
"""[°C]  With the swings below some 4,500 K days of heating below 18.3 °C: a cold climate."""
SEASON_SWING = 16.0
"""[K]"""
COLDEST_HOUR = 20 * 24
"""20 January, counted in hours from the new year."""
SYNTHETIC = (
    "SYNTHETIC DATA: invented by random numbers with a fixed seed for the invented Quillmoor "
    "County. No such place was measured. Not for use outside demonstrations."
)
MISSING = {
    "radiation": "9999",
    "illuminance": "999999",
    "tail": "99,99,9999,99999,9,999999999,999,0.999,999,99,999,999,99",
}
"""What is not synthesised is marked missing, not made up."""


def write_demo_epw(path: Path, *, seed: int) -> None:
    """Write the synthetic year to `path` as an EPW file."""
    path.write_text(demo_epw(seed=seed), encoding="ascii", newline="\r\n")


def demo_epw(*, seed: int) -> str:
    """The synthetic year as the text of an EPW file; the same seed gives the same text."""
    rng = np.random.default_rng(seed)
    hour = np.arange(HOURS_A_YEAR)
    season = -np.cos(2 * np.pi * (hour - COLDEST_HOUR) / HOURS_A_YEAR)
    temperature = _temperature(rng, hour, season)
    dew_point = temperature - _dew_point_depression(rng, hour, season)
    humidity = np.minimum(rh_from_tdew(temperature, dew_point), 100.0)
    pressure = 98_200.0 + 650.0 * _persistent(rng, hours=60)
    wind_speed = _wind_speed(rng, hour, season)
    direction = (250 + 60 * _persistent(rng, hours=30)) % 360
    columns = zip(temperature, dew_point, humidity, pressure, direction, wind_speed, strict=True)
    rows = [_row(index, values) for index, values in enumerate(columns)]
    return "\n".join([*_header(seed), *rows]) + "\n"


def _temperature(rng: np.random.Generator, hour: NDArray[np.int64], season: Array) -> Array:
    # Winter fronts swing wider than summer ones; the day's swing is wider in summer.
    fronts = (4.8 - 1.3 * season) * _persistent(rng, hours=48)
    day = (4.0 + 1.5 * season) * np.cos(2 * np.pi * (hour % 24 - 14) / 24)
    return MEAN_TEMPERATURE + SEASON_SWING * season + fronts + day


def _dew_point_depression(
    rng: np.random.Generator, hour: NDArray[np.int64], season: Array
) -> Array:
    day = 1 + 0.5 * np.cos(2 * np.pi * (hour % 24 - 14) / 24)
    return (4.0 + 1.5 * season) * day * np.exp(0.45 * _persistent(rng, hours=24))


def _wind_speed(rng: np.random.Generator, hour: NDArray[np.int64], season: Array) -> Array:
    typical = (3.9 - 0.5 * season) * (1 + 0.2 * np.cos(2 * np.pi * (hour % 24 - 14) / 24))
    return np.minimum(typical * np.exp(0.45 * _persistent(rng, hours=10) - 0.1), 25.0)


def _persistent(rng: np.random.Generator, *, hours: float) -> Array:
    """Noise of mean 0 and spread 1 that forgets itself over so many hours."""
    keep = np.exp(-1 / hours)
    pushes = np.sqrt(1 - keep**2) * rng.standard_normal(HOURS_A_YEAR)
    noise = np.empty(HOURS_A_YEAR)
    state = rng.standard_normal()
    for index, push in enumerate(pushes):
        state = keep * state + push
        noise[index] = state
    return noise


def _header(seed: int) -> list[str]:
    return [
        "LOCATION,Quillmoor County (invented),--,---,SYNTHETIC,000000,45.00,-93.00,-6.0,"
        f"{ELEVATION}",
        "DESIGN CONDITIONS,0",
        "TYPICAL/EXTREME PERIODS,0",
        "GROUND TEMPERATURES,0",
        "HOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0",
        f"COMMENTS 1,{SYNTHETIC}",
        f"COMMENTS 2,Seed {seed}. Radiation; light; sky and rain fields are marked missing.",
        "DATA PERIODS,1,1,Data,Sunday,1/1,12/31",
    ]


def _row(index: int, values: tuple[float, ...]) -> str:
    temperature, dew_point, humidity, pressure, direction, wind_speed = values
    start = datetime(YEAR, 1, 1, tzinfo=UTC) + timedelta(hours=index)
    radiation = ",".join([MISSING["radiation"]] * 6)
    light = ",".join([MISSING["illuminance"]] * 3 + [MISSING["radiation"]])
    return (
        f"{start.year},{start.month},{start.day},{start.hour + 1},60,"
        f"*{'?9' * 21},{temperature:.1f},{dew_point:.1f},{humidity:.0f},{pressure:.0f},"
        f"{radiation},{light},{direction:.0f},{wind_speed:.1f},{MISSING['tail']}"
    )
