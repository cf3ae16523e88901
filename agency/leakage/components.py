"""Air leakage of one window, door or other component: at standard air, per area, per crack."""

import numpy as np
from numpy.typing import ArrayLike

from agency.leakage.air import (
    HIGHEST_PRESSURE,
    HIGHEST_TEMPERATURE,
    LOWEST_PRESSURE,
    LOWEST_TEMPERATURE,
)
from agency.leakage.ranges import Array, above, within
from agency.leakage.refusals import at_least

DENSITY_FACTOR = 3.485e-3
"""Density times temperature over pressure of air. [kg K/(m³ Pa)]  ASTM E283, from memory."""
KELVIN_E283 = 273.0
"""Kelvin less degC as ASTM E283 rounds it. [K]  From memory."""
STANDARD_DENSITY = 1.202
"""[kg/m³]  ASTM E283 and E783, from memory."""


def specimen_leakage(*, total: ArrayLike, extraneous: ArrayLike) -> Array:
    r"""Flow through the specimen alone, both readings at the same pressure.

    .. math:: Q_s = Q_{total} - Q_{extraneous}

    Parameters
    ----------
    total : array_like
        With the specimen open to the air, shape (...). [m³/s]
    extraneous : array_like
        With the specimen sealed: chamber and surroundings, shape (...). [m³/s]

    Returns
    -------
    ndarray
        Shape (...). [m³/s]

    Raises
    ------
    OutOfRange
        More flow with the specimen sealed than with it open.

    References
    ----------
    .. [1] ASTM E283 and E783, extraneous leakage (read: definition).
    """
    whole = at_least("Total flow", total, low=0, unit="m³/s")
    rest = at_least("Extraneous flow", extraneous, low=0, unit="m³/s")
    return at_least("Total less extraneous flow", whole - rest, low=0, unit="m³/s")


def flow_at_standard_air(*, flow: ArrayLike, pressure: ArrayLike, temperature: ArrayLike) -> Array:
    r"""Flow stated at the standard air of component tests.

    .. math:: Q_{std} = Q \sqrt{W / 1.202},\quad W = 3.485 \times 10^{-3} \frac{B}{T + 273}

    Parameters
    ----------
    flow : array_like
        Flow :math:`Q` as read, not negative, shape (...). [m³/s]
    pressure : array_like
        Station pressure :math:`B`, not reduced to sea level, 50 000 to 110 000. [Pa]
    temperature : array_like
        Temperature :math:`T` of the air at the flow meter, -60 to 60. [degC]

    Returns
    -------
    ndarray
        Shape (...). [m³/s]

    Raises
    ------
    OutOfRange
        A pressure in hectopascals, for one.

    References
    ----------
    .. [1] ASTM E283 and E783, calculation (from memory).
    """
    station = within(
        "Station pressure", pressure, low=LOWEST_PRESSURE, high=HIGHEST_PRESSURE, unit="Pa"
    )
    degrees = within(
        "Temperature", temperature, low=LOWEST_TEMPERATURE, high=HIGHEST_TEMPERATURE, unit="degC"
    )
    density = DENSITY_FACTOR * station / (degrees + KELVIN_E283)
    return np.asarray(
        at_least("Flow", flow, low=0, unit="m³/s") * np.sqrt(density / STANDARD_DENSITY)
    )


def leakage_per_area(*, flow: ArrayLike, area: ArrayLike) -> Array:
    """Leakage of a component per area of the specimen.

    Parameters
    ----------
    flow : array_like
        At the pressure of the rating; `scaling.flow_at_other_pressure` moves it there. [m³/s]
    area : array_like
        Overall area of the specimen, more than 0. [m²]

    Returns
    -------
    ndarray
        [m³/(s m²)]

    References
    ----------
    .. [1] ASTM E283 and E783 (read: definition).
    """
    passed = at_least("Flow", flow, low=0, unit="m³/s")
    return np.asarray(passed / above("Area", area, low=0, unit="m²"))


def leakage_per_crack_length(*, flow: ArrayLike, crack_length: ArrayLike) -> Array:
    """Leakage of a component per length of its operable crack.

    Parameters
    ----------
    flow : array_like
        As for `leakage_per_area`. [m³/s]
    crack_length : array_like
        Length of the joints of the parts that move, more than 0; a fixed light has none and is
        stated per area. [m]

    Returns
    -------
    ndarray
        [m³/(s m)]

    References
    ----------
    .. [1] ASTM E283 and E783 (read: definition).
    """
    passed = at_least("Flow", flow, low=0, unit="m³/s")
    return np.asarray(passed / above("Crack length", crack_length, low=0, unit="m"))
