"""Density, viscosity and pressure of the air a test moves."""

import numpy as np
from numpy.typing import ArrayLike

from agency.leakage.ranges import Array, within

REFERENCE_TEMPERATURE = 20.0
"""[degC]  Reference state of ASTM E779 and ISO 9972; both from memory."""
REFERENCE_PRESSURE = 101_325.0
"""[Pa]  ISO 2533 sea level; from memory."""
REFERENCE_DENSITY = 1.2041
"""Dry air at 20 degC and 101 325 Pa. [kg/m³]  ASTM E779-19 Appendix X1, from memory."""
REFERENCE_DENSITY_ISO = 1.204
"""[kg/m³]  ISO 9972:2015, from memory."""

KELVIN_E779 = 273.0
"""Kelvin less degC as ASTM E779 rounds it. [K]  E779-19 Appendix X1, from memory."""
KELVIN = 273.15
"""[K]  Exact by definition."""
SUTHERLAND_FACTOR = 1.458e-6
"""[kg/(m s K^0.5)]  Roulet, Ventilation and Airflow in Buildings, ch. 4, read."""
SUTHERLAND_TEMPERATURE = 110.4
"""[K]  Same source, read."""
GAS_CONSTANT_DRY_AIR = 287.055
"""[J/(kg K)]  ISO 9972:2015 Annex A, from memory."""
VAPOUR_LIGHTNESS = 0.37802
"""One less the ratio of the molar masses of water and dry air. [-]  ISO 9972:2015, from memory."""

LOWEST_TEMPERATURE, HIGHEST_TEMPERATURE = -60.0, 60.0
"""[degC]  Where the formulas were compared with tabulated air; derived."""
LOWEST_PRESSURE, HIGHEST_PRESSURE = 50_000.0, 110_000.0
"""[Pa]  Inhabited ground; derived."""
LOWEST_ELEVATION, HIGHEST_ELEVATION = -500.0, 5_500.0
"""[m]  Inhabited ground; derived."""


def dry_air_density(*, temperature: ArrayLike, elevation: ArrayLike) -> Array:
    r"""Density of dry air at a height above the sea, as ASTM E779 has it.

    .. math:: \rho = 1.2041 \left(1 - \frac{0.0065 E}{293}\right)^{5.2553} \frac{293}{T + 273}

    Parameters
    ----------
    temperature : array_like
        Air temperature :math:`T`, -60 to 60. [degC]
    elevation : array_like
        Elevation above sea level :math:`E`, -500 to 5500. [m]

    Returns
    -------
    ndarray
        Density. [kg/m³]

    Notes
    -----
    The lapse starts at 293 K, so this is not the ISO 2533 atmosphere: it lies 0.33 % higher at
    1609 m. Do not mix the two within one method.

    References
    ----------
    .. [1] ASTM E779-19, Appendix X1 (from memory).
    """
    height = _elevation(elevation)
    ratio = (1.0 - 0.0065 * height / 293.0) ** 5.2553
    return REFERENCE_DENSITY * ratio * 293.0 / (_temperature(temperature) + KELVIN_E779)


def dry_air_density_at_pressure(*, temperature: ArrayLike, pressure: ArrayLike) -> Array:
    r"""The same with a measured station pressure in place of the elevation.

    .. math:: \rho = 1.2041 \frac{p}{101325} \frac{293}{T + 273}

    Parameters
    ----------
    temperature : array_like
        Air temperature :math:`T`, -60 to 60. [degC]
    pressure : array_like
        Station pressure :math:`p`, not reduced to sea level, 50 000 to 110 000. [Pa]

    Returns
    -------
    ndarray
        Density. [kg/m³]

    References
    ----------
    .. [1] ASTM E779-19, Appendix X1 (from memory); pressure ratio by the ideal gas law (derived).
    """
    ratio = _pressure(pressure) / REFERENCE_PRESSURE
    return REFERENCE_DENSITY * ratio * 293.0 / (_temperature(temperature) + KELVIN_E779)


