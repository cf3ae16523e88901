"""Zone pressures: what the boundaries of a zone compare like, and what leaks through it."""

import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from agency.leakage.power_law import number_or_none
from agency.leakage.zone_balance import ZoneLeakage, exponent_band
from agency.leakage.zone_gates import Grade, ZoneJudgement
from agency.leakage.zones import Side, boundary_ratio
from agency.wording import words

from ..evaluation import Check, Step
from ..forms.zone import TWO_STATES
from .bench import Bench
from .findings import Answer, Findings, Shown, answer_of, spoken, step
from .zone_case import ZoneCase, opened_by, zone_case
from .zone_checks import gate_checks, judged, second_method, single_state_checks, told, wanted
from .zone_figures import GRADES, bounded, direct_flow, figures, pressures, relative

METHOD = "Zone pressure diagnostics"
BALANCE = ("mass balance of house and zone with the power law", "derived")
PRESSURES_ALONE = "A ratio says nothing of size: both boundaries may be large, or both small."


def zone_findings(bench: Bench) -> Findings:
    """What one zone test found."""
    case = zone_case(bench)
    return _two_states(case) if case.method in TWO_STATES else _pressures_alone(case)


def _pressures_alone(case: ZoneCase) -> Findings:
    book, document = case.bench.book, case.bench.document
    found = boundary_ratio(case.before, exponent=case.exponent, detection=book.setting("zone.edge"))
    ends = {name: number_or_none(getattr(found.ratio, name)) for name in ("value", "low", "high")}
    side = Side(int(found.side))
    limits = wanted(case)
    ratio = Shown(
        name="House to zone boundary over zone to outside boundary",
        quantity="ratio_to_one",
        note=_of_side(side),
        **ends,
    )
    return Findings(
        method=f"{METHOD}, pressures alone",
        edition="",
        answer=answer_of(limits),
        words=f"{document.zone}: house to zone boundary {words.figure('ratio_to_one', ends)} "
        f"against the zone to outside boundary. {_tighter(ends)}{_said(limits)} {PRESSURES_ALONE}",
        shown=[ratio, *pressures(case), relative(found.u_log)],
        limits=limits,
        checks=[*case.checks, *single_state_checks(case)],
        steps=[*_drop_steps(case), _ratio_step(case, ends["value"])],
        drawing=_drawing(case, through=None, direct=None),
        details={
            **_details(case),
            **{f"ratio_{name}": one for name, one in ends.items()},
            "side": side.name.lower(),
        },
    )


def _of_side(side: Side) -> str:
    return {
        Side.BOTH: "95 % interval of the reading errors",
        Side.AT_LEAST: "the zone is too near the house for more than a lower bound, 95 %",
        Side.AT_MOST: "the zone is too near outside for more than an upper bound, 95 %",
        Side.NEITHER: "the pressures lie within their noise on both sides: no ratio",
    }[side]


def _tighter(ends: Mapping[str, float | None]) -> str:
    low, high = ends["low"], ends["high"]
    if low is not None and low > 1:
        return "The zone to outside boundary is the tighter one."
    if high is not None and high < 1:
        return "The house to zone boundary is the tighter one."
    return "Neither boundary is shown to be the tighter one."


def _two_states(case: ZoneCase) -> Findings:
    book, document = case.bench.book, case.bench.document
    leakage = case.leakage(case.exponent)
    band = case.leakage(np.array([case.band[0], case.exponent, case.band[1]]))
    judgement = judged(case, leakage)
    held = judgement.grade is not Grade.NO_VALUE
    through = number_or_none(leakage.through_zone.value) if held else None
    u_through = float(leakage.through_zone.u_relative) if held else math.nan
    second = second_method(case.bench, through=through, u=u_through)
    agreement = (
        book.check("zone.methods-agree", second.apart, field="zone") if second is not None else []
    )
    limits = wanted(case)
    direct = direct_flow(case, leakage) if held else None
    sentence = _sentence(case, leakage, judgement)
    compared = f" {told(second, agreement)}" if second else ""
    return Findings(
        method=f"{METHOD}, {words.coded(case.method).lower()}",
        edition="",
        answer=answer_of(limits) if held else Answer.OPEN,
        words=f"{document.zone}: {sentence}{_said(limits)}{compared}",
        shown=figures(case, leakage, band, judgement),
        limits=limits,
        checks=[*case.checks, *gate_checks(case, leakage, judgement), *agreement],
        steps=_steps(case, leakage) if held else _drop_steps(case),
        drawing=_drawing(case, through=through, direct=direct),
        details={
            **_details(case),
            **_leak_details(case, leakage, band, judgement),
        },
    )


def _said(limits: Sequence[Check]) -> str:
    return f" {spoken(limits)}" if limits else ""


def _sentence(case: ZoneCase, leakage: ZoneLeakage, judgement: ZoneJudgement) -> str:
    if judgement.grade is Grade.NO_VALUE:
        return f"no value. {judgement.reason}"
    bounds = bounded(case, leakage.through_zone)
    grade = GRADES[judgement.grade]
    return (
        f"{words.flow_interval(bounds)} leak through the zone at {case.reference:g} Pa"
        f"{f', {grade}' if grade else ''}. Sealing either boundary takes away no more than this."
    )


