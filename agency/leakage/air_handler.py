"""Air-handler flow three ways, external static pressure, flow per ton, and balance of rooms.

The flow of a plate in the filter slot or of a fan at the return comes from `fan_flow`; here it is
brought to the operating condition.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from agency.leakage.errors import NotPositive
from agency.leakage.leakage_area import opening_area
from agency.leakage.line import Mask
from agency.leakage.ranges import Array, above, within
from agency.leakage.refusals import at_least, finite, single
from agency.leakage.scaling import ORIFICE_EXPONENT
from agency.leakage.units import CUBIC_METRE_PER_SECOND_PER_CFM, WATT_PER_TON

SPECIFIC_HEAT = 1004.832
"""Of air at constant pressure, 0.24 Btu/(lb degF). [J/(kg K)]  Common practice, no source; dry air
at 20 degC has 1006."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OperatingFlow:
    """Air-handler flow at its normal supply pressure, an entry a reading, shape (...)."""

    flow: Array
    """[m³/s]"""
    factor: Array
    """What the flow as read was multiplied by. [-]"""
    is_matched: Mask
    """The normal supply pressure was met; otherwise the flow is extrapolated."""


def operating_flow(
    *,
    flow: ArrayLike,
    normal_pressure: ArrayLike,
    pressure_with_device: ArrayLike,
    matched_within: float,
    lowest_ratio: float,
    highest_ratio: float,
) -> OperatingFlow:
    r"""Flow without the device, from the flow with it and the supply pressures of both.

    .. math:: Q = Q_d \sqrt{p_{normal} / p_d}

    For a plate in the filter slot, and for a fan at the return that does not reach the normal
    supply pressure.

    Parameters
    ----------
    flow : array_like
        Flow :math:`Q_d` with the device in place, density corrected, shape (...). [m³/s]
    normal_pressure, pressure_with_device : array_like
        Supply plenum less house, without and with the device, more than 0, shape (...). [Pa]
    matched_within : float
        Difference up to which the normal pressure counts as met. [Pa]
    lowest_ratio, highest_ratio : float
        Range of :math:`p_{normal} / p_d` the rule book allows. [-]

    Returns
    -------
    OperatingFlow
        Shape (...).

    Raises
    ------
    LeakageError
        A pressure that is not positive, or a ratio out of range.

    References
    ----------
    .. [1] Duct system taken as quadratic (derived); pressure matching as ASHRAE 152 and
       ANSI/RESNET/ACCA 310 (from memory).
    """
    normal = above("Normal supply pressure", normal_pressure, low=0, unit="Pa")
    reached = above("Supply pressure with the device", pressure_with_device, low=0, unit="Pa")
    ratio = within(
        "Ratio of supply pressures, normal over with the device",
        normal / reached,
        low=lowest_ratio,
        high=highest_ratio,
        unit="",
    )
    factor = np.asarray(ratio**ORIFICE_EXPONENT)
    return OperatingFlow(
        flow=np.asarray(above("Flow", flow, low=0, unit="m³/s") * factor),
        factor=factor,
        is_matched=np.asarray(np.abs(normal - reached) <= matched_within),
    )


def operating_flow_uncertainty(
    *,
    u_flow: ArrayLike,
    normal_pressure: ArrayLike,
    pressure_with_device: ArrayLike,
    u_normal: ArrayLike,
    u_with_device: ArrayLike,
) -> Array:
    r"""Relative standard uncertainty of `operating_flow`.

    .. math:: u^2 = u_Q^2 + (u_n / 2 p_{normal})^2 + (u_d / 2 p_d)^2

    Parameters
    ----------
    u_flow : array_like
        Relative standard uncertainty :math:`u_Q` of the flow with the device. [-]
    normal_pressure, pressure_with_device : array_like
        As for `operating_flow`. [Pa]
    u_normal, u_with_device : array_like
        Their standard uncertainties :math:`u_n, u_d`, independent. [Pa]

    Returns
    -------
    ndarray
        [-]

    References
    ----------
    .. [1] JCGM 100:2008, 5.1.2 (from memory); derived.
    """
    normal = above("Normal supply pressure", normal_pressure, low=0, unit="Pa")
    reached = above("Supply pressure with the device", pressure_with_device, low=0, unit="Pa")
    by_normal = at_least("u(normal pressure)", u_normal, low=0, unit="Pa") / normal
    by_reached = at_least("u(pressure with the device)", u_with_device, low=0, unit="Pa") / reached
    by_pressure = ORIFICE_EXPONENT * np.hypot(by_normal, by_reached)
    return np.asarray(np.hypot(at_least("u(flow)", u_flow, low=0, unit=""), by_pressure))


