"""The yearly income up to which a household of some size is eligible, and by which table."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from agency.errors import ActionRefused
from agency.programs.models import IncomeTest, Program, StateMedian
from agency.rulebook.shipped import RuleSet
from agency.wording import words

from .book import exact, setting

LARGEST_NAMED = 6
"""Sizes up to here have a share of the state median of their own. 45 CFR 96.85, from memory."""


@dataclass(frozen=True, slots=True, kw_only=True)
class IncomeLimit:
    """A limit, what it is a share of, the table it was read from, and the arithmetic."""

    amount: Decimal
    """[$ a year]"""
    basis: str
    table: str
    lines: tuple[str, ...]


def income_limit(program: Program, *, size: int, on: date, rules: RuleSet) -> IncomeLimit:
    """By the grant's income test in force; by the federal one where the grant has none."""
    test = program.income_tests.all().in_force(on).order_by("-effective_from").first()
    if test is None:
        percent = setting(rules, "eligibility.poverty_percent", on=on)
        return _of_poverty(percent, IncomeTest.Region.CONTIGUOUS, size=size, on=on, rules=rules)
    if test.basis == IncomeTest.Basis.POVERTY:
        return _of_poverty(Decimal(test.percent), test.region, size=size, on=on, rules=rules)
    return _of_median(Decimal(test.percent), test.state, size=size, on=on, rules=rules)


def _of_poverty(
    percent: Decimal, region: str, *, size: int, on: date, rules: RuleSet
) -> IncomeLimit:
    """First person + (size − 1) × each more, times the share."""
    codes = (f"poverty.{region}.first_person", f"poverty.{region}.each_more")
    first, more = (setting(rules, code, on=on) for code in codes)
    guideline = first + (size - 1) * more
    amount = guideline * percent / 100
    rule = rules.get(codes[0])
    assert rule is not None
    people = words.count(size, "person", "people")
    return IncomeLimit(
        amount=amount,
        basis=f"{percent:f} % of the poverty guideline",
        table=f"{rule.standard} {rule.edition}, {IncomeTest.Region(region).label}, "
        f"from {words.day(rule.effective_from)}",
        lines=(
            f"Guideline for {people}: {words.money(first)} + {size - 1} × {words.money(more)} "
            f"= {words.money(guideline)}",
            f"Limit: {words.money(guideline)} × {percent:f} % = {words.money(amount, 2)}",
        ),
    )


def _of_median(percent: Decimal, state: str, *, size: int, on: date, rules: RuleSet) -> IncomeLimit:
    """Four-person median × share of the size, times the share of the test."""
    table = StateMedian.objects.in_force(on).filter(state=state).order_by("-effective_from").first()
    if table is None:
        raise ActionRefused(
            f"No state median income of {state} is entered for {words.day(on)}. "
            "Ask an administrator to enter it in the records, with where it was read."
        )
    share = setting(rules, f"state_median.share_{min(size, LARGEST_NAMED)}", on=on)
    if size > LARGEST_NAMED:
        share += (size - LARGEST_NAMED) * setting(rules, "state_median.each_more", on=on)
    median = table.four_person * share / 100
    amount = median * percent / 100
    people = words.count(size, "person", "people")
    return IncomeLimit(
        amount=amount,
        basis=f"{percent:f} % of the state median income",
        table=f"State median of {state}, from {words.day(table.effective_from)}",
        lines=(
            f"Median for {people}: {words.money(table.four_person)} × {share:f} % "
            f"= {words.money(median, 2)}",
            f"Limit: {words.money(median, 2)} × {percent:f} % = {words.money(amount, 2)}",
        ),
    )


def table_is_old(rules: RuleSet, *, region: str, on: date) -> bool:
    """Whether a newer poverty table has likely come out, and nobody has entered it."""
    rule, age = rules.get(f"poverty.{region}.first_person"), rules.get("eligibility.table_age_days")
    if rule is None or age is None or age.limit is None:
        return False
    return (on - rule.effective_from).days > exact(age.limit)
