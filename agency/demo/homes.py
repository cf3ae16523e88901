"""Invented dwellings: size and age, the true leaks behind them, and what the work does to those."""

from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np

from .people import STREETS, TOWNS
from .physics import CFM, FOOT, Shell, Weather

ACH50_BY_VINTAGE = ((1940, 19.0), (1960, 15.0), (1980, 12.5), (2000, 10.0), (2100, 7.0))
"""Built before the year: typical air changes an hour at 50 Pa.

Around the stock median of about 13 that goes with a normalized leakage of 0.67 (Chan, Joh and
Sherman, Energy and Buildings 2013, abstract); the split by age is our own choice.
"""
ACH50_SPREAD = 0.35
"""Standard deviation of the natural logarithm; about log-normal by the same source."""
USUAL_AREA = 1300.0
"""[sq ft]  Smaller houses are leakier for their volume."""
EXPONENT, EXPONENT_SPREAD = 0.65, 0.045
EXPONENT_RANGE = (0.54, 0.76)
KEPT, KEPT_SPREAD = -0.34, 0.17
"""Logarithm of flow after over flow before: median reduction 27 %, between the 20 and 35 %
reported for programme homes. Spread: own choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Home:
    """One dwelling as the register knows it, and its true leaks."""

    record: dict[str, Any]
    """Field values of a house, in the register's units."""
    county: str
    shell: Shell


def invent_home(rng: np.random.Generator, *, number: int) -> Home:
    """A dwelling; the same generator state gives the same one."""
    town, postal_code, county, elevation = TOWNS[int(rng.integers(len(TOWNS)))]
    year = int(rng.choice([1912, 1928, 1947, 1955, 1962, 1968, 1974, 1983, 1991, 2004]))
    year += int(rng.integers(0, 7))
    mobile = year > 1960 and rng.random() < 0.18
    storeys = 1.0 if mobile else float(rng.choice([1.0, 1.5, 2.0], p=[0.55, 0.2, 0.25]))
    area = _rounded(USUAL_AREA * (0.75 if mobile else 1.0) * np.exp(0.26 * _normal(rng)), 10)
    ceiling = 7.5 if mobile else (8.5 if year < 1940 else 8.0)
    volume = _rounded(area * ceiling, 100)
    height = round(storeys * (ceiling + 1) - 1, 1)
    shell = _leaks(rng, year=year, area=area, volume=volume, height=height, elevation=elevation)
    unit = f"Unit {'ABCD'[int(rng.integers(4))]}" if not mobile and rng.random() < 0.07 else ""
    record = {
        "address": f"{int(rng.integers(3, 980))} {STREETS[number % len(STREETS)]}",
        "unit": unit,
        "city": town,
        "postal_code": postal_code,
        "dwelling": "mobile_home" if mobile else ("two_to_four" if unit else "single_family"),
        "year_built": year,
        "storeys": storeys,
        "floor_area_sqft": area,
        "volume_cuft": volume,
        "height_ft": height,
        "envelope_area_sqft": _envelope(area, storeys, height),
        "elevation_ft": round(elevation / FOOT),
        "bedrooms": int(np.ceil(area / 520)),
        "occupants": int(rng.integers(1, 6)),
        "shelter": int(rng.choice([2, 3, 4, 5], p=[0.2, 0.35, 0.3, 0.15])),
        **_plant(rng, mobile=mobile),
    }
    return Home(record=record, county=county, shell=shell)


def _leaks(
    rng: np.random.Generator,
    *,
    year: int,
    area: float,
    volume: float,
    height: float,
    elevation: float,
) -> Shell:
    usual = next(ach for before, ach in ACH50_BY_VINTAGE if year < before)
    ach50 = usual * (USUAL_AREA / area) ** 0.3 * float(np.exp(ACH50_SPREAD * _normal(rng)))
    exponent = _exponent(rng)
    flow_50 = ach50 * volume / 60 * CFM
    return Shell(
        coefficient=flow_50 / 50**exponent,
        exponent=exponent,
        pressurization_ratio=1.03 + 0.03 * _normal(rng),
        height=height * FOOT,
        elevation=float(elevation),
    )


def _exponent(rng: np.random.Generator) -> float:
    """Drawn again, not clipped, when outside the usual range."""
    while True:
        exponent = EXPONENT + EXPONENT_SPREAD * _normal(rng)
        if EXPONENT_RANGE[0] <= exponent <= EXPONENT_RANGE[1]:
            return exponent


def _plant(rng: np.random.Generator, *, mobile: bool) -> dict[str, Any]:
    fuels = ("natural_gas", "propane", "fuel_oil", "electricity", "wood")
    chances = (0.12, 0.55, 0.08, 0.2, 0.05) if mobile else (0.55, 0.15, 0.15, 0.1, 0.05)
    fuel = str(rng.choice(fuels, p=chances))
    efficiency = {
        "natural_gas": float(rng.choice([0.78, 0.80, 0.92])),
        "propane": 0.80,
        "fuel_oil": 0.76,
        "electricity": float(rng.choice([1.0, 2.6])),
        "wood": 0.60,
    }[fuel]
    return {
        "heating_fuel": fuel,
        "heating_efficiency": efficiency,
        "cooling_efficiency": float(rng.choice([2.9, 3.4])) if rng.random() < 0.45 else None,
        "distribution_efficiency": float(rng.choice([0.72, 0.8, 0.88])),
    }


def _envelope(area: float, storeys: float, height: float) -> float:
    """Walls, ceiling and floor of a box a half longer than wide. [sq ft]"""
    footprint = area / storeys
    perimeter = 2 * 2.5 * np.sqrt(footprint / 1.5)
    return _rounded(float(perimeter * height + 2 * footprint), 10)


def reduction(rng: np.random.Generator, shell: Shell, volume_cuft: float) -> float:
    """Share of the flow at 50 Pa the work takes away; some houses gain nothing, a few lose."""
    luck = rng.random()
    if luck < 0.05:
        return float(rng.uniform(-0.07, -0.02))
    if luck < 0.13:
        return float(rng.uniform(0.0, 0.02))
    ach50 = shell.flow_50() / CFM * 60 / volume_cuft
    # Leakier houses have more to seal; own choice of slope.
    kept = KEPT - 0.10 * np.log(ach50 / 12) + KEPT_SPREAD * _normal(rng)
    return float(1 - np.exp(kept))


def weather_on(rng: np.random.Generator, day: date, *, shell: Shell, calm: bool = True) -> Weather:
    """A working day's air in a cold county; crews wait for a calm hour when they can."""
    season = -np.cos(2 * np.pi * (day.timetuple().tm_yday - 20) / 365)
    outdoor = 9.5 + 15.5 * season + 4.5 * _normal(rng)
    wind = float(np.exp(0.45 + 0.35 * _normal(rng))) if calm else float(rng.uniform(11.0, 13.0))
    indoor = 21.0 + 1.0 * _normal(rng) if outdoor < 22 else min(outdoor, 27.0)
    colder = (shell.elevation - 262.0) * 0.0065
    return Weather(indoor=float(indoor), outdoor=float(outdoor - colder), wind=wind)


def _normal(rng: np.random.Generator) -> float:
    return float(rng.standard_normal())


def _rounded(value: float, step: int) -> float:
    return float(round(value / step) * step)
