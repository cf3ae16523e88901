"""Moisture in air: saturation pressure and humidity ratio."""

from collections.abc import Mapping

import numpy as np
from numpy.typing import ArrayLike, NDArray

from agency.savings.errors import SavingsError

Array = NDArray[np.float64]

WATER_TO_AIR_MASS_RATIO = 0.621945
"""Molar mass of water over that of dry air. [-]  ASHRAE Fundamentals 2017 ch. 1, from memory."""
ICE_POINT = 273.15
"""Zero degrees Celsius. [K]  Exact."""
TRIPLE_POINT = 0.01
"""Where the ice and the water curve meet. [°C]"""
LOWEST, HIGHEST = -100.0, 200.0
"""Range of validity of the saturation curves. [°C]"""

HYLAND_WEXLER: Mapping[str, tuple[float, ...]] = {
    # Terms 1/T, 1, T, T², T³, T⁴, ln T with T in kelvin, for the logarithm of the pressure in Pa.
    "ice": (
        -5.6745359e3, 6.3925247, -9.677843e-3, 6.2215701e-7, 2.0747825e-9, -9.484024e-13, 4.1635019,
    ),
    "water": (
        -5.8002206e3, 1.3914993, -4.8640239e-2, 4.1764768e-5, -1.4452093e-8, 0.0, 6.5459673,
    ),
}  # fmt: skip
"""R. W. Hyland and A. Wexler, 1983, as in ASHRAE Fundamentals 2017 ch. 1 eq. 5 and 6, from memory;
checked against an independent library in the tests."""


def saturation_pressure(temperature: ArrayLike) -> Array:
    """Pressure of water vapour in equilibrium with ice or water.

    Parameters
    ----------
    temperature : float or array
        -100 to 200. [°C]

    Returns
    -------
    array
        [Pa]
    """
    celsius = np.asarray(temperature, dtype=np.float64)
    _refuse_outside(celsius, LOWEST, HIGHEST, "temperature [°C]")
    kelvin = celsius + ICE_POINT
    return np.where(
        celsius <= TRIPLE_POINT,
        _curve(kelvin, HYLAND_WEXLER["ice"]),
        _curve(kelvin, HYLAND_WEXLER["water"]),
    )


def humidity_ratio_from_dew_point(*, dew_point: ArrayLike, pressure: ArrayLike) -> Array:
    r"""Mass of water to mass of dry air.

    .. math:: W = 0.621945 \frac{p_w}{p - p_w}

    Parameters
    ----------
    dew_point : float or array
        [°C]
    pressure : float or array
        Station pressure, not reduced to sea level. [Pa]

    Returns
    -------
    array
        [kg/kg]

    References
    ----------
    .. [1] ASHRAE Handbook of Fundamentals 2017, ch. 1, eq. 20, from memory.
    """
    return _humidity_ratio(saturation_pressure(dew_point), pressure)


def humidity_ratio_from_relative(
    *, temperature: ArrayLike, relative_humidity: ArrayLike, pressure: ArrayLike
) -> Array:
    """Mass of water to mass of dry air, from relative humidity as a fraction 0 to 1. [kg/kg]"""
    fraction = np.asarray(relative_humidity, dtype=np.float64)
    # Saturated winter air is printed up to 110 % in weather files; above that it is a slip.
    _refuse_outside(fraction, 0.0, 1.1, "relative humidity, as a fraction")
    return _humidity_ratio(fraction * saturation_pressure(temperature), pressure)


def _humidity_ratio(vapour: Array, pressure: ArrayLike) -> Array:
    total = np.asarray(pressure, dtype=np.float64)
    if not (total > vapour).all():
        raise SavingsError(
            "air pressure [Pa] must be above the vapour's own pressure. Give the station pressure "
            "in pascals (about 100,000)."
        )
    return np.asarray(WATER_TO_AIR_MASS_RATIO * vapour / (total - vapour))


def _curve(kelvin: Array, terms: tuple[float, ...]) -> Array:
    inverse, *powers, logarithm = terms
    polynomial = sum(factor * kelvin**power for power, factor in enumerate(powers))
    return np.asarray(np.exp(inverse / kelvin + polynomial + logarithm * np.log(kelvin)))


def _refuse_outside(values: Array, low: float, high: float, name: str) -> None:
    good = (values >= low) & (values <= high)
    if not good.all():
        worst = np.atleast_1d(values)[~np.atleast_1d(good)][0]
        raise SavingsError(f"{name} is {worst:g}; it must be {low:g} to {high:g}.")