def temperature_rise_flow(
    *, heat_output: ArrayLike, temperature_rise: ArrayLike, density: ArrayLike
) -> Array:
    r"""Air flow from the heat given to it and its rise in temperature.

    .. math:: Q = \frac{\Phi}{\rho\,c_p\,\Delta T}

    Parameters
    ----------
    heat_output : array_like
        Heat to the air :math:`\Phi`: the electric power, or `burner_output`; more than 0. [W]
    temperature_rise : array_like
        Supply less return :math:`\Delta T`, more than 0. [K]
    density : array_like
        Density :math:`\rho` of the air whose volume is wanted. [kg/m³]

    Returns
    -------
    ndarray
        [m³/s]

    Notes
    -----
    The familiar 1.08 Btu/(h cfm degF) is 0.075 lb/ft³ x 0.24 x 60: air of 1.2014 kg/m³, not of
    1.2041. Sensors in sight of the heater read too high, and the flow comes out too low.

    References
    ----------
    .. [1] Conservation of energy (derived).
    """
    heat = above("Heat output", heat_output, low=0, unit="W")
    rise = above("Temperature rise", temperature_rise, low=0, unit="K")
    rho = above("Air density", density, low=0, unit="kg/m³")
    return np.asarray(heat / (rho * SPECIFIC_HEAT * rise))


def temperature_rise_uncertainty(
    *, temperature_rise: ArrayLike, u_temperature: ArrayLike, u_heat_output: ArrayLike
) -> Array:
    r"""Relative standard uncertainty of `temperature_rise_flow`.

    .. math:: u^2 = u_\Phi^2 + 2 (u_T / \Delta T)^2

    Parameters
    ----------
    temperature_rise : array_like
        [K]
    u_temperature : array_like
        Standard uncertainty of either temperature, independent of the other's. [K]
    u_heat_output : array_like
        Relative standard uncertainty of the heat output. [-]

    Returns
    -------
    ndarray
        [-]

    References
    ----------
    .. [1] JCGM 100:2008, 5.1.2 (from memory); derived.
    """
    rise = above("Temperature rise", temperature_rise, low=0, unit="K")
    by_rise = np.sqrt(2) * at_least("u(temperature)", u_temperature, low=0, unit="K") / rise
    return np.asarray(np.hypot(at_least("u(heat output)", u_heat_output, low=0, unit=""), by_rise))


def burner_output(*, heat_input: ArrayLike, efficiency: ArrayLike) -> Array:
    """Heat a burner gives to the air: output, not the input on the nameplate.

    Parameters
    ----------
    heat_input : array_like
        Fuel rate times heat content, best clocked at the meter; more than 0. [W]
    efficiency : array_like
        Steady-state efficiency, above 0 to 1. [-]

    Returns
    -------
    ndarray
        [W]
    """
    share = above("Efficiency", efficiency, low=0, unit="")
    share = within("Efficiency", share, low=0, high=1, unit="")
    return np.asarray(above("Heat input", heat_input, low=0, unit="W") * share)


def flow_cfm_per_ton(*, flow: ArrayLike, capacity: ArrayLike) -> Array:
    """Air-handler flow per ton of cooling, in the unit the trade states it.

    Parameters
    ----------
    flow : array_like
        Not negative. [m³/s]
    capacity : array_like
        Cooling capacity, more than 0. [W]

    Returns
    -------
    ndarray
        [cfm/ton]
    """
    tons = above("Cooling capacity", capacity, low=0, unit="W") / WATT_PER_TON
    cfm = at_least("Flow", flow, low=0, unit="m³/s") / CUBIC_METRE_PER_SECOND_PER_CFM
    return np.asarray(cfm / tons)


