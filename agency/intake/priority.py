"""Priority points by the rules of a day: the same facts and rules give the same points."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from agency.accounts.models import User
from agency.programs.models import Fuel
from agency.rulebook.shipped import RuleSet
from agency.wording import words

from .book import exact, setting, version_of, whole
from .models import Application, PriorityScore

PREFIXES = ("priority.",)
PERCENT = Decimal(100)


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """What the points are made from."""

    elderly: int
    disability: int
    children: int
    used: Mapping[str, Decimal]
    """Energy used in 12 months by fuel, in the unit of its rule; fuels not known are left out."""
    cost: Decimal | None
    """Energy cost of 12 months. [$]  None when no bill is on file."""
    income: Decimal | None
    """[$ a year]  None when a benefit stood for the income test."""

    def as_dict(self) -> dict[str, Any]:
        """The same as plain data, to be frozen with the score."""
        return {
            "elderly": self.elderly,
            "disability": self.disability,
            "children": self.children,
            "used": {fuel: str(amount) for fuel, amount in sorted(self.used.items())},
            "cost": None if self.cost is None else str(self.cost),
            "income": None if self.income is None else str(self.income),
        }

    @classmethod
    def from_dict(cls, stored: Mapping[str, Any]) -> "Facts":
        """What `as_dict` has written."""
        return cls(
            elderly=stored["elderly"],
            disability=stored["disability"],
            children=stored["children"],
            used={fuel: Decimal(amount) for fuel, amount in stored["used"].items()},
            cost=None if stored["cost"] is None else Decimal(stored["cost"]),
            income=None if stored["income"] is None else Decimal(stored["income"]),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Scored:
    """Points, and how they came about: name, reason and points of each class."""

    points: int
    lines: tuple[dict[str, Any], ...]


def facts_of(application: Application, *, on: date, rules: RuleSet) -> Facts:
    """The facts of an application fetched with its facts and decisions."""
    household = application.household
    uses = list(application.energy_uses.all())
    determination = application.determination
    return Facts(
        elderly=household.aged_from(whole(rules, "priority.elderly_from", on=on)),
        disability=household.with_disability,
        children=household.aged_below(whole(rules, "priority.child_under", on=on)),
        used={use.fuel: use.used for use in uses if use.used is not None},
        cost=sum((use.cost for use in uses), Decimal(0)) if uses else None,
        income=determination.annual_income if determination else None,
    )


def score(facts: Facts, *, on: date, rules: RuleSet) -> Scored:
    """Points of each class that applies; each class counts once, however many people are in it."""
    high_use, use_words = _high_use(facts, rules)
    high_burden, burden_words = _high_burden(facts, on=on, rules=rules)
    classes = (
        ("elderly", "Elderly person", facts.elderly > 0, _people(facts.elderly)),
        ("disability", "Person with a disability", facts.disability > 0, _people(facts.disability)),
        ("children", "Child", facts.children > 0, _people(facts.children)),
        ("high_use", "High energy use", high_use, use_words),
        ("high_burden", "High energy burden", high_burden, burden_words),
    )
    lines: tuple[dict[str, Any], ...] = tuple(
        {
            "name": name,
            "why": why,
            "points": whole(rules, f"priority.points.{code}", on=on) if applies else 0,
        }
        for code, name, applies, why in classes
    )
    return Scored(points=sum(int(line["points"]) for line in lines), lines=lines)


def score_of(application: Application, *, by: User, on: date, rules: RuleSet) -> PriorityScore:
    """The row to be stored, with all it was made from."""
    facts = facts_of(application, on=on, rules=rules)
    found = score(facts, on=on, rules=rules)
    return PriorityScore(
        application=application,
        made_on=on,
        made_by=by,
        rules_version=version_of(rules, *PREFIXES),
        inputs=facts.as_dict(),
        lines=list(found.lines),
        points=found.points,
        is_emergency=bool(application.emergency_reason),
        waiting_since=application.received_on,
    )


def _people(count: int) -> str:
    return f"{words.number(count)} in the household"


def _high_use(facts: Facts, rules: RuleSet) -> tuple[bool, str]:
    """More of any one fuel than its rule allows; a fuel without a rule cannot be judged."""
    told, is_high = [], False
    for fuel, amount in sorted(facts.used.items()):
        name, rule = Fuel(fuel).label.lower(), rules.get(f"priority.high_use.{fuel}")
        if rule is None or rule.limit is None:
            told.append(f"{name}: no rule for it")
            continue
        limit = exact(rule.limit)
        is_high = is_high or amount > limit
        told.append(
            f"{name} {words.quantity(amount, rule.unit)}, high above "
            f"{words.quantity(limit, rule.unit)}"
        )
    return is_high, "; ".join(told) or "no bill with an amount is on file"


def _high_burden(facts: Facts, *, on: date, rules: RuleSet) -> tuple[bool, str]:
    """Cost ≥ share × income, so that a household without income is judged too."""
    if facts.cost is None:
        return False, "no bill is on file"
    if facts.income is None:
        return False, "income was not asked for: a benefit stood for it"
    share = setting(rules, "priority.high_burden", on=on)
    is_high = facts.cost > 0 and facts.cost * PERCENT >= share * facts.income
    paid = f"{words.money(facts.cost)} for energy"
    if facts.income == 0:
        return is_high, f"{paid}, and no income"
    burden = words.percent(facts.cost / facts.income, 1)
    earned = words.money(facts.income)
    return is_high, f"{paid} of {earned}: {burden}, high from {words.quantity(share, '%')}"


def energy_burden(facts: Facts) -> Decimal | None:
    """Energy cost of 12 months over income of 12 months. [-]  None when it cannot be stated."""
    if facts.cost is None or not facts.income:
        return None
    return facts.cost / facts.income
