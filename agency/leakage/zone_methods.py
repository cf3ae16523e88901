"""Leakage of both boundaries of a zone from two states: a hole added, or one boundary opened.

Shapes (...) throughout; exponents broadcast, so that a band is one more axis. An entry that cannot
be worked out holds NaN and an `Outcome` that says why.
"""

import numpy as np
from numpy.typing import ArrayLike

from agency.leakage.ranges import Array, above
from agency.leakage.zone_balance import Balance, Complex, Repeats, ZoneLeakage, estimate_zone
from agency.leakage.zones import Boundary, ZoneReading, opening_coefficient


def open_door(
    *,
    before: ZoneReading,
    after: ZoneReading,
    flow_before: ArrayLike,
    flow_after: ArrayLike,
    u_flow: ArrayLike,
    exponent: ArrayLike,
    reference: float,
    repeats: Repeats | None = None,
) -> ZoneLeakage:
    r"""Both boundaries from the fan flow with the door to the zone shut and open.

    .. math::
        C_{ZO} = \frac{Q_2 - s Q_1}{z_2^n - s z_1^n},\quad
        C_{HZ} = C_{ZO} \left(\frac{z_1}{h_1}\right)^n,\quad
        s = \left(\frac{P_2}{P_1}\right)^n

    Parameters
    ----------
    before, after : ZoneReading
        Door shut and open; the envelope pressures need not be equal.
    flow_before, flow_after : array_like
        Fan flow :math:`Q_1, Q_2` at those pressures. [m³/s]
    u_flow : array_like
        Relative repeatability, not accuracy, of a flow: an error common to both cancels. [-]
    exponent : array_like
        Exponent :math:`n` of all leaks, 0.5 to 1. [-]
    reference : float
        Pressure the figures are given at. [Pa]
    repeats : Repeats, optional
        Left out, all errors are independent.

    Returns
    -------
    ZoneLeakage
        The size of the door is not needed, nor that it lets the pressures become equal.

    References
    ----------
    .. [1] Mass balances of house and zone in both states (derived).
    """
    return _from_flows(
        opened=Boundary.HOUSE_ZONE,
        states=(before, after),
        flows=(flow_before, flow_after),
        u_flow=u_flow,
        exponent=exponent,
        reference=reference,
        repeats=repeats,
    )


def vent_outside(
    *,
    before: ZoneReading,
    after: ZoneReading,
    flow_before: ArrayLike,
    flow_after: ArrayLike,
    u_flow: ArrayLike,
    exponent: ArrayLike,
    reference: float,
    repeats: Repeats | None = None,
) -> ZoneLeakage:
    r"""Both boundaries from the fan flow with the zone shut and opened to outside.

    .. math::
        C_{HZ} = \frac{Q_2 - s Q_1}{h_2^n - s h_1^n},\quad
        C_{ZO} = C_{HZ} \left(\frac{h_1}{z_1}\right)^n

    Parameters and result as of `open_door`, which see. Of the two, the one that changes the flow
    more is the better.

    References
    ----------
    .. [1] Mass balances of house and zone in both states (derived).
    """
    return _from_flows(
        opened=Boundary.ZONE_OUTSIDE,
        states=(before, after),
        flows=(flow_before, flow_after),
        u_flow=u_flow,
        exponent=exponent,
        reference=reference,
        repeats=repeats,
    )


def add_hole(
    *,
    boundary: Boundary,
    before: ZoneReading,
    after: ZoneReading,
    area: ArrayLike,
    u_area: ArrayLike,
    discharge: ArrayLike,
    u_discharge: ArrayLike,
    density: float,
    exponent: ArrayLike,
    reference: float,
    repeats: Repeats | None = None,
) -> ZoneLeakage:
    r"""Both boundaries from what a hole of known size in one of them does to the zone.

    With a the drop across the boundary that gets the hole, b across the other:

    .. math::
        C_a = \frac{C_d A \sqrt{2 a_2 / \rho}}{(a_1 b_2 / b_1)^n - a_2^n},\quad
        C_b = C_a \left(\frac{a_1}{b_1}\right)^n

    Parameters
    ----------
    boundary : Boundary
        The one that gets the hole.
    before, after : ZoneReading
        Without and with the hole. Drops are those measured, so that the envelope pressures may
        differ although the hole does not follow the leaks' exponent.
    area, discharge : array_like
        Measured area :math:`A` and discharge coefficient :math:`C_d`, above 0, at most 1. [m²], [-]
    u_area, u_discharge : array_like
        Relative standard uncertainties. [-]
    density : float
        Density of the air in the hole. [kg/m³]
    exponent, reference, repeats
        As of `open_door`.

    Returns
    -------
    ZoneLeakage
        `direct` is NaN: no fan flow is used.

    References
    ----------
    .. [1] Mass balance of the zone in both states; Bernoulli's equation (derived).
    """
    opening_coefficient(area=area, discharge=discharge, density=density)
    root = float(opening_coefficient(area=1.0, discharge=1.0, density=density))

    def kernel(one: Complex, two: Complex, size: Complex, n: Array) -> Balance:
        signal = root * size[0] * size[1] * np.sqrt(two[2])
        change = (one[2] * two[1] / one[1]) ** n - two[2] ** n
        opened = signal / change
        return opened * (one[2] / one[1]) ** n, opened, signal, change

    return estimate_zone(
        kernel,
        opened=boundary,
        states=(before, after),
        sizes=(np.asarray(area, float), np.asarray(discharge, float)),
        u_sizes=(u_area, u_discharge),
        exponent=exponent,
        reference=reference,
        repeats=repeats,
        total=None,
    )


def _from_flows(
    *,
    opened: Boundary,
    states: tuple[ZoneReading, ZoneReading],
    flows: tuple[ArrayLike, ArrayLike],
    u_flow: ArrayLike,
    exponent: ArrayLike,
    reference: float,
    repeats: Repeats | None,
) -> ZoneLeakage:
    first = above("Fan flow before", flows[0], low=0, unit="m³/s")
    second = above("Fan flow after", flows[1], low=0, unit="m³/s")

    def kernel(one: Complex, two: Complex, size: Complex, n: Array) -> Balance:
        scale = (two[0] / one[0]) ** n
        signal = size[1] - scale * size[0]
        change = two[1] ** n - scale * one[1] ** n
        kept = signal / change
        return kept, kept * (one[1] / one[2]) ** n, signal, change

    return estimate_zone(
        kernel,
        opened=opened,
        states=states,
        sizes=(first, second),
        u_sizes=(u_flow, u_flow),
        exponent=exponent,
        reference=reference,
        repeats=repeats,
        total=first,
    )