def external_static_pressure(
    *, supply: float, return_: float, outside_parts: Sequence[float] = ()
) -> float:
    r"""Pressure the air handler works against outside its cabinet.

    .. math:: p_{ext} = p_{supply} - p_{return} + \sum_k \Delta p_k

    Parameters
    ----------
    supply, return_ : float
        Plenums less house, signed: supply usually above 0, return below. [Pa]
    outside_parts : sequence of float
        Drops of parts outside the cabinet that lie between the two readings, a coil on top of a
        furnace for one; none unless the readings were taken beyond such a part. [Pa]

    Returns
    -------
    float
        [Pa]

    Raises
    ------
    NotPositive
        The supply is not above the return: hoses swapped, or the air handler off.

    References
    ----------
    .. [1] Sum of the pressure drops round the circuit (derived); parts outside the cabinet count
       as external (common practice, no source).
    """
    between = single("Supply pressure", supply, unit="Pa") - single(
        "Return pressure", return_, unit="Pa"
    )
    if between <= 0:
        raise NotPositive(
            quantity="Supply less return pressure",
            value=between,
            unit="Pa",
            limit="more than 0",
            next_step="Check that the hoses are not swapped and the air handler runs.",
        )
    drops = at_least("Drop of an outside part", list(outside_parts), low=0, unit="Pa")
    return between + float(np.sum(drops))


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomLimit:
    """How far a closed room may be from the main body of the house, from the rule book."""

    limit: float
    """[Pa]"""
    wide_limit: float | None
    """For rooms with much air; None where the rule has one limit. [Pa]"""
    wide_from: float | None
    """Design supply flow from which the wide limit holds. [m³/s]"""


def room_limit(rule: RoomLimit, *, design_flow: float | None) -> float:
    """Limit for one room; without a design flow, the strict one.

    Parameters
    ----------
    rule : RoomLimit
    design_flow : float or None
        Design supply flow of the room; None where not known. [m³/s]

    Returns
    -------
    float
        For the size of the pressure difference. [Pa]
    """
    if rule.wide_limit is None or rule.wide_from is None or design_flow is None:
        return rule.limit
    return rule.wide_limit if design_flow >= rule.wide_from else rule.limit


def transfer_area(
    *, flow: ArrayLike, pressure: ArrayLike, discharge: ArrayLike, density: ArrayLike
) -> Array:
    r"""Opening a closed room needs to let its supply air back at a pressure.

    .. math:: A = \frac{Q}{C_d \sqrt{2 \Delta p / \rho}}

    Parameters
    ----------
    flow : array_like
        Supply less return flow of the room, not negative, shape (...). [m³/s]
    pressure : array_like
        Pressure :math:`\Delta p` allowed, without a sign, more than 0, shape (...). [Pa]
    discharge, density : array_like
        Discharge coefficient :math:`C_d` and air density :math:`\rho`. [-], [kg/m³]

    Returns
    -------
    ndarray
        Clear area, the undercut of the door included, shape (...). [m²]

    References
    ----------
    .. [1] Orifice equation (derived).
    """
    passed = at_least("Flow", flow, low=0, unit="m³/s")
    across = above("Pressure allowed", pressure, low=0, unit="Pa")
    contraction = above("Discharge coefficient", discharge, low=0, unit="")
    rho = above("Air density", density, low=0, unit="kg/m³")
    # The drop for a unit area, so that every argument may be an array.
    per_area = opening_area(flow=1.0, pressure=1.0, discharge=1.0, density=1.0)
    return np.asarray(passed * per_area / (contraction * np.sqrt(across / rho)))


def added_transfer_area(
    *, open_area: ArrayLike, measured_pressure: ArrayLike, limit: ArrayLike
) -> Array:
    r"""Area to add to the known opening of a room for its pressure to fall to a limit.

    .. math:: A_+ = A \left(\sqrt{|\Delta p| / \Delta p_{lim}} - 1\right)

    Parameters
    ----------
    open_area : array_like
        Opening :math:`A` through which the air returns now, undercut included. [m²]
    measured_pressure : array_like
        Room less main body, signed. [Pa]
    limit : array_like
        Wanted size of the difference, more than 0. [Pa]

    Returns
    -------
    ndarray
        Negative where the room is within the limit already, by as much as could be closed. [m²]

    Notes
    -----
    The supply flow is taken not to change. Leaks of the room to elsewhere are left out, so the
    area errs large.

    References
    ----------
    .. [1] Orifice equation at two pressures (derived).
    """
    area = above("Open area", open_area, low=0, unit="m²")
    size = np.abs(finite("Room pressure", measured_pressure, unit="Pa"))
    return np.asarray(area * (np.sqrt(size / above("Limit", limit, low=0, unit="Pa")) - 1.0))
