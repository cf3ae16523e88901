"""Duct leakage: total and to outside, pressure pans, and normalisation.

Pressures carry their sign (input side less reference side) until they enter a formula. What a
test must keep to comes in as a rule; no limit stands here.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from agency.leakage.errors import OutOfRange
from agency.leakage.line import Mask
from agency.leakage.ranges import Array, above, within
from agency.leakage.refusals import at_least, finite, single
from agency.leakage.scaling import (
    flow_at_other_pressure,
    leak_exponent,
    other_pressure_uncertainty,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class DuctTestRule:
    """What the rule book says of a duct leakage test."""

    reference_pressure: float
    """Pressure the result is stated at. [Pa]"""
    lowest_pressure: float
    """Lowest pressure from which the result may be extrapolated. [Pa]"""
    reached_within: float
    """How far below the reference still counts as reached. [Pa]"""
    equal_within: float
    """How far apart two spaces may be that should be at one pressure. [Pa]"""
    exponent: float
    u_exponent: float
    """Standard uncertainty of the assumed exponent. [-]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class DuctLeakage:
    """Duct leakage at the reference pressure, an entry a test, shape (...)."""

    flow: Array
    """[m³/s]"""
    u_flow: Array
    """Relative standard uncertainty, k = 1. [-]"""
    pressure: Array
    """Across the leaks as read, without a sign. [Pa]"""
    is_extrapolated: Mask
    """The reference pressure was not reached."""
    is_balanced: Mask
    """The two spaces that should be equal are; if not, repeat the test."""


def total_leakage(
    *,
    flow: ArrayLike,
    u_flow: ArrayLike,
    duct_to_house: ArrayLike,
    house_pressure: ArrayLike,
    u_pressure: ArrayLike,
    rule: DuctTestRule,
) -> DuctLeakage:
    """Leakage of the ducts to everywhere: the house open to outside, the fan on the ducts.

    Parameters
    ----------
    flow, u_flow : array_like
        Flow of the duct fan, density corrected, and its relative standard uncertainty, shape
        (...). [m³/s], [-]
    duct_to_house : array_like
        Duct less house, signed, shape (...). [Pa]
    house_pressure : array_like
        House less outside, signed; near 0 when the house is open, shape (...). [Pa]
    u_pressure : array_like
        Standard uncertainty of the duct pressure. [Pa]
    rule : DuctTestRule

    Returns
    -------
    DuctLeakage
        Shape (...).

    Raises
    ------
    OutOfRange
        The ducts stayed below the pressure from which the rule lets one extrapolate.

    References
    ----------
    .. [1] ANSI/RESNET/ICC 380 and ASTM E1554, total leakage (from memory).
    """
    across = finite("Duct pressure", duct_to_house, unit="Pa")
    apart = finite("House pressure", house_pressure, unit="Pa")
    return _at_reference(
        flow=flow, u_flow=u_flow, across=across, apart=apart, u_pressure=u_pressure, rule=rule
    )


def outside_leakage(
    *,
    flow: ArrayLike,
    u_flow: ArrayLike,
    duct_to_house: ArrayLike,
    house_pressure: ArrayLike,
    u_pressure: ArrayLike,
    rule: DuctTestRule,
) -> DuctLeakage:
    """Leakage of the ducts to outside: a second fan holds the house where the ducts are.

    Parameters
    ----------
    flow, u_flow, u_pressure, rule
        As for `total_leakage`; the uncertainty is that of the duct less outside.
    duct_to_house : array_like
        Duct less house, signed; 0 when the two are equal, shape (...). [Pa]
    house_pressure : array_like
        House less outside, signed, shape (...). [Pa]

    Returns
    -------
    DuctLeakage
        Shape (...).

    Raises
    ------
    OutOfRange
        As `total_leakage`.

    Notes
    -----
    Where duct and house differ, leaks between the two bias the flow: see
    `unequal_pressure_bias`. An attic or crawl space that is not near outside pressure makes the
    reading too low.

    References
    ----------
    .. [1] ANSI/RESNET/ICC 380 and ASTM E1554, leakage to outside (from memory).
    """
    apart = finite("Duct less house", duct_to_house, unit="Pa")
    across = apart + finite("House pressure", house_pressure, unit="Pa")
    return _at_reference(
        flow=flow, u_flow=u_flow, across=across, apart=apart, u_pressure=u_pressure, rule=rule
    )


