"""Moving a flow from the pressure it was read at to another, and what that costs in certainty."""

import math
from collections.abc import Callable, Mapping

import numpy as np
from numpy.typing import ArrayLike

from agency.leakage.ranges import Array, above, within
from agency.leakage.refusals import at_least

ORIFICE_EXPONENT = 0.5
"""[-]  Turbulent flow through an opening, the least a leak can have; Bernoulli, derived."""
LAMINAR_EXPONENT = 1.0
"""[-]  Laminar flow through a crack, the most a leak can have; Poiseuille, derived."""


def leak_exponent(exponent: ArrayLike) -> Array:
    """`exponent`, refused unless it lies between an orifice's and a laminar crack's. [-]"""
    return within("Exponent", exponent, low=ORIFICE_EXPONENT, high=LAMINAR_EXPONENT, unit="")


def flow_at_other_pressure(
    *, flow: ArrayLike, pressure: ArrayLike, target: ArrayLike, exponent: ArrayLike
) -> Array:
    r"""Flow the same leaks would pass at another pressure.

    .. math:: Q_t = Q (\Delta p_t / \Delta p)^n

    Parameters
    ----------
    flow : array_like
        Flow :math:`Q` as read, not negative, shape (...). [m³/s]
    pressure, target : array_like
        Pressure :math:`\Delta p` it was read at and :math:`\Delta p_t` wanted, without a sign,
        more than 0, shape (...). [Pa]
    exponent : array_like
        Exponent :math:`n`, 0.5 to 1, shape (...). [-]

    Returns
    -------
    ndarray
        Shape (...). [m³/s]

    Raises
    ------
    LeakageError
        A negative flow, a pressure that is not positive, an exponent no leak can have.

    References
    ----------
    .. [1] Power law of leakage, ASTM E779-19 (from memory); ratio of two pressures (derived).
    """
    wanted = above("Pressure wanted", target, low=0, unit="Pa")
    ratio = wanted / above("Pressure", pressure, low=0, unit="Pa")
    return np.asarray(at_least("Flow", flow, low=0, unit="m³/s") * ratio ** leak_exponent(exponent))


def other_pressure_uncertainty(
    *,
    u_flow: ArrayLike,
    pressure: ArrayLike,
    u_pressure: ArrayLike,
    target: ArrayLike,
    exponent: ArrayLike,
    u_exponent: ArrayLike,
) -> Array:
    r"""Relative standard uncertainty of `flow_at_other_pressure`.

    .. math::
        u^2 = u_Q^2 + \left(\frac{n\,u_p}{\Delta p}\right)^2
            + \left(u_n \ln\frac{\Delta p_t}{\Delta p}\right)^2

    Parameters
    ----------
    u_flow : array_like
        Relative standard uncertainty :math:`u_Q` of the flow as read. [-]
    pressure, u_pressure, target : array_like
        Pressure read, its standard uncertainty :math:`u_p`, and the pressure wanted. [Pa]
    exponent, u_exponent : array_like
        Exponent :math:`n` and its standard uncertainty :math:`u_n`. [-]

    Returns
    -------
    ndarray
        Shape of the arguments together. [-]

    References
    ----------
    .. [1] JCGM 100:2008, 5.1.2 (from memory), applied to the power law (derived).
    """
    read = above("Pressure", pressure, low=0, unit="Pa")
    wanted = above("Pressure wanted", target, low=0, unit="Pa")
    by_flow = at_least("Uncertainty of the flow", u_flow, low=0, unit="")
    by_pressure = at_least("Uncertainty of the pressure", u_pressure, low=0, unit="Pa") / read
    by_exponent = at_least("Uncertainty of the exponent", u_exponent, low=0, unit="")
    spread = (leak_exponent(exponent) * by_pressure) ** 2 + (
        by_exponent * np.log(wanted / read)
    ) ** 2
    return np.asarray(np.sqrt(by_flow**2 + spread))


def half_differences(
    figure: Callable[[Mapping[str, float]], float],
    *,
    values: Mapping[str, float],
    uncertainties: Mapping[str, float],
) -> float:
    r"""Standard uncertainty of a figure whose inputs are each moved one uncertainty either way.

    .. math:: u^2 = \sum_i \tfrac14 [f(x_i + u_i) - f(x_i - u_i)]^2

    Parameters
    ----------
    figure : callable
        The figure made of the named values.
    values, uncertainties : mapping
        Input values by name, and the standard uncertainties of those that have one; independent.

    Returns
    -------
    float
        In the unit of the figure.

    References
    ----------
    .. [1] JCGM 100:2008, 5.1.3 note 2 (from memory).
    """
    differences = (
        figure({**values, name: values[name] + u}) - figure({**values, name: values[name] - u})
        for name, u in uncertainties.items()
    )
    return math.hypot(*differences) / 2
