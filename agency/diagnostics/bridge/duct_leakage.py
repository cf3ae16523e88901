"""Duct leakage at 25 Pa from a duct fan or by subtraction, normalised and held against a limit."""

from collections.abc import Callable, Mapping

from agency.leakage.ducts import (
    DuctLeakage,
    DuctTestRule,
    outside_leakage,
    total_leakage,
    unequal_pressure_bias,
)
from agency.leakage.fan_flow import Direction
from agency.leakage.line import NORMAL_QUANTILE

from ..evaluation import Check, Step
from .bench import Bench
from .duct_limits import (
    Leakage,
    allowed_flow,
    limit_checks,
    normalised,
    normalised_figures,
    normalising_steps,
)
from .duct_subtraction import subtracted
from .findings import Answer, Findings, Shown, answer_of, spoken, state_of, step
from .visit_checks import sign_check

EDITIONS: Mapping[str, tuple[str, str]] = {
    "total": ("ANSI/RESNET/ICC 380, total duct leakage", "2019"),
    "to_outside": ("ANSI/RESNET/ICC 380, duct leakage to outside", "2019"),
    "subtraction": ("Subtraction with correction", "agency"),
}
"""Standard and edition by method."""
POWER_LAW = ("power law", "derived")


def duct_leakage_findings(bench: Bench) -> Findings:
    """Duct leakage at 25 Pa, per floor area and as a share of the air-handler flow."""
    method = bench.document.method
    leakage = METHODS[method](bench)
    side = "total" if method == "total" else "outside"
    words = "Total duct leakage" if side == "total" else "Duct leakage to outside"
    headline = f"{words} at {bench.book.setting('ducts.reference-pressure'):g} Pa"
    found = normalised(bench, leakage.flow)
    limits = limit_checks(bench, side=side, found=found)
    standard, edition = EDITIONS[method]
    return Findings(
        method=standard,
        edition=edition,
        answer=Answer.OPEN if leakage.flow is None else answer_of(limits),
        words=f"{words}: {leakage.note or _spoken(bench, limits)}",
        shown=[_headline(headline, leakage), *normalised_figures(found), *leakage.shown],
        limits=limits,
        checks=leakage.checks,
        steps=leakage.steps + normalising_steps(found),
        drawing={
            "type": "bars",
            "title": headline,
            "measure": headline,
            "quantity": "flow",
            "bars": [
                {
                    "label": words,
                    "value": leakage.flow,
                    "high": allowed_flow(bench, side=side),
                    "state": "unjudged" if leakage.flow is None else state_of(limits),
                }
            ],
        },
        details={
            side: leakage.flow,
            "u_flow": leakage.u_flow,
            "per_area": found.per_area,
            "share_of_handler": found.share,
        },
    )


def _headline(name: str, leakage: Leakage) -> Shown:
    """The leakage with its 95 % interval."""
    flow, half = leakage.flow, NORMAL_QUANTILE * leakage.u_flow
    return Shown(
        name=name,
        quantity="flow",
        value=flow,
        low=None if flow is None else flow - half,
        high=None if flow is None else flow + half,
        note=leakage.note,
    )


def _spoken(bench: Bench, limits: list[Check]) -> str:
    if bench.document.held_against == "none":
        return "Held against no limit, as the document says."
    return spoken(limits)


def _total(bench: Bench) -> Leakage:
    """A fan on the ducts, the house open to outside."""
    document, book = bench.document, bench.book
    duct = bench.needed(document.duct_to_house, "duct_to_house", "Duct to house")
    house, rule = document.house_pressure, _rule(bench)
    flow = _fan_flow(bench)
    found = total_leakage(
        flow=flow,
        u_flow=bench.u_flow(),
        duct_to_house=duct,
        # Of use for `is_balanced` only; a house that was not read is left to the check below.
        house_pressure=house or 0.0,
        u_pressure=bench.u_pressure(duct),
        rule=rule,
    )
    sign = Direction(document.direction).sign
    return Leakage(
        flow=float(found.flow),
        u_flow=float(found.flow * found.u_flow),
        checks=[
            *sign_check(book, duct, sign=sign, field="duct_to_house", label="Duct to house"),
            *book.check(
                "ducts.equal-pressures",
                None if house is None else abs(house),
                field="house_pressure",
            ),
            *_reached(bench, found, rule),
        ],
        steps=[_fan_step(flow, found, rule)],
    )