def saturation_vapour_pressure(temperature: ArrayLike) -> Array:
    r"""Pressure of saturated water vapour over liquid water.

    .. math:: p_{vs} = \exp(59.484085 - 6790.4985 / T - 5.02802 \ln T)

    Parameters
    ----------
    temperature : array_like
        Air temperature, -60 to 60; below 0 still over liquid water. [degC]

    Returns
    -------
    ndarray
        Vapour pressure. [Pa]

    References
    ----------
    .. [1] ISO 9972:2015, Annex A (from memory).
    """
    kelvin = _temperature(temperature) + KELVIN
    return np.asarray(np.exp(59.484085 - 6790.4985 / kelvin - 5.02802 * np.log(kelvin)))


def moist_air_density(*, temperature: ArrayLike, pressure: ArrayLike, humidity: ArrayLike) -> Array:
    r"""Density of moist air, as ISO 9972 has it.

    .. math:: \rho = \frac{p - 0.37802 \varphi p_{vs}}{287.055 (\theta + 273.15)}

    Parameters
    ----------
    temperature : array_like
        Air temperature :math:`\theta`, -60 to 60. [degC]
    pressure : array_like
        Station pressure :math:`p`, 50 000 to 110 000. [Pa]
    humidity : array_like
        Relative humidity :math:`\varphi`, 0 to 1. [-]

    Returns
    -------
    ndarray
        Density. [kg/m³]

    References
    ----------
    .. [1] ISO 9972:2015, Annex A (from memory).
    """
    share = within("Relative humidity", humidity, low=0, high=1, unit="")
    vapour = share * saturation_vapour_pressure(temperature)
    kelvin = _temperature(temperature) + KELVIN
    dry = _pressure(pressure) - VAPOUR_LIGHTNESS * vapour
    return np.asarray(dry / (GAS_CONSTANT_DRY_AIR * kelvin))


def standard_pressure(elevation: ArrayLike) -> Array:
    r"""Pressure of the standard atmosphere at a height above the sea.

    .. math:: p = 101325 (1 - 2.25577 \times 10^{-5} E)^{5.2559}

    Parameters
    ----------
    elevation : array_like
        Elevation above sea level :math:`E`, -500 to 5500. [m]

    Returns
    -------
    ndarray
        Station pressure. [Pa]

    References
    ----------
    .. [1] ISO 2533:1975, Standard atmosphere (from memory).
    """
    return REFERENCE_PRESSURE * (1.0 - 2.25577e-5 * _elevation(elevation)) ** 5.2559


def dynamic_viscosity(temperature: ArrayLike) -> Array:
    r"""Dynamic viscosity of air by Sutherland's formula.

    .. math:: \mu = \frac{b (T + 273)^{0.5}}{1 + s / (T + 273)}

    Parameters
    ----------
    temperature : array_like
        Air temperature :math:`T`, -60 to 60. [degC]

    Returns
    -------
    ndarray
        Viscosity. [Pa s]

    Notes
    -----
    About 0.4 % below present reference data for dry air.

    References
    ----------
    .. [1] Roulet, Ventilation and Airflow in Buildings, ch. 4, eqs 4.15 to 4.18 (read).
    .. [2] ASTM E779-19, Appendix X1 (from memory).
    """
    kelvin = _temperature(temperature) + KELVIN_E779
    return np.asarray(SUTHERLAND_FACTOR * kelvin**0.5 / (1.0 + SUTHERLAND_TEMPERATURE / kelvin))


def _temperature(value: ArrayLike) -> Array:
    return within(
        "Temperature", value, low=LOWEST_TEMPERATURE, high=HIGHEST_TEMPERATURE, unit="degC"
    )


def _pressure(value: ArrayLike) -> Array:
    return within("Station pressure", value, low=LOWEST_PRESSURE, high=HIGHEST_PRESSURE, unit="Pa")


def _elevation(value: ArrayLike) -> Array:
    return within("Elevation", value, low=LOWEST_ELEVATION, high=HIGHEST_ELEVATION, unit="m")
