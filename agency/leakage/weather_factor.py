"""A weather and shielding factor worked out from a weather file; not the standard's table."""

from dataclasses import dataclass

import numpy as np

from agency.leakage.infiltration_combining import Superposition, effective_mean_air_changes
from agency.leakage.infiltration_enhanced import EnhancedCoefficients, enhanced_flow
from agency.leakage.leakage_area import ELA_PRESSURE
from agency.leakage.ranges import Array
from agency.leakage.refusals import at_least
from agency.leakage.units import SECOND_PER_HOUR


@dataclass(frozen=True, slots=True, kw_only=True)
class ReferenceHouse:
    """The house, and its weather conventions, that the factor is defined on."""

    leakage_area: float
    """At 4 Pa, discharge coefficient 1. [m²]"""
    floor_area: float
    """[m²]"""
    height: float
    """[m]"""
    indoor_temperature: float
    """[°C]"""
    exponent: float
    stack: float
    """[(Pa/K)^n]"""
    wind: float
    """[(Pa s²/m²)^n]"""
    shelter: float
    wind_multiplier: float
    lowest_wind: float
    """Wind at the mast is counted as at least this. [m/s]"""
    density: float
    """[kg/m³]"""
    source: str
    provenance: str


REFERENCE_HOUSE = ReferenceHouse(
    leakage_area=0.074,
    floor_area=185.0,
    height=2.5,
    indoor_temperature=22.0,
    exponent=0.67,
    stack=0.069,
    wind=0.142,
    shelter=0.7,
    wind_multiplier=0.48,
    lowest_wind=1.0,
    density=1.2,
    source="W. J. N. Turner and M. H. Sherman, HVAC&R Research 18(6), 2012, LBNL-5795E",
    provenance="from memory",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class ComputedWeatherFactor:
    """A factor for comparison only; a compliance figure takes the printed one."""

    value: float
    mean_air_changes: float
    """[1/h]"""
    effective_air_changes: float
    """[1/h]"""
    label: str = "computed, not tabulated"


def computed_weather_factor(
    *, temperature: Array, wind_speed: Array, house: ReferenceHouse
) -> ComputedWeatherFactor:
    r"""Weather and shielding factor of a place from the hours of its year.

    .. math:: wsf = \frac{A_f}{1000\, A_L\, \overline{\tau}}

    Parameters
    ----------
    temperature : ndarray
        Outdoors, shape (hours,). [°C]
    wind_speed : ndarray
        At the mast, shape (hours,). [m/s]
    house : ReferenceHouse
        `REFERENCE_HOUSE`, unless its constants have been corrected from the report.

    References
    ----------
    .. [1] See ``REFERENCE_HOUSE.source``; constants and recursion from memory.
    """
    wind = np.maximum(house.lowest_wind, at_least("Wind speed", wind_speed, low=0, unit="m/s"))
    n = house.exponent
    flow = enhanced_flow(
        coefficient=house.leakage_area * np.sqrt(2 / house.density) * ELA_PRESSURE ** (0.5 - n),
        exponent=n,
        coefficients=EnhancedCoefficients(
            stack=np.asarray(house.stack),
            wind=np.asarray(house.wind),
            shelter=np.asarray(house.shelter),
            wind_multiplier=np.asarray(house.wind_multiplier),
            variant="reference house",
        ),
        temperature_difference=house.indoor_temperature - temperature,
        mast_wind_speed=wind,
        superposition=Superposition.QUADRATURE,
    ).flow
    changes = SECOND_PER_HOUR * flow / (house.floor_area * house.height)
    effective = float(effective_mean_air_changes(changes))
    return ComputedWeatherFactor(
        value=house.floor_area / house.leakage_area * effective / 1000,
        mean_air_changes=float(changes.mean()),
        effective_air_changes=effective,
    )
