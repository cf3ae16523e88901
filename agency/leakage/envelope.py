"""Reference conditions, extrapolation, and the mean of both directions."""

from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike

from agency.leakage.air import (
    REFERENCE_DENSITY,
    REFERENCE_DENSITY_ISO,
    REFERENCE_TEMPERATURE,
    dynamic_viscosity,
)
from agency.leakage.power_law import PowerLaw
from agency.leakage.ranges import Array, above

REPORTED_PRESSURES = (1.0, 4.0, 10.0, 25.0, 50.0, 75.0)
"""Where flows are reported. [Pa]"""


def reference_factor_e779(
    *, exponent: ArrayLike, temperature: ArrayLike, density: ArrayLike
) -> Array:
    r"""What turns a flow coefficient into that of air at 20 degC at sea level, as ASTM E779.

    .. math:: C_0 / C = (\mu / \mu_0)^{2n - 1} (\rho / \rho_0)^{1 - n}

    Parameters
    ----------
    exponent : array_like
        Pressure exponent :math:`n`. [-]
    temperature : array_like
        Temperature of the air in the leaks. [degC]
    density : array_like
        Density :math:`\rho` of the air in the leaks. [kg/m³]

    Returns
    -------
    ndarray
        Factor. [-]

    References
    ----------
    .. [1] Roulet, Ventilation and Airflow in Buildings, eq. 4.15 (read).
    .. [2] ASTM E779-19 (from memory).
    """
    n = np.asarray(exponent, np.float64)
    thickness = dynamic_viscosity(temperature) / dynamic_viscosity(REFERENCE_TEMPERATURE)
    weight = above("Air density", density, low=0, unit="kg/m³") / REFERENCE_DENSITY
    return np.asarray(thickness ** (2 * n - 1) * weight ** (1 - n))


def reference_factor_iso9972(*, exponent: ArrayLike, density: ArrayLike) -> Array:
    r"""What turns a flow coefficient into that of air at 20 degC at sea level, as ISO 9972.

    .. math:: C_L / C_{env} = (\rho / \rho_0)^{1 - n}

    Parameters
    ----------
    exponent : array_like
        Pressure exponent :math:`n`. [-]
    density : array_like
        Density :math:`\rho` of the air in the leaks. [kg/m³]

    Returns
    -------
    ndarray
        Factor. [-]

    Notes
    -----
    Viscosity is left out, so cold-day results differ from ASTM E779 by some per cent; results of
    the two methods are never compared.

    References
    ----------
    .. [1] ISO 9972:2015, 6.3 (from memory).
    """
    n = np.asarray(exponent, np.float64)
    weight = above("Air density", density, low=0, unit="kg/m³") / REFERENCE_DENSITY_ISO
    return np.asarray(weight ** (1 - n))


def at_reference(law: PowerLaw, factor: ArrayLike) -> PowerLaw:
    """The same law for air of the reference state: the coefficient times `factor`.

    Parameters
    ----------
    law : PowerLaw
        Law of the flow at the air of the test, shape (...).
    factor : array_like
        From `reference_factor_e779` or `reference_factor_iso9972`, shape (...). [-]

    Notes
    -----
    The interval keeps its width in ln Q; the factor's own dependence on the exponent is left out,
    as in the standards.
    """
    shift = np.log(above("Reference factor", factor, low=0, unit=""))
    line = replace(law.line, intercept=law.line.intercept + shift)
    return replace(law, line=line)


def extrapolation_uncertainty(
    *, exponent_uncertainty: ArrayLike, measured_pressure: ArrayLike, wanted_pressure: ArrayLike
) -> Array:
    r"""Relative standard uncertainty an uncertain exponent adds away from the measured pressure.

    .. math:: u = u(n) \, |\ln(\Delta p_r / \Delta p)|

    Parameters
    ----------
    exponent_uncertainty : array_like
        Standard uncertainty :math:`u(n)`. [-]
    measured_pressure, wanted_pressure : array_like
        :math:`\Delta p` and :math:`\Delta p_r`, more than 0. [Pa]

    Returns
    -------
    ndarray
        [-]

    References
    ----------
    .. [1] JCGM 100 (GUM), applied to the power law (derived).
    """
    wanted = above("Pressure", wanted_pressure, low=0, unit="Pa")
    ratio = wanted / above("Pressure", measured_pressure, low=0, unit="Pa")
    return np.asarray(np.asarray(exponent_uncertainty) * np.abs(np.log(ratio)))


def mean_of_directions(depressurization: ArrayLike, pressurization: ArrayLike) -> Array:
    """Mean of one result of both directions: a flow at one pressure, or an area.

    Parameters
    ----------
    depressurization, pressurization : array_like
        The same quantity, each from its own fit and its own envelope air.

    Notes
    -----
    Never for coefficients or exponents: the unit of a coefficient depends on its exponent.

    References
    ----------
    .. [1] ISO 9972:2015, 6 and ASHRAE 62.2 (from memory).
    """
    total = np.asarray(depressurization, np.float64) + np.asarray(pressurization, np.float64)
    return np.asarray(total / 2.0)


def mode_difference(depressurization: ArrayLike, pressurization: ArrayLike) -> Array:
    """Difference of the directions against their mean, never negative. [-]

    Parameters
    ----------
    depressurization, pressurization : array_like
        The same quantity, more than 0.

    References
    ----------
    .. [1] Common practice, no source.
    """
    mean = mean_of_directions(depressurization, pressurization)
    difference = np.abs(np.asarray(depressurization, np.float64) - np.asarray(pressurization))
    return np.asarray(difference / above("Mean", mean, low=0, unit=""))
