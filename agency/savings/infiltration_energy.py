"""Heat and moisture that leaking air brings through a year, hour by hour."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from agency.leakage.infiltration import (
    BasicCoefficients,
    basic_flow,
    coefficients_of,
    house_blocks,
)
from agency.savings.errors import SavingsError

Array = NDArray[np.float64]

SECONDS_AN_HOUR = 3600.0
POUND = 0.45359237
"""[kg]  Exact."""
FOOT = 0.3048
"""[m]  Exact."""
STANDARD_AIR_DENSITY = 0.075 * POUND / FOOT**3
"""Standard air of the trade, 0.075 lb/ft³. [kg/m³]  With the next two it gives the trade's
1.08 Btu/(h cfm °F) and about 4,840 Btu/(h cfm); ASHRAE Fundamentals, from memory."""
AIR_HEAT_CAPACITY = 0.24 * 4186.8
"""0.24 Btu/(lb °F). [J/(kg K)]"""
EVAPORATION_HEAT = 1076.0 * 2326.0
"""1,076 Btu/lb. [J/kg]"""
LOWEST_ELEVATION, HIGHEST_ELEVATION = -500.0, 5000.0
"""Where the density formula is used. [m]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hours:
    """Outdoor air of one year, an entry an hour."""

    temperature: Array
    """[°C]"""
    wind_speed: Array
    """At the weather station's mast. [m/s]"""
    humidity_ratio: Array
    """[kg/kg]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class CoolingLoad:
    """What a year's leaking air asks of the cooling, an entry a house."""

    sensible: Array
    """[J]"""
    latent: Array
    """[J]"""


def air_density_at(elevation: float) -> float:
    r"""Density of standard air, thinned by height.

    .. math:: \rho = \rho_0 (1 - 2.25577 \cdot 10^{-5} z)^{5.2559}

    Parameters
    ----------
    elevation : float
        Height :math:`z` above sea level. [m]

    Returns
    -------
    float
        [kg/m³]

    References
    ----------
    .. [1] Pressure of the standard atmosphere, ASHRAE Fundamentals 2017 ch. 1 eq. 3,
       from memory.
    """
    if not LOWEST_ELEVATION <= elevation <= HIGHEST_ELEVATION:
        raise SavingsError(
            f"elevation is {elevation:g} m; it must be {LOWEST_ELEVATION:g} to "
            f"{HIGHEST_ELEVATION:,.0f} m. Correct the elevation."
        )
    return float(STANDARD_AIR_DENSITY * (1 - 2.25577e-5 * elevation) ** 5.2559)


def heating_load(
    *, flow: ArrayLike, temperature: ArrayLike, balance: ArrayLike, density: float
) -> Array:
    r"""Heat the year's inflowing air takes from the heating, summed over the last axis.

    .. math:: E = \rho c_p \sum_t Q_t \max(0, T_b - T_t) \, \Delta t

    Parameters
    ----------
    flow : array
        Air flow :math:`Q` of each hour. [m³/s]
    temperature : array
        Outdoors :math:`T`. [°C]
    balance : float or array
        Outdoor temperature :math:`T_b` below which the heating runs. [°C]
    density : float
        :math:`\rho`. [kg/m³]

    Returns
    -------
    array
        [J]

    Notes
    -----
    Flow and cold are summed hour by hour: both rise together, so the product of their means
    would be too small.
    """
    cold = np.maximum(0.0, np.asarray(balance) - np.asarray(temperature))
    return _energy(flow, cold, density * AIR_HEAT_CAPACITY)


def sensible_cooling_load(
    *, flow: ArrayLike, temperature: ArrayLike, balance: ArrayLike, density: float
) -> Array:
    """Heat the year's inflowing air adds while it is warmer than `balance`. [J]"""
    warm = np.maximum(0.0, np.asarray(temperature) - np.asarray(balance))
    return _energy(flow, warm, density * AIR_HEAT_CAPACITY)


def latent_cooling_load(
    *,
    flow: ArrayLike,
    temperature: ArrayLike,
    balance: ArrayLike,
    humidity_ratio: ArrayLike,
    indoor_humidity_ratio: ArrayLike,
    density: float,
) -> Array:
    """Heat of the moisture brought in; only while cooling, and only of air moister than indoors.

    Returns
    -------
    array
        [J]
    """
    moist = np.maximum(0.0, np.asarray(humidity_ratio) - np.asarray(indoor_humidity_ratio))
    cooling = np.asarray(temperature) > np.asarray(balance)
    return _energy(flow, moist * cooling, density * EVAPORATION_HEAT)


def heating_load_by_house(
    *,
    leakage_area: Array,
    coefficients: BasicCoefficients,
    setpoint: Array,
    balance: Array,
    hours: Hours,
    density: float,
) -> Array:
    """Each house's yearly `heating_load` by the basic infiltration model. [J]

    All arguments but `hours` and `density` hold one entry a house.
    """
    cold = hours.temperature < np.max(balance)
    temperature, wind_speed = hours.temperature[cold], hours.wind_speed[cold]
    loads = np.empty(len(leakage_area))
    for block in house_blocks(len(leakage_area)):
        flow = basic_flow(
            leakage_area=leakage_area[block, None],
            coefficients=coefficients_of(coefficients, block),
            temperature_difference=setpoint[block, None] - temperature,
            wind_speed=wind_speed,
        )
        loads[block] = heating_load(
            flow=flow, temperature=temperature, balance=balance[block, None], density=density
        )
    return loads


def cooling_load_by_house(
    *,
    leakage_area: Array,
    coefficients: BasicCoefficients,
    setpoint: Array,
    indoor_humidity_ratio: Array,
    hours: Hours,
    density: float,
) -> CoolingLoad:
    """Each house's yearly cooling loads, counted while it is warmer outdoors than indoors.

    All arguments but `hours` and `density` hold one entry a house.
    """
    warm = hours.temperature > np.min(setpoint)
    temperature, wind_speed = hours.temperature[warm], hours.wind_speed[warm]
    sensible, latent = np.empty(len(leakage_area)), np.empty(len(leakage_area))
    for block in house_blocks(len(leakage_area)):
        column = setpoint[block, None]
        flow = basic_flow(
            leakage_area=leakage_area[block, None],
            coefficients=coefficients_of(coefficients, block),
            temperature_difference=column - temperature,
            wind_speed=wind_speed,
        )
        sensible[block] = sensible_cooling_load(
            flow=flow, temperature=temperature, balance=column, density=density
        )
        latent[block] = latent_cooling_load(
            flow=flow,
            temperature=temperature,
            balance=column,
            humidity_ratio=hours.humidity_ratio[warm],
            indoor_humidity_ratio=indoor_humidity_ratio[block, None],
            density=density,
        )
    return CoolingLoad(sensible=sensible, latent=latent)


def _energy(flow: ArrayLike, drive: Array, capacity: float) -> Array:
    per_hour = np.asarray(flow, dtype=np.float64) * drive
    return np.asarray(per_hour.sum(axis=-1) * (capacity * SECONDS_AN_HOUR))
