"""Duct leakage to outside from two readings of the door fan: registers open, registers sealed."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from agency.leakage.errors import OutOfRange
from agency.leakage.ranges import Array, above
from agency.leakage.refusals import at_least, single
from agency.leakage.scaling import half_differences, leak_exponent


@dataclass(frozen=True, slots=True, kw_only=True)
class SubtractionRule:
    """What the rule book says of the subtraction method."""

    reference_pressure: float
    """Pressure the result is stated at. [Pa]"""
    exponent: float
    u_exponent: float
    """Standard uncertainty of the assumed exponent. [-]"""
    highest_ratio: float
    """Highest pressure of the sealed ducts over that of the house. [-]"""
    least_uncertainties: float
    """Standard uncertainties a difference of flows must exceed to count as found. [-]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class SubtractionReadings:
    """Readings of one subtraction test."""

    flow_open: float
    """Door fan with registers open. [m³/s]"""
    flow_sealed: float
    """Door fan with registers sealed, at the same house pressure. [m³/s]"""
    u_flow: float
    """Repeatability of either flow, as a standard uncertainty. [m³/s]"""
    house_pressure: float
    """House less outside, signed. [Pa]"""
    sealed_duct_to_house: float
    """Sealed duct less house, signed: positive when the house is depressurized. [Pa]"""
    u_pressure: float
    """Standard uncertainty of either pressure. [Pa]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class SubtractionLeakage:
    """Duct leakage to outside by subtraction."""

    correction_factor: float
    """[-]"""
    flow_at_house_pressure: float
    """At the pressure of the test. [m³/s]"""
    flow: float
    """At the reference pressure. [m³/s]"""
    u_flow: float
    """Standard uncertainty of `flow`, k = 1. [m³/s]"""
    is_determined: bool
    words: str
    """What the result is worth."""


def subtraction_correction(
    *, sealed_duct_pressure: ArrayLike, house_pressure: ArrayLike, exponent: ArrayLike
) -> Array:
    r"""Factor for the leakage that goes on after the registers are sealed.

    .. math:: SCF = \frac{1}{1 - (p_d / P)^n}

    Parameters
    ----------
    sealed_duct_pressure : array_like
        Sealed duct against outside :math:`p_d`, without a sign, shape (...). [Pa]
    house_pressure : array_like
        House against outside :math:`P`, without a sign, more than `sealed_duct_pressure`. [Pa]
    exponent : array_like
        Exponent :math:`n`. [-]

    Returns
    -------
    ndarray
        1 or more, shape (...). [-]

    Raises
    ------
    OutOfRange
        The sealed ducts are at the house's pressure or beyond.

    Notes
    -----
    Left out, the method always reads too low.

    References
    ----------
    .. [1] Power law at both pressures, Q1 - Q2 = C (P^n - p_d^n) (derived).
    """
    house = above("House pressure", house_pressure, low=0, unit="Pa")
    duct = at_least("Sealed duct pressure", sealed_duct_pressure, low=0, unit="Pa")
    if np.any(duct >= house):
        raise OutOfRange(
            quantity="Sealed duct pressure",
            value=float(np.max(duct)),
            unit="Pa",
            limit="less than the house pressure",
            next_step="Check that the registers are sealed and read duct less house again.",
        )
    return np.asarray(1.0 / (1.0 - (duct / house) ** leak_exponent(exponent)))


def subtraction_leakage(
    readings: SubtractionReadings, *, rule: SubtractionRule
) -> SubtractionLeakage:
    r"""Leakage to outside from the fall of the door fan's flow when the registers are sealed.

    .. math::
        Q_P = (Q_1 - Q_2)\, SCF,\quad Q_{ref} = Q_P (\Delta p_{ref} / P)^n

    Parameters
    ----------
    readings : SubtractionReadings
    rule : SubtractionRule

    Returns
    -------
    SubtractionLeakage
        A difference within the repeatability is given, negative too, and marked as not
        determined; it is never set to 0.

    Raises
    ------
    OutOfRange
        Pressures with the signs of swapped hoses, or ducts not sealed well enough for the rule.

    References
    ----------
    .. [1] Subtraction with correction (common practice, no source; formula derived).
    .. [2] JCGM 100:2008, 5.1.3 note 2, for the uncertainty (from memory).
    """
    house, duct = _pressures(readings, rule)
    factor = float(
        subtraction_correction(
            sealed_duct_pressure=duct, house_pressure=house, exponent=rule.exponent
        )
    )
    values = {
        "difference": single("Open flow", readings.flow_open, unit="m³/s")
        - single("Sealed flow", readings.flow_sealed, unit="m³/s"),
        "house": house,
        "rise": house - duct,
        "exponent": rule.exponent,
    }
    u_difference = np.sqrt(2.0) * readings.u_flow
    figure = _figure(rule.reference_pressure)
    u_flow = half_differences(
        figure,
        values=values,
        uncertainties={
            "difference": float(u_difference),
            "house": readings.u_pressure,
            "rise": readings.u_pressure,
            "exponent": rule.u_exponent,
        },
    )
    flow = figure(values)
    is_determined = flow > rule.least_uncertainties * u_flow
    return SubtractionLeakage(
        correction_factor=factor,
        flow_at_house_pressure=values["difference"] * factor,
        flow=flow,
        u_flow=u_flow,
        is_determined=is_determined,
        words=_words(is_determined, rule),
    )


def _pressures(readings: SubtractionReadings, rule: SubtractionRule) -> tuple[float, float]:
    signed = single("House pressure", readings.house_pressure, unit="Pa")
    rise = single("Sealed duct less house", readings.sealed_duct_to_house, unit="Pa")
    house, duct = abs(signed), -(signed + rise) if signed < 0 else signed + rise
    if not 0 <= duct <= rule.highest_ratio * house:
        raise OutOfRange(
            quantity="Sealed duct less outside, in the direction of the house",
            value=duct,
            unit="Pa",
            limit=f"from 0 to {rule.highest_ratio * house:g}",
            next_step="Check the hoses and the seals of the registers, or test with a duct fan.",
        )
    return house, duct


def _figure(reference: float) -> Callable[[Mapping[str, float]], float]:
    def leakage(values: Mapping[str, float]) -> float:
        # A reading moved by its uncertainty may not carry the ducts past outside pressure.
        left = max(0.0, 1.0 - values["rise"] / values["house"])
        exponent = values["exponent"]
        at_house = values["difference"] / (1.0 - left**exponent)
        return float(at_house * (reference / values["house"]) ** exponent)

    return leakage


def _words(is_determined: bool, rule: SubtractionRule) -> str:
    if is_determined:
        return "Determined by these readings."
    return (
        "Not determined by these readings: the difference of the two flows is not more than "
        f"{rule.least_uncertainties:g} times its standard uncertainty. Test with a duct fan."
    )