def _to_outside(bench: Bench) -> Leakage:
    """A fan on the ducts, a second one holding the house where the ducts are."""
    document, book = bench.document, bench.book
    duct = bench.needed(document.duct_to_house, "duct_to_house", "Duct to house")
    house = bench.needed(document.house_pressure, "house_pressure", "House to outside")
    flow, rule = _fan_flow(bench), _rule(bench)
    found = outside_leakage(
        flow=flow,
        u_flow=bench.u_flow(),
        duct_to_house=duct,
        house_pressure=house,
        u_pressure=bench.u_pressure(house),
        rule=rule,
    )
    sign = Direction(document.direction).sign
    return Leakage(
        flow=float(found.flow),
        u_flow=float(found.flow * found.u_flow),
        checks=[
            *sign_check(book, house, sign=sign, field="house_pressure", label="House to outside"),
            *book.check("ducts.equal-pressures", abs(duct), field="duct_to_house"),
            *_reached(bench, found, rule),
        ],
        steps=[_fan_step(flow, found, rule)],
        shown=[] if found.is_balanced else _bias(bench, found, duct, rule),
    )


def _fan_flow(bench: Bench) -> float:
    """The duct fan's flow; it draws on the house or on the ducts. [m³/s]"""
    document = bench.document
    return bench.indoor_flow(
        document.flow, field="flow", label="Flow of the duct fan", direction=document.direction
    )


def _reached(bench: Bench, found: DuctLeakage, rule: DuctTestRule) -> list[Check]:
    """Whether the leakage is read at the reference pressure or extrapolated to it."""
    pressure = float(found.pressure)
    words = (
        f"The ducts were at {pressure:.1f} Pa; the leakage at {rule.reference_pressure:g} Pa is "
        "extrapolated."
    )
    shortfall = rule.reference_pressure - pressure
    return bench.book.complaint("ducts.reached", shortfall, field="duct_to_house", message=words)


def _fan_step(flow: float, found: DuctLeakage, rule: DuctTestRule) -> Step:
    reference = f"{rule.reference_pressure:g}"
    return step(
        f"Duct leakage at {reference} Pa",
        f"Q = Q_fan ({reference}/|p|)^n",
        float(found.flow),
        "m³/s",
        source=POWER_LAW,
        Q_fan=flow,
        p=float(found.pressure),
        n=rule.exponent,
    )


def _bias(bench: Bench, found: DuctLeakage, duct: float, rule: DuctTestRule) -> list[Shown]:
    """What leaks between duct and house may add, where an earlier test told their total."""
    total = bench.earlier("duct_leakage", "total")
    if total is None or total < float(found.flow):
        return []
    bias = unequal_pressure_bias(total=total, outside=found.flow, duct_to_house=duct, rule=rule)
    note = "duct and house were not at one pressure"
    return [Shown(name="Of it perhaps between duct and house", quantity="flow",
                  value=float(bias), note=note)]  # fmt: skip


def _rule(bench: Bench) -> DuctTestRule:
    book = bench.book
    return DuctTestRule(
        reference_pressure=book.setting("ducts.reference-pressure"),
        lowest_pressure=book.setting("ducts.lowest-pressure"),
        reached_within=book.setting("ducts.reached"),
        equal_within=book.setting("ducts.equal-pressures"),
        exponent=book.setting("ducts.exponent"),
        u_exponent=book.setting("ducts.exponent-uncertainty"),
    )


METHODS: Mapping[str, Callable[[Bench], Leakage]] = {
    "total": _total,
    "to_outside": _to_outside,
    "subtraction": subtracted,
}
