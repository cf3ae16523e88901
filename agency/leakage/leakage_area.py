"""What a flow coefficient and exponent mean for a house: areas, air changes, normalized leakage."""

import numpy as np
from numpy.typing import ArrayLike

from agency.leakage.air import REFERENCE_DENSITY
from agency.leakage.ranges import Array, above
from agency.leakage.units import METRE_PER_FOOT, SECOND_PER_HOUR

ELA_PRESSURE = 4.0
"""[Pa]  ASTM E779-19, from memory."""
EQLA_PRESSURE = 10.0
"""[Pa]  CAN/CGSB-149.10, from memory."""
EQLA_DISCHARGE = 0.611
"""[-]  CAN/CGSB-149.10, from memory."""
STOREY_HEIGHT = 2.5
"""[m]  Reference height of ASHRAE 119, from memory."""
STOREY_HEIGHT_62_2 = 8.2 * METRE_PER_FOOT
"""8.2 ft. [m]  Reference height of ASHRAE 62.2-2013 and later, from memory."""


def air_changes(*, flow: ArrayLike, volume: ArrayLike) -> Array:
    """Air changes in an hour.

    Parameters
    ----------
    flow : array_like
        [m³/s]
    volume : array_like
        Internal volume, more than 0. [m³]

    Returns
    -------
    ndarray
        [1/h]
    """
    return np.asarray(flow) * SECOND_PER_HOUR / above("Volume", volume, low=0, unit="m³")


def permeability(*, flow: ArrayLike, envelope_area: ArrayLike) -> Array:
    """Flow per envelope area and hour; qE50 of ISO 9972 when the flow is that at 50 Pa.

    Parameters
    ----------
    flow : array_like
        [m³/s]
    envelope_area : array_like
        More than 0. [m²]

    Returns
    -------
    ndarray
        [m³/(h m²)]
    """
    area = above("Envelope area", envelope_area, low=0, unit="m²")
    return np.asarray(flow) * SECOND_PER_HOUR / area


def opening_area(
    *, flow: ArrayLike, pressure: float, discharge: float, density: float = REFERENCE_DENSITY
) -> Array:
    r"""Area of the opening that would pass the same flow at the same pressure.

    .. math:: A = \frac{Q}{C_d \sqrt{2 \Delta p / \rho_0}}

    Parameters
    ----------
    flow : array_like
        Flow :math:`Q` at `pressure`, at reference conditions. [m³/s]
    pressure : float
        :math:`\Delta p`. [Pa]
    discharge : float
        Discharge coefficient :math:`C_d`. [-]
    density : float
        Density :math:`\rho_0` of the reference state. [kg/m³]

    Returns
    -------
    ndarray
        [m²]

    References
    ----------
    .. [1] ASTM E779-19 and CAN/CGSB-149.10 (from memory).
    """
    return np.asarray(np.asarray(flow) / (discharge * np.sqrt(2.0 * pressure / density)))


def effective_leakage_area(flow_4: ArrayLike, *, density: float = REFERENCE_DENSITY) -> Array:
    """Effective leakage area: at 4 Pa with a discharge coefficient of 1.

    Parameters
    ----------
    flow_4 : array_like
        Flow at 4 Pa. [m³/s]
    density : float
        Density of the reference state. [kg/m³]

    Returns
    -------
    ndarray
        [m²]

    References
    ----------
    .. [1] ASTM E779-19 (from memory).
    """
    return opening_area(flow=flow_4, pressure=ELA_PRESSURE, discharge=1.0, density=density)


def equivalent_leakage_area(flow_10: ArrayLike, *, density: float = REFERENCE_DENSITY) -> Array:
    """Equivalent leakage area: at 10 Pa with a discharge coefficient of 0.611.

    Parameters
    ----------
    flow_10 : array_like
        Flow at 10 Pa. [m³/s]
    density : float
        Density of the reference state. [kg/m³]

    Returns
    -------
    ndarray
        [m²]

    References
    ----------
    .. [1] CAN/CGSB-149.10 (from memory).
    """
    return opening_area(
        flow=flow_10, pressure=EQLA_PRESSURE, discharge=EQLA_DISCHARGE, density=density
    )


def specific_leakage_area(*, leakage_area: ArrayLike, floor_area: ArrayLike) -> Array:
    """Effective leakage area per floor area.

    Parameters
    ----------
    leakage_area, floor_area : array_like
        In the same unit; floor area more than 0. [m²]

    Returns
    -------
    ndarray
        [-]
    """
    return np.asarray(leakage_area) / above("Floor area", floor_area, low=0, unit="m²")


def normalized_leakage_119(
    *, leakage_area: ArrayLike, floor_area: ArrayLike, height: ArrayLike
) -> Array:
    r"""Normalized leakage of ASHRAE 119.

    .. math:: NL = 1000 \frac{ELA}{A_f} \left(\frac{H}{2.5}\right)^{0.3}

    Parameters
    ----------
    leakage_area, floor_area : array_like
        [m²]
    height : array_like
        Height of the house :math:`H`, more than 0. [m]

    Returns
    -------
    ndarray
        [-]

    References
    ----------
    .. [1] ASHRAE Standard 119 (from memory).
    """
    ratio = specific_leakage_area(leakage_area=leakage_area, floor_area=floor_area)
    return np.asarray(1000.0 * ratio * (_height(height) / STOREY_HEIGHT) ** 0.3)


def normalized_leakage_62_2(
    *, leakage_area: ArrayLike, floor_area: ArrayLike, height: ArrayLike
) -> Array:
    r"""Normalized leakage of ASHRAE 62.2-2013 and later.

    .. math:: NL = 1000 \frac{ELA}{A_f} \left(\frac{H}{8.2\,\mathrm{ft}}\right)^{0.4}

    Parameters
    ----------
    leakage_area, floor_area : array_like
        [m²]
    height : array_like
        Height of the house :math:`H`, more than 0. [m]

    Returns
    -------
    ndarray
        [-]

    References
    ----------
    .. [1] ASHRAE Standard 62.2-2013 (from memory).
    """
    ratio = specific_leakage_area(leakage_area=leakage_area, floor_area=floor_area)
    return np.asarray(1000.0 * ratio * (_height(height) / STOREY_HEIGHT_62_2) ** 0.4)


def _height(height: ArrayLike) -> Array:
    return above("Height", height, low=0, unit="m")
