"""Gates of a zone test as checks, the reading wanted of the zone, and an earlier second method."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from agency.leakage.power_law import number_or_none
from agency.leakage.zone_balance import Outcome, ZoneLeakage
from agency.leakage.zone_gates import ADVICE, Finding, ZoneJudgement, ZoneLimits, judge_zone
from agency.leakage.zones import drops_of
from agency.wording import words

from ..evaluation import Check
from ..forms.zone import TWO_STATES
from .bench import Bench
from .book import Book
from .zone_case import ZoneCase

FIELDS = {
    "zone_edge": "states[0].zone",
    "zone_change": "states[1].zone",
    "zone_flow_change": "states[1]",
    "zone_denominator": "states[1].zone",
    "zone_wind": "states[0].deviation",
    "zone_coupled": "shares_with",
    "zone_through": "states[0].fan",
    "zone_uncertainty": "states",
}
"""Where to look for what a gate found."""
BARRIERS = {"vented_attic": "house_zone", "attached_garage": "house_zone"}
"""Boundary meant to be the air barrier of a zone that is outside by its kind."""


def limits_of(book: Book) -> ZoneLimits:
    """The gates' limits, as the rule book has them."""
    codes = ("zone_closure", *FIELDS)
    severities = {code: book.rule(_code(code)) for code in codes}
    return ZoneLimits(
        closure=book.setting("zone.closure"),
        closure_share=book.setting("zone.closure-share") / 100,
        edge=book.setting("zone.edge"),
        flow_change=book.setting("zone.flow-change"),
        denominator=book.setting("zone.denominator"),
        smallest_change=book.setting("zone.change"),
        highest_wind_deviation=book.setting("zone.wind"),
        report_uncertainty=book.setting("zone.uncertainty"),
        caution_uncertainty=book.setting("zone.caution-uncertainty"),
        rejecting=frozenset(
            code for code, rule in severities.items() if rule and rule.severity == "reject"
        ),
    )


def judged(case: ZoneCase, leakage: ZoneLeakage) -> ZoneJudgement:
    """The test before every gate."""
    assert case.after is not None
    return judge_zone(
        leakage,
        before=case.before,
        after=case.after or case.before,
        closure=case.closure,
        wind_deviation=case.deviation,
        shared_with=case.bench.document.shares_with,
        fan_flow=case.fan_flow,
        limits=limits_of(case.bench.book),
    )


def gate_checks(case: ZoneCase, leakage: ZoneLeakage, judgement: ZoneJudgement) -> list[Check]:
    """Every gate as a check with the rule's own provenance."""
    book = case.bench.book
    checks = closure_checks(case)
    for finding in judgement.findings:
        code = finding.verdict.criterion.code
        if code in FIELDS:
            checks += _gate(book, code, finding)
    if leakage.outcome != Outcome.ESTIMATED:
        checks += book.complaint("zone.no-figures", 0.0, field="states", message=judgement.reason)
    return checks


def _gate(book: Book, code: str, finding: Finding) -> list[Check]:
    measured = finding.verdict.measured
    return book.check(_code(code), measured, field=FIELDS[code], message=finding.advice)


def _code(gate: str) -> str:
    return gate.replace("_", ".", 1).replace("_", "-")


def single_state_checks(case: ZoneCase) -> list[Check]:
    """What is asked of pressures alone."""
    book, shared = case.bench.book, case.bench.document.shares_with
    others = None if shared is None else float(len(shared))
    named = f"{ADVICE['zone_coupled']} Shared with: {', '.join(shared)}." if shared else ""
    return [
        *closure_checks(case),
        *book.check("zone.wind", case.deviation, field=FIELDS["zone_wind"]),
        *book.check("zone.coupled", others, field=FIELDS["zone_coupled"], message=named),
    ]


def closure_checks(case: ZoneCase) -> list[Check]:
    """Three pressures of one state: the wider of a pressure and a share of the envelope's."""
    book, gap = case.bench.book, case.closure
    if gap is None:
        return book.check("zone.closure", None, field="states[0].third")
    envelope = float(drops_of(case.before).envelope)
    text = ADVICE["zone_closure"]
    if book.setting("zone.closure-share") / 100 * envelope > book.setting("zone.closure"):
        share = abs(gap) / envelope * 100
        return book.check("zone.closure-share", share, field="states[0].third", message=text)
    return book.check("zone.closure", abs(gap), field="states[0].third", message=text)


def wanted(case: ZoneCase) -> list[Check]:
    """The reading wanted of this kind of zone, held against the first state at 50 Pa."""
    document, book = case.bench.document, case.bench.book
    barrier = document.air_barrier or BARRIERS.get(document.zone_type)
    if barrier is None:
        unsaid = document.zone_type != "other"
        return book.check("zone.barrier", None, field="air_barrier") if unsaid else []
    drops = case.drops
    held = drops.house_zone if barrier == "house_zone" else drops.zone_outside
    return book.check(f"zone.wanted.{document.zone_type}.{barrier}", float(held), field="states[0]")


@dataclass(frozen=True, slots=True, kw_only=True)
class Second:
    """An earlier answer for the same zone by another method."""

    method: str
    through: float
    """[m³/s]"""
    apart: float
    """Difference in its standard uncertainty. [-]"""


def told(second: Second, checks: Sequence[Check]) -> str:
    """Both methods side by side, by what the rule of their difference says."""
    agree = "do not agree" if any(one.status != "pass" for one in checks) else "agree"
    return (
        f"An earlier test, {words.coded(second.method).lower()}, gave {words.flow(second.through)}"
        f" through the zone; the two {agree}, {second.apart:.1f} standard uncertainties apart."
    )


def second_method(bench: Bench, *, through: float | None, u: float) -> Second | None:
    """The latest result of the same zone in the same phase by another method of two states."""
    document = bench.document
    found = [
        one
        for one in bench.context.bench
        if one.kind == document.kind
        and one.phase == document.phase
        and one.method in TWO_STATES
        and one.method != document.method
        and str(one.details.get("zone", "")).casefold() == document.zone.casefold()
        and _number(one.details, "through_zone") is not None
    ]
    if through is None or not found:
        return None
    other = found[-1]
    theirs = _number(other.details, "through_zone") or 0.0
    u_theirs = theirs * (_number(other.details, "u_through_zone") or 0.0)
    spread = math.hypot(through * u, u_theirs)
    apart = abs(through - theirs) / spread if spread else math.inf
    return Second(method=other.method, through=theirs, apart=apart)


def _number(details: Mapping[str, Any], name: str) -> float | None:
    value = details.get(name)
    return number_or_none(value) if isinstance(value, int | float) else None