def _drawing(case: ZoneCase, *, through: float | None, direct: float | None) -> dict[str, Any]:
    sign = 1 if case.bench.document.direction == "pressurization" else -1
    zone, drops = case.bench.document.zone, case.drops
    text = "size not told by pressures" if case.method == "pressure_only" else "no value"
    names = [("House", zone, through), (zone, "Outside", through), ("House", "Outside", direct)]
    return {
        "type": "schema",
        "title": f"With the house at {words.quantity(sign * case.reference, 'Pa')}",
        "caption": "What enters the zone leaves it: both its boundaries pass the same flow.",
        "spaces": [
            {"name": "House", "pressure": sign * case.reference, "kind": "inside"},
            {"name": zone, "pressure": sign * float(drops.zone_outside), "kind": "zone"},
            {"name": "Outside", "pressure": 0.0, "kind": "outside"},
        ],
        "paths": [
            {
                "start": start,
                "end": end,
                "flow": flow,
                "text": text if zone in (start, end) else "not measured",
            }
            for start, end, flow in names
        ],
    }


def _drop_steps(case: ZoneCase) -> list[Step]:
    drops = case.drops
    return [
        step(
            "House to zone at the reference pressure",
            "h = (P − z) P_r/P, baselines taken off",
            float(drops.house_zone),
            "Pa",
            source=BALANCE,
            P_r=case.reference,
        ),
        step(
            "Zone to outside at the reference pressure",
            "z P_r/P",
            float(drops.zone_outside),
            "Pa",
            source=BALANCE,
            P_r=case.reference,
        ),
    ]


def _ratio_step(case: ZoneCase, ratio: float | None) -> Step:
    return step(
        "Ratio of the boundaries' coefficients",
        "R = (z/h)^n",
        ratio,
        "",
        source=BALANCE,
        n=case.exponent,
    )


FORMULAS = {
    "open_door": "C_ZO = (Q₂ − s Q₁)/(z₂^n − s z₁^n), C_HZ = C_ZO (z₁/h₁)^n, s = (P₂/P₁)^n",
    "vent_outside": "C_HZ = (Q₂ − s Q₁)/(h₂^n − s h₁^n), C_ZO = C_HZ (h₁/z₁)^n, s = (P₂/P₁)^n",
    "add_hole": "C_a = C_d A √(2 a₂/ρ)/[(a₁ b₂/b₁)^n − a₂^n], C_b = C_a (a₁/b₁)^n",
}


def _steps(case: ZoneCase, leakage: ZoneLeakage) -> list[Step]:
    near, far = (float(one) for one in leakage.coefficients)
    return [
        *_drop_steps(case),
        step(
            "What the opening changed",
            "flow of the hole" if case.hole else "Q₂ − s Q₁",
            float(leakage.signal),
            "m³/s",
            source=BALANCE,
            u=float(leakage.u_signal),
        ),
        step(
            "Coefficient of the house to zone boundary",
            FORMULAS[case.method],
            near,
            "m³/(s Pa^n)",
            source=BALANCE,
            n=case.exponent,
            C_ZO=far,
        ),
        _ratio_step(case, float(leakage.ratio)),
        step(
            "Leakage through the zone",
            "Q = C_HZ h^n, at the reference pressure",
            float(leakage.through_zone.value),
            "m³/s",
            source=BALANCE,
            u_relative=float(leakage.through_zone.u_relative),
        ),
    ]


def _details(case: ZoneCase) -> dict[str, Any]:
    document, drops = case.bench.document, case.drops
    opened = opened_by(case.method, case.hole)
    return {
        "zone": document.zone,
        "zone_type": document.zone_type,
        "opened": None if opened is None else opened.value,
        "house_to_zone": float(drops.house_zone),
        "zone_to_outside": float(drops.zone_outside),
        "fan_flow": case.fan_flow,
        "exponent": case.exponent,
        "area": None if case.hole is None else case.hole.area,
        "discharge": None if case.hole is None else case.hole.discharge,
    }


def _leak_details(
    case: ZoneCase, leakage: ZoneLeakage, band: ZoneLeakage, judgement: ZoneJudgement
) -> dict[str, Any]:
    held = judgement.grade is not Grade.NO_VALUE
    names = ("through_zone", "house_zone", "zone_outside")
    details: dict[str, Any] = {"grade": judgement.grade.value}
    for name in names:
        figure = getattr(leakage, name)
        ends = [number_or_none(end) for end in exponent_band(getattr(band, name))]
        details[name] = number_or_none(figure.value) if held else None
        details[f"u_{name}"] = number_or_none(figure.u_relative) if held else None
        details[f"{name}_band"] = ends if held else None
    details["direct"] = direct_flow(case, leakage) if held else None
    details["ratio"] = number_or_none(leakage.ratio) if held else None
    return details
