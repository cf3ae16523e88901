"""The figures of a zone test, each with its bounds, its grade and what it does not mean."""

import math
from typing import Any

import numpy as np

from agency.leakage.line import NORMAL_QUANTILE
from agency.leakage.power_law import number_or_none
from agency.leakage.zone_balance import Figure, ZoneLeakage, exponent_band
from agency.leakage.zone_gates import Grade, ZoneJudgement
from agency.wording import words

from ..forms.zone import WITH_FAN
from .findings import Shown
from .zone_case import ZoneCase

NOT_ACHIEVABLE = "with the whole pressure across it; not what sealing can take away"
GRADES = {
    Grade.REPORT: "",
    Grade.CAUTION: "to be read with caution",
    Grade.INDICATIVE: "indicative only",
    Grade.NO_VALUE: "no value",
}


def bounded(case: ZoneCase, figure: Figure) -> dict[str, float | None]:
    """Value and 95 % interval; where it rests on the fan, its calibration scales every figure."""
    return bounds_of(figure, scale=case.bench.u_flow() if case.method in WITH_FAN else 0.0)


def bounds_of(figure: Figure, *, scale: float) -> dict[str, float | None]:
    """Value and 95 % interval of reading errors and one relative error that scales the figure."""
    value = float(figure.value)
    half = NORMAL_QUANTILE * math.hypot(float(figure.u_relative), scale)
    with np.errstate(over="ignore"):
        low, high = value * np.exp(-half), value * np.exp(half)
    return {
        "value": number_or_none(value),
        "low": number_or_none(low),
        "high": number_or_none(high),
    }


def direct_flow(case: ZoneCase, leakage: ZoneLeakage) -> float | None:
    """House leakage past the zone; None where no fan flow was read. [m³/s]"""
    if case.fan_flow is None:
        return None
    return case.fan_flow - float(leakage.through_zone.value)


def figures(
    case: ZoneCase, leakage: ZoneLeakage, band: ZoneLeakage, judgement: ZoneJudgement
) -> list[Shown]:
    at = f"at {case.reference:g} Pa"
    held = judgement.grade is not Grade.NO_VALUE
    grade = GRADES[judgement.grade]

    def flow(name: str, field: str, note: str) -> Shown:
        if not held:
            return Shown(name=f"{name} {at}", quantity="flow", value=None, note=judgement.reason)
        text = "; ".join(one for one in (note, grade) if one)
        bounds = bounded(case, getattr(leakage, field))
        return Shown(name=f"{name} {at}", quantity="flow", note=text, **bounds)

    def boundary(name: str, field: str) -> Shown:
        return flow(f"{name} boundary", field, f"{NOT_ACHIEVABLE}; {_spread(case, band, field)}")

    shown = [
        flow(
            "Leakage through the zone",
            "through_zone",
            "the most that sealing either boundary can take away",
        ),
        _of_band(case, band, judgement),
        _direct_shown(case, leakage, judgement),
        boundary("House to zone", "house_zone"),
        boundary("Zone to outside", "zone_outside"),
        Shown(
            name="House to zone boundary over zone to outside boundary",
            quantity="ratio_to_one",
            value=number_or_none(leakage.ratio) if held else None,
            note="" if held else judgement.reason,
        ),
        relative(leakage.through_zone.u_relative if held else math.nan),
    ]
    return [*shown, *pressures(case), *_opening(case)]


def _spread(case: ZoneCase, band: ZoneLeakage, field: str) -> str:
    low, high = (number_or_none(end) for end in exponent_band(getattr(band, field)))
    if low is None or high is None:
        return "no figure at one end of the band of exponents"
    ends = words.quantity_range(low / words.CFM, high / words.CFM, "cfm")
    return f"{ends} for exponents of {case.band[0]:.2f} to {case.band[1]:.2f}"


def _of_band(case: ZoneCase, band: ZoneLeakage, judgement: ZoneJudgement) -> Shown:
    """What the unknown exponent does, beside the reading errors."""
    low, high = (number_or_none(end) for end in exponent_band(band.through_zone))
    held = judgement.grade is not Grade.NO_VALUE and low is not None
    return Shown(
        name=f"The same for exponents of {case.band[0]:.2f} to {case.band[1]:.2f}",
        quantity="flow",
        value=number_or_none(band.through_zone.value[1]) if held else None,
        low=low if held else None,
        high=high if held else None,
        note=f"{case.exponent:.2f} assumed; comes on top of the reading errors"
        if held
        else judgement.reason or "one of these exponents gives no figure",
    )


def _direct_shown(case: ZoneCase, leakage: ZoneLeakage, judgement: ZoneJudgement) -> Shown:
    name = f"House leakage past the zone at {case.reference:g} Pa"
    if judgement.grade is Grade.NO_VALUE:
        return Shown(name=name, quantity="flow", value=None, note=judgement.reason)
    direct = direct_flow(case, leakage)
    if direct is None:
        return Shown(name=name, quantity="flow", value=None, note="no fan flow was read")
    if case.method not in WITH_FAN:
        return Shown(name=name, quantity="flow", value=direct, note="fan flow less the zone's")
    bounds = bounded(case, leakage.direct)
    return Shown(name=name, quantity="flow", note="fan flow less the zone's", **bounds)


def pressures(case: ZoneCase) -> list[Shown]:
    at = f"with the house at {case.reference:g} Pa"
    drops = case.drops
    return [
        Shown(name=f"{name}, {at}", quantity="pressure", value=float(drop))
        for name, drop in (
            ("House to zone", drops.house_zone),
            ("Zone to outside", drops.zone_outside),
        )
    ]


def relative(u: Any) -> Shown:
    value = number_or_none(u)
    return Shown(
        name="Relative uncertainty of the headline",
        quantity="share",
        value=value,
        note="reading errors, k = 1" if value is not None else "one-sided, or no figure",
    )


def _opening(case: ZoneCase) -> list[Shown]:
    hole = case.hole
    if hole is None:
        return []
    assumed = "left blank; the rule book's coefficient was used" if hole.assumed else "as sent"
    return [
        Shown(name="Hole that was added", quantity="opening_area", value=hole.area),
        Shown(
            name="Its discharge coefficient", quantity="ratio", value=hole.discharge, note=assumed
        ),
    ]
