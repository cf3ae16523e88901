"""Chooses what a budget buys: measures ranked by what they return, judged as installed together."""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from agency.savings.cost_effectiveness import (
    Kind,
    Measure,
    PackageVerdict,
    judge,
    refuse_wrong_measures,
)
from agency.savings.errors import EconomicsError

SavingsOf = Callable[[tuple[str, ...]], Mapping[str, float]]
"""Lifetime energy cost saved by each of the measures installed in this order, by code; each
starts from the house the one before it left. [$]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOut:
    """A measure that is not in the package."""

    code: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Package:
    """What the budget buys."""

    chosen: tuple[str, ...]
    """In order of installation."""
    ranking: tuple[str, ...]
    """Energy measures by the ratio each would have alone, best first."""
    left_out: tuple[LeftOut, ...]
    """In order of the ranking, then health and safety."""
    verdict: PackageVerdict
    budget: float
    """[$]"""

    @property
    def left_of_budget(self) -> float:
        """[$]"""
        return self.budget - self.verdict.package.cost


def build_package(
    measures: Sequence[Measure],
    *,
    install_order: Sequence[str],
    savings_of: SavingsOf,
    budget: float,
    required: float,
) -> Package:
    """Choose measures for a budget; the same input always gives the same package.

    Measures are ranked by the ratio each has alone and taken while they fit. The chosen ones are
    then valued together in the order of installation. If one no longer pays for itself, the
    worst is struck off and the choice starts again without it; if all pay but the package does
    not carry its repairs, the measure that returns least on its whole cost is struck off.

    Parameters
    ----------
    measures : sequence of Measure
        Health and safety is listed as left out: it is neither ranked nor paid from this budget.
    install_order : sequence of str
        Codes of all energy measures as the crew would install them; it also breaks ties.
    savings_of : callable
        Recomputes the savings of any choice with its interactions. It is called once for each
        measure alone and once for each choice tried.
    budget : float
        [$]
    required : float
        Ratio asked for; from the rule book. [-]

    Raises
    ------
    EconomicsError
        A budget below 0, or an install order that is not the list of energy measures.

    References
    ----------
    .. [1] Rank, then recompute in order of installation: common practice; that interaction is
       counted: 10 CFR 440.21, from memory.
    """
    tested = _in_order(measures, install_order, budget)
    alone = {
        code: judge([measure], present_values=savings_of((code,)), required=required)
        for code, measure in tested.items()
    }
    ranking = sorted(tested, key=lambda code: _worth(alone[code], code), reverse=True)
    struck = {
        code: _falls_short(alone[code], code, "by itself")
        for code in ranking
        if not alone[code].measures[code].passes
    }
    while True:
        chosen, too_dear = _affordable(ranking, tested, budget=budget, struck=struck)
        in_order = tuple(code for code in tested if code in chosen)
        verdict = judge(
            [tested[code] for code in in_order],
            present_values=savings_of(in_order) if in_order else {},
            required=required,
        )
        if not in_order or verdict.passes:
            break
        worst, why = _worst_of(verdict, {code: tested[code] for code in in_order})
        struck[worst] = why
    reasons = struck | too_dear | _excepted(measures)
    order = [*ranking, *_excepted(measures)]
    return Package(
        chosen=in_order,
        ranking=tuple(ranking),
        left_out=tuple(LeftOut(code=c, why=reasons[c]) for c in order if c not in chosen),
        verdict=verdict,
        budget=budget,
    )


def _in_order(
    measures: Sequence[Measure], install_order: Sequence[str], budget: float
) -> dict[str, Measure]:
    refuse_wrong_measures(measures)
    tested = {measure.code: measure for measure in measures if measure.kind is Kind.ENERGY}
    if sorted(tested) != sorted(install_order):
        apart = sorted(set(tested) ^ set(install_order)) or sorted(install_order)
        raise EconomicsError(
            "the install order must name each energy measure once; look at "
            f"{', '.join(apart)}. Add what is missing and take out what is no measure."
        )
    if not budget >= 0:
        raise EconomicsError(f"budget is {budget:g} $; it must be 0 or more. Correct it.")
    return {code: tested[code] for code in install_order}


def _worth(alone: PackageVerdict, code: str) -> tuple[bool, float]:
    """What costs nothing and saves comes first, by its saving; the rest by ratio."""
    verdict = alone.measures[code]
    if verdict.sir is None:
        return verdict.present_value > 0, verdict.present_value
    return False, verdict.sir


def _affordable(
    ranking: Sequence[str],
    tested: Mapping[str, Measure],
    *,
    budget: float,
    struck: Mapping[str, str],
) -> tuple[set[str], dict[str, str]]:
    """Down the ranking, all that still fits; a cheaper one may fit where a dearer did not."""
    chosen: set[str] = set()
    too_dear: dict[str, str] = {}
    left = budget
    for code in ranking:
        if code in struck:
            continue
        cost = tested[code].whole_cost
        if cost > left:
            too_dear[code] = (
                f"It costs ${cost:,.2f} with its repairs; ${left:,.2f} of the budget is left "
                "when its turn comes."
            )
        else:
            chosen.add(code)
            left -= cost
    return chosen, too_dear


def _worst_of(verdict: PackageVerdict, tested: Mapping[str, Measure]) -> tuple[str, str]:
    """What to strike off, and why."""

    def value_of(code: str) -> float:
        return verdict.measures[code].present_value

    if verdict.failing:
        worst = min(verdict.failing, key=lambda c: _ratio(value_of(c), tested[c].tested_cost))
        return worst, _falls_short(verdict, worst, "beside the others")
    worst = min(tested, key=lambda c: _ratio(value_of(c), tested[c].whole_cost))
    return worst, (
        f"With its repairs of ${tested[worst].repairs:,.2f} it returns least, and the package "
        f"does not carry its repairs: it returns ${_down(verdict.package.sir)} per dollar, "
        f"${verdict.package.required:g} is asked for."
    )


def _ratio(value: float, cost: float) -> float:
    """What costs nothing is worst when it loses money, else best."""
    return value / cost if cost > 0 else math.copysign(math.inf, value)


def _falls_short(verdict: PackageVerdict, code: str, how: str) -> str:
    found = verdict.measures[code]
    if found.sir is None:
        return f"It costs nothing, but energy would cost ${-found.present_value:,.2f} more with it."
    return f"It returns ${_down(found.sir)} per dollar {how}; ${found.required:g} is asked for."


def _down(ratio: float | None) -> str:
    """Rounded down, so that what falls short never reads as what is asked for."""
    return "0" if ratio is None else f"{math.floor(ratio * 1000) / 1000:.3f}"


def _excepted(measures: Sequence[Measure]) -> dict[str, str]:
    why = "Health and safety is excepted from the test and paid apart."
    return {measure.code: why for measure in measures if measure.kind is not Kind.ENERGY}
