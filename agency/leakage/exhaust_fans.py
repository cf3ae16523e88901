"""Flow of exhaust fans from an orifice box or a powered hood, and how long they must run."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from agency.leakage.errors import OutOfRange
from agency.leakage.fan_flow import meter_density_factor
from agency.leakage.line import Mask
from agency.leakage.ranges import Array, above, within
from agency.leakage.refusals import at_least, finite
from agency.leakage.zones import ORIFICE_EXPONENT, opening_coefficient

MINUTES_PER_HOUR = 60.0


def orifice_flow(
    *, area: ArrayLike, pressure: ArrayLike, discharge: ArrayLike, density: ArrayLike
) -> Array:
    r"""Flow through an opening with sharp edges.

    .. math:: Q = C_d A \sqrt{2 |\Delta p| / \rho}

    Parameters
    ----------
    area : array_like
        Area of the hole :math:`A`, more than 0, shape (...). [m²]
    pressure : array_like
        Pressure across it :math:`\Delta p`; its sign is the direction of flow and is left out,
        shape (...). [Pa]
    discharge : array_like
        Discharge coefficient :math:`C_d`, above 0 to 1. [-]
    density : array_like
        Density of the air in the hole :math:`\rho`. [kg/m³]

    Returns
    -------
    ndarray
        Shape (...). [m³/s]

    Notes
    -----
    The same pressure at a lower density is more flow.

    References
    ----------
    .. [1] Bernoulli's equation with contraction, `zones.opening_coefficient` (derived).
    """
    drop = np.abs(finite("Pressure across the hole", pressure, unit="Pa"))
    size = opening_coefficient(area=area, discharge=discharge, density=density)
    return np.asarray(size * drop**ORIFICE_EXPONENT)


def box_flow(
    *,
    area: ArrayLike,
    pressure: ArrayLike,
    discharge: ArrayLike,
    density: ArrayLike,
    lowest_pressure: float,
    highest_pressure: float,
) -> Array:
    """Flow of an exhaust fan whose grille is covered by a box with a hole of known area.

    Parameters
    ----------
    area, discharge, density : array_like
        As for `orifice_flow`.
    pressure : array_like
        Box less room, signed: below 0 on an exhaust, shape (...). [Pa]
    lowest_pressure, highest_pressure : float
        Size of the pressure the rule book allows: below it the gauge decides, above it the box
        chokes the fan. [Pa]

    Returns
    -------
    ndarray
        Shape (...). [m³/s]

    Raises
    ------
    OutOfRange
        A pressure of a supply, or out of range: choose another hole.

    References
    ----------
    .. [1] Orifice box (common practice, no source); flow as `orifice_flow`.
    """
    drop = within(
        "Room less box pressure",
        -finite("Box less room pressure", pressure, unit="Pa"),
        low=lowest_pressure,
        high=highest_pressure,
        unit="Pa",
    )
    return orifice_flow(area=area, pressure=drop, discharge=discharge, density=density)


def box_flow_uncertainty(
    *, pressure: ArrayLike, u_pressure: ArrayLike, u_area: ArrayLike, u_discharge: ArrayLike
) -> Array:
    r"""Relative standard uncertainty of `box_flow`.

    .. math:: u^2 = u_A^2 + u_{C_d}^2 + \left(\frac{u_p}{2 \Delta p}\right)^2

    Parameters
    ----------
    pressure, u_pressure : array_like
        Pressure across the hole, not 0, and its standard uncertainty. [Pa]
    u_area, u_discharge : array_like
        Relative standard uncertainties of area and discharge coefficient. [-]

    Returns
    -------
    ndarray
        [-]

    References
    ----------
    .. [1] JCGM 100:2008, 5.1.2 (from memory); derived.
    """
    size = np.abs(finite("Pressure across the hole", pressure, unit="Pa"))
    drop = above("Size of the pressure across the hole", size, low=0, unit="Pa")
    by_pressure = at_least("u(pressure)", u_pressure, low=0, unit="Pa") / (2.0 * drop)
    by_area = at_least("u(area)", u_area, low=0, unit="")
    by_discharge = at_least("u(discharge coefficient)", u_discharge, low=0, unit="")
    return np.asarray(np.sqrt(by_pressure**2 + by_area**2 + by_discharge**2))


def powered_hood_flow(
    *,
    flow: ArrayLike,
    residual_pressure: ArrayLike,
    balanced_within: float,
    calibration_density: ArrayLike,
    density: ArrayLike,
) -> Array:
    """Flow of a grille under a hood whose own fan takes the pressure in the hood to nothing.

    Parameters
    ----------
    flow : array_like
        As the certificate's air density has it, not negative, shape (...). [m³/s]
    residual_pressure : array_like
        Hood less room when the flow was read, shape (...). [Pa]
    balanced_within : float
        Size of that pressure up to which the hood counts as balanced. [Pa]
    calibration_density, density : array_like
        Air density of the certificate and of the air in the hood. [kg/m³]

    Returns
    -------
    ndarray
        Shape (...). [m³/s]

    Raises
    ------
    OutOfRange
        The hood was not balanced.

    References
    ----------
    .. [1] Hood balanced by its own fan (common practice, no source); density as
       `fan_flow.meter_density_factor`.
    """
    within(
        "Hood less room pressure",
        residual_pressure,
        low=-balanced_within,
        high=balanced_within,
        unit="Pa",
    )
    factor = meter_density_factor(calibration_density=calibration_density, fan_density=density)
    return np.asarray(at_least("Flow", flow, low=0, unit="m³/s") * factor)


@dataclass(frozen=True, slots=True, kw_only=True)
class RunTime:
    """How long a fan must run in each hour, an entry a fan, shape (...)."""

    minutes: Array
    """Never cut at 60; infinite for a fan that moves nothing. [min/h]"""
    is_large_enough: Mask
    """An hour suffices."""


def minutes_per_hour(*, required: ArrayLike, installed: ArrayLike) -> RunTime:
    r"""Minutes an hour a fan must run for the mean of its flow to be the flow required.

    .. math:: t = 60\,Q_{req} / Q_{fan}

    Parameters
    ----------
    required : array_like
        Continuous flow required, not negative, shape (...). [m³/s]
    installed : array_like
        Measured flow of the fan, not negative, shape (...). [m³/s]

    Returns
    -------
    RunTime
        Shape (...).

    References
    ----------
    .. [1] Mean over the cycle, effectiveness 1: ASHRAE 62.2-2013 and later (from memory).
    """
    need = at_least("Required flow", required, low=0, unit="m³/s")
    fan = at_least("Installed flow", installed, low=0, unit="m³/s")
    need, fan = np.broadcast_arrays(need, fan)
    with np.errstate(divide="ignore", invalid="ignore"):
        minutes = np.asarray(np.where(need > 0, MINUTES_PER_HOUR * need / fan, 0.0))
    return RunTime(minutes=minutes, is_large_enough=np.asarray(need <= fan))


def intermittent_flow(
    *, required: ArrayLike, on_time: ArrayLike, cycle: ArrayLike, effectiveness: ArrayLike,
    longest_cycle: float,
) -> Array:  # fmt: skip
    r"""Flow a fan must have that runs for part of each cycle.

    .. math:: Q_{on} = \frac{Q_{req}}{\epsilon} \frac{T_{cycle}}{T_{on}}

    Parameters
    ----------
    required : array_like
        Continuous flow required :math:`Q_{req}`, not negative, shape (...). [m³/s]
    on_time, cycle : array_like
        Time on and time of the whole cycle, in the same unit, above 0. [h]
    effectiveness : array_like
        :math:`\epsilon` of the edition, above 0 to 1. [-]
    longest_cycle : float
        Longest cycle for which the edition lets this be used. [h]

    Returns
    -------
    ndarray
        Shape (...). [m³/s]

    Raises
    ------
    OutOfRange
        On for longer than the cycle, or a cycle too long.

    References
    ----------
    .. [1] ASHRAE 62.2-2010 and 62.2-2013, intermittent operation (from memory).
    """
    whole = above("Cycle", cycle, low=0, unit="h")
    whole = within("Cycle", whole, low=0, high=longest_cycle, unit="h")
    on = above("Time on", on_time, low=0, unit="h")
    if np.any(on > whole):
        raise OutOfRange(
            quantity="Time on",
            value=float(np.max(on)),
            unit="h",
            limit="at most the cycle",
            next_step="Check the setting of the timer.",
        )
    share = above("Effectiveness", effectiveness, low=0, unit="")
    share = within("Effectiveness", share, low=0, high=1, unit="")
    return np.asarray(
        at_least("Required flow", required, low=0, unit="m³/s") * whole / (share * on)
    )