def _at_reference(
    *,
    flow: ArrayLike,
    u_flow: ArrayLike,
    across: Array,
    apart: Array,
    u_pressure: ArrayLike,
    rule: DuctTestRule,
) -> DuctLeakage:
    pressure = at_least("Duct pressure", np.abs(across), low=rule.lowest_pressure, unit="Pa")
    target, exponent = rule.reference_pressure, rule.exponent
    return DuctLeakage(
        flow=flow_at_other_pressure(flow=flow, pressure=pressure, target=target, exponent=exponent),
        u_flow=other_pressure_uncertainty(
            u_flow=u_flow,
            pressure=pressure,
            u_pressure=u_pressure,
            target=target,
            exponent=exponent,
            u_exponent=rule.u_exponent,
        ),
        pressure=pressure,
        is_extrapolated=np.asarray(pressure < target - rule.reached_within),
        is_balanced=np.asarray(np.abs(apart) <= rule.equal_within),
    )


def unequal_pressure_bias(
    *, total: ArrayLike, outside: ArrayLike, duct_to_house: ArrayLike, rule: DuctTestRule
) -> Array:
    r"""Flow between duct and house that an outside test counts in where the two are not equal.

    .. math:: q = (Q_{total} - Q_{out}) (|\Delta p| / \Delta p_{ref})^n

    Parameters
    ----------
    total, outside : array_like
        Total leakage and leakage to outside at the reference pressure, shape (...). [m³/s]
    duct_to_house : array_like
        Duct less house in the outside test, shape (...). [Pa]
    rule : DuctTestRule

    Returns
    -------
    ndarray
        Size of the bias, shape (...). [m³/s]

    Raises
    ------
    OutOfRange
        More leakage to outside than in total.

    References
    ----------
    .. [1] Power law through the leaks between duct and house (derived).
    """
    inside = at_least("Total less outside leakage", np.subtract(total, outside), low=0, unit="m³/s")
    apart = np.abs(finite("Duct less house", duct_to_house, unit="Pa"))
    return np.asarray(inside * (apart / rule.reference_pressure) ** leak_exponent(rule.exponent))


def leakage_per_floor_area(*, flow: ArrayLike, floor_area: ArrayLike) -> Array:
    """Duct leakage per conditioned floor area.

    Parameters
    ----------
    flow : array_like
        At the reference pressure, not negative. [m³/s]
    floor_area : array_like
        More than 0. [m²]

    Returns
    -------
    ndarray
        [m³/(s m²)]
    """
    area = above("Floor area", floor_area, low=0, unit="m²")
    return np.asarray(at_least("Duct leakage", flow, low=0, unit="m³/s") / area)


def leakage_share(*, flow: ArrayLike, air_handler_flow: ArrayLike) -> Array:
    """Duct leakage as a share of the air-handler flow.

    Parameters
    ----------
    flow, air_handler_flow : array_like
        Leakage at the reference pressure; air-handler flow, more than 0. [m³/s]

    Returns
    -------
    ndarray
        [-]

    Notes
    -----
    A leakage at the reference pressure over a flow in operation: a way to compare houses, not the
    share of the air that is lost.
    """
    moved = above("Air-handler flow", air_handler_flow, low=0, unit="m³/s")
    return np.asarray(at_least("Duct leakage", flow, low=0, unit="m³/s") / moved)


def allowed_leakage(*, floor_area: ArrayLike, per_area: float, least: float) -> Array:
    """Leakage a rule allows that is stated per floor area with a least figure for small houses.

    Parameters
    ----------
    floor_area : array_like
        More than 0. [m²]
    per_area : float
        [m³/(s m²)]
    least : float
        What every house is allowed; 0 where the rule has none. [m³/s]

    Returns
    -------
    ndarray
        [m³/s]
    """
    return np.maximum(per_area * above("Floor area", floor_area, low=0, unit="m²"), least)


