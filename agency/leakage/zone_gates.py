"""Whether a zone test can carry its figures, in words that say what to change.

All limits come from the rule book; a limit that is missed says what it was missed by.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from agency.leakage.errors import ShapeMismatch
from agency.leakage.power_law import number_or_none
from agency.leakage.validity import Criterion, Status, Verdict, judge
from agency.leakage.zone_balance import Outcome, ZoneLeakage
from agency.leakage.zones import ZoneReading, drops_of

ADVICE = {
    "zone_closure": "The three pressures do not add up. Check hoses and doors, then read again.",
    "zone_edge": (
        "The zone is within the noise of outside or of the house before anything was opened. "
        "Average longer, or open the side the zone is not near to."
    ),
    "zone_change": "The zone hardly moved. Make a larger opening, or open the other boundary.",
    "zone_flow_change": (
        "The fan flow changed by no more than its repeatability. Open more, open the other "
        "boundary, or repeat both flows and use their means."
    ),
    "zone_denominator": (
        "The change of the zone pressure is within its noise. Make a larger opening or average "
        "longer."
    ),
    "zone_wind": "Wind moves the zone reading. Shield the outdoor hose, average longer or wait.",
    "zone_coupled": (
        "The zone shares a boundary with another zone of this job, so that the figures of a single "
        "zone are biased. Test both as a network."
    ),
    "zone_through": (
        "More flow goes through the zone than the fan moves. Check the fan configuration, the "
        "opening area and the zone pressures."
    ),
    "zone_uncertainty": "Reading errors leave the figures too wide. Open more or average longer.",
}
WHY_NONE = {
    Outcome.NOT_POSITIVE: (
        "A pressure across a boundary is 0 or less, so that it says nothing of the boundary. "
        "Check hoses, signs and baselines, or open the other boundary."
    ),
    Outcome.WRONG_WAY: (
        "The zone pressure did not move towards the opened side. Check that the right boundary "
        "was opened and that readings before and after are not exchanged."
    ),
    Outcome.FLOW_NOT_RISEN: (
        "The fan flow did not rise with the boundary open. Check that flows before and after are "
        "not exchanged, and repeat both."
    ),
}


class Grade(StrEnum):
    """What may be done with the figures of a zone."""

    REPORT = "report"
    CAUTION = "caution"
    INDICATIVE = "indicative"
    NO_VALUE = "no_value"


@dataclass(frozen=True, slots=True, kw_only=True)
class ZoneLimits:
    """Limits of the rule book."""

    closure: float
    """[Pa]"""
    closure_share: float
    """Of the envelope pressure; the larger of the two counts. [-]"""
    edge: float
    """Standard uncertainties the zone must be from outside and from the house. [-]"""
    flow_change: float
    """Standard uncertainties the change of flow must exceed. [-]"""
    denominator: float
    """The same of the change of pressure that the flow is divided by. [-]"""
    smallest_change: float
    """Of the zone pressure. [Pa]"""
    highest_wind_deviation: float
    """Standard deviation of the zone reading. [Pa]"""
    report_uncertainty: float
    """Relative standard uncertainty up to which figures are reported. [-]"""
    caution_uncertainty: float
    """Up to which they are reported with caution; indicative only beyond. [-]"""
    rejecting: frozenset[str]
    """Codes whose miss withholds the figures."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One gate: what was found, and what to change where it is not passed."""

    verdict: Verdict
    advice: str
    """Empty where the gate is passed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ZoneJudgement:
    """What may be shown of one zone test."""

    grade: Grade
    findings: tuple[Finding, ...]
    reason: str
    """Why there is no value; empty where there is one."""


def judge_zone(
    leakage: ZoneLeakage,
    *,
    before: ZoneReading,
    after: ZoneReading,
    closure: float | None,
    wind_deviation: float | None,
    shared_with: Sequence[str] | None,
    fan_flow: float | None,
    limits: ZoneLimits,
) -> ZoneJudgement:
    """Pass one zone test through every gate.

    Parameters
    ----------
    leakage : ZoneLeakage
        Shape (): one test, one exponent.
    before, after : ZoneReading
        The readings it was made of.
    closure : float or None
        What three readings fail to add up by; None where only two were taken. [Pa]
    wind_deviation : float or None
        Standard deviation of the zone reading; None where it was not recorded. [Pa]
    shared_with : sequence of str or None
        Other zones of the job that share a boundary with this one; None where nobody said.
    fan_flow : float or None
        Fan flow at the reference pressure; None where it was not measured. [m³/s]
    limits : ZoneLimits
        From the rule book.

    Returns
    -------
    ZoneJudgement
        `Grade.NO_VALUE` where a rejecting gate is missed or the method gives nothing.

    Raises
    ------
    ShapeMismatch
        More than one test.
    """
    if leakage.outcome.shape:
        raise ShapeMismatch(
            quantity="Number of zone tests",
            value=str(leakage.outcome.shape),
            limit="one",
            next_step="Judge each test by itself.",
        )
    findings = [
        *_of_readings(before, after, closure, limits),
        *_of_figures(leakage, fan_flow, limits),
        _find(
            "zone_wind",
            wind_deviation,
            "<=",
            limits.highest_wind_deviation,
            unit="Pa",
            limits=limits,
        ),
        _coupled(shared_with, limits),
    ]
    reason = WHY_NONE.get(Outcome(int(leakage.outcome)), "")
    refused = [f.advice for f in findings if f.verdict.status is Status.REJECT]
    grade = Grade.NO_VALUE if reason or refused else _grade(leakage, limits)
    return ZoneJudgement(grade=grade, findings=tuple(findings), reason=reason or " ".join(refused))


def _of_readings(
    before: ZoneReading, after: ZoneReading, closure: float | None, limits: ZoneLimits
) -> list[Finding]:
    first, second = drops_of(before), drops_of(after)
    scale = first.envelope / second.envelope
    moved = float(np.abs(second.zone_outside * scale - first.zone_outside))
    envelope = float(first.envelope)
    widest = max(limits.closure, limits.closure_share * envelope)
    gap = None if closure is None else abs(closure)
    read = float(first.across(before.across))
    u_read, u_envelope = float(np.asarray(before.u_zone)), float(np.asarray(before.u_envelope))
    r = float(np.asarray(before.correlation))
    u_left = math.sqrt(u_envelope**2 + u_read**2 - 2 * r * u_envelope * u_read)
    edge = min(_noises(read, u_read), _noises(envelope - read, u_left))
    return [
        _find("zone_closure", gap, "<=", widest, unit="Pa", limits=limits),
        _find("zone_edge", _finite(edge), ">=", limits.edge, unit="", limits=limits),
        _find("zone_change", moved, ">=", limits.smallest_change, unit="Pa", limits=limits),
    ]


def _of_figures(leakage: ZoneLeakage, fan_flow: float | None, limits: ZoneLimits) -> list[Finding]:
    signal = _finite(_noises(float(leakage.signal), float(leakage.u_signal)))
    change = _finite(_noises(float(leakage.change), float(leakage.u_change)))
    through = number_or_none(leakage.through_zone.value)
    share = None if fan_flow is None or through is None else through / fan_flow
    widest = number_or_none(_widest(leakage))
    return [
        _find("zone_flow_change", signal, ">=", limits.flow_change, unit="", limits=limits),
        _find("zone_denominator", change, ">=", limits.denominator, unit="", limits=limits),
        _find("zone_through", share, "<=", 1.0, unit="", limits=limits),
        _find("zone_uncertainty", widest, "<=", limits.report_uncertainty, unit="", limits=limits),
    ]


def _find(
    code: str, measured: float | None, compare: str, limit: float, *, unit: str, limits: ZoneLimits
) -> Finding:
    criterion = Criterion(
        code=code, operator=compare, limit=limit, unit=unit, rejects=code in limits.rejecting
    )
    verdict = judge(measured, criterion)
    missed = verdict.status in (Status.REJECT, Status.ADVISORY)
    return Finding(verdict=verdict, advice=ADVICE[code] if missed else "")


def _coupled(shared_with: Sequence[str] | None, limits: ZoneLimits) -> Finding:
    count = None if shared_with is None else float(len(shared_with))
    found = _find("zone_coupled", count, "<=", 0.0, unit="zones", limits=limits)
    if not found.advice:
        return found
    named = f"{found.advice} Shared with: {', '.join(shared_with or ())}."
    return Finding(verdict=found.verdict, advice=named)


def _grade(leakage: ZoneLeakage, limits: ZoneLimits) -> Grade:
    widest = float(_widest(leakage))
    if widest <= limits.report_uncertainty:
        return Grade.REPORT
    return Grade.CAUTION if widest <= limits.caution_uncertainty else Grade.INDICATIVE


def _widest(leakage: ZoneLeakage) -> float:
    figures = (leakage.house_zone, leakage.zone_outside, leakage.through_zone)
    return float(max(float(figure.u_relative) for figure in figures))


def _noises(value: float, u: float) -> float:
    """`value` in standard uncertainties; infinite for an exact value that is not 0."""
    if u > 0:
        return value / u
    return math.copysign(math.inf, value) if value else 0.0


def _finite(value: float) -> float | None:
    """None for an exact value, which no gate can measure in uncertainties, and for no value."""
    return value if math.isfinite(value) else None