def pan_reading(
    *,
    reading: ArrayLike,
    house_to_zone: ArrayLike,
    reference_pressure: float,
    gauge_error: float,
) -> Array:
    r"""Pressure pan reading as it would be with the reference pressure across the ducts' leaks.

    .. math:: r = -\mathrm{sgn}(\Delta p_z)\, r_0\, \Delta p_{ref} / |\Delta p_z|

    Parameters
    ----------
    reading : array_like
        Duct under the pan less room :math:`r_0`, signed: positive when the house is
        depressurized, shape (...). [Pa]
    house_to_zone : array_like
        House less the space the ducts run through :math:`\Delta p_z`, signed, shape (...). [Pa]
    reference_pressure : float
        [Pa]
    gauge_error : float
        What a reading may lie beyond 0 or beyond the whole drop by error of the gauge. [Pa]

    Returns
    -------
    ndarray
        From 0 (no leak to outside near) to the reference pressure (disconnected); the error of
        the gauge may carry it a little beyond either, shape (...). [Pa]

    Raises
    ------
    OutOfRange
        A reading no duct can have: hoses swapped, or air handler on.

    Notes
    -----
    A ratio of openings, not a flow: a small reading in a large trunk may be the larger leak.

    References
    ----------
    .. [1] Use of pressure pans (common practice, no source); scaling (derived).
    """
    drop = finite("House less zone", house_to_zone, unit="Pa")
    size = above("Size of house less zone", np.abs(drop), low=0, unit="Pa")
    toward = -np.sign(drop) * finite("Pan reading", reading, unit="Pa")
    bad = ~((toward >= -gauge_error) & (toward <= size + gauge_error))
    if np.any(bad):
        raise OutOfRange(
            quantity="Pan reading toward the outside",
            value=float(np.broadcast_to(toward, bad.shape)[bad].flat[0]),
            unit="Pa",
            limit="between 0 and the pressure from house to zone, within the gauge's error,",
            next_step="Check that the hoses are not swapped and the air handler is off.",
        )
    return np.asarray(toward * (reference_pressure / size))


def pan_opening_ratio(
    *, reading: ArrayLike, reference_pressure: float, exponent: ArrayLike
) -> Array:
    r"""Opening from duct to outside over that from duct to room, from a scaled pan reading.

    .. math:: C_{out} / C_{room} = (r / (\Delta p_{ref} - r))^n

    Parameters
    ----------
    reading : array_like
        Scaled reading :math:`r`, 0 to the reference pressure, shape (...). [Pa]
    reference_pressure : float
        :math:`\Delta p_{ref}`. [Pa]
    exponent : array_like
        Of both openings. [-]

    Returns
    -------
    ndarray
        Infinite at the reference pressure, where the duct is disconnected, shape (...). [-]

    References
    ----------
    .. [1] One flow through two openings in series (derived).
    """
    drop = within("Scaled pan reading", reading, low=0, high=reference_pressure, unit="Pa")
    with np.errstate(divide="ignore"):
        return np.asarray((drop / (reference_pressure - drop)) ** leak_exponent(exponent))


@dataclass(frozen=True, slots=True, kw_only=True)
class PanSummary:
    """The pan readings of one duct system. None means that it cannot be told."""

    registers: int
    not_measured: tuple[int, ...]
    """Places in the list that hold no reading, from 0."""
    over: tuple[int, ...]
    """Places whose reading is above the limit, from 0."""
    highest: float | None
    """Of the readings there are. [Pa]"""
    total: float | None
    """Only where every register was read. [Pa]"""


def summarize_pans(readings: Sequence[float | None], *, limit: float) -> PanSummary:
    """Which registers are above the limit and which were not read.

    Parameters
    ----------
    readings : sequence of float or None
        Scaled readings, a register each; None where it was not read. [Pa]
    limit : float
        Highest reading a register may have. [Pa]
    """
    numbers = [
        None if r is None else single(f"Pan reading {i + 1}", r, unit="Pa")
        for i, r in enumerate(readings)
    ]
    read = [r for r in numbers if r is not None]
    return PanSummary(
        registers=len(numbers),
        not_measured=tuple(i for i, r in enumerate(numbers) if r is None),
        over=tuple(i for i, r in enumerate(numbers) if r is not None and r > limit),
        highest=max(read, default=None),
        total=sum(read) if read and len(read) == len(numbers) else None,
    )
