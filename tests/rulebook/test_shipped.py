"""The shipped rule book is complete, dated and honest about where its numbers come from."""

from dataclasses import replace
from datetime import date, timedelta
from itertools import pairwise

import pytest

from agency.rulebook.models import Rule
from agency.rulebook.shipped import MissingRule, effective_on, shipped_rules

RULES = shipped_rules()
LENGTHS = {"code": 80, "standard": 80, "edition": 40, "clause": 80, "quantity": 160, "unit": 24,
           "source": 300, "next_step": 400}  # fmt: skip


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: f"{rule.code} {rule.effective_from}")
def test_each_rule_is_complete(rule):
    assert rule.operator in Rule.Operator.values
    assert rule.severity in Rule.Severity.values
    assert rule.provenance in Rule.Provenance.values
    assert rule.source
    assert rule.quantity
    assert rule.next_step.endswith(".")
    for name, most in LENGTHS.items():
        assert len(getattr(rule, name)) <= most
    if rule.operator == "between":
        assert rule.low < rule.high
        assert rule.limit is None
    else:
        assert rule.limit is not None
        assert (rule.low, rule.high) == (None, None)
    if rule.effective_to is not None:
        assert rule.effective_from <= rule.effective_to


def test_no_two_rules_of_one_code_are_in_force_on_one_day():
    by_code = {}
    for rule in sorted(RULES, key=lambda one: (one.code, one.effective_from)):
        by_code.setdefault(rule.code, []).append(rule)
    for rules in by_code.values():
        for earlier, later in pairwise(rules):
            assert earlier.effective_to is not None
            assert earlier.effective_to < later.effective_from


@pytest.mark.parametrize(("day", "edition"), [(date(2018, 12, 31), "10"), (date(2019, 1, 1), "19")])
def test_the_day_chooses_the_edition(day, edition):
    rule = effective_on(RULES, day).get("e779.exponent")
    assert rule.edition == edition


# Criteria of the standards, from memory: the numbers a person holding them would look up first.
CRITERIA = [
    ("e779.points", 5), ("e779.temperature-height", 200), ("iso9972.points", 5),
    ("iso9972.r-squared", 0.98), ("iso9972.zero-flow", 5), ("iso9972.temperature-height", 250),
    ("resnet380.lowest-pressure", 15), ("iso9972.highest-pressure-large", 25),
]  # fmt: skip


@pytest.mark.parametrize(("code", "limit"), CRITERIA)
def test_criteria_of_the_standards(code, limit):
    rule = effective_on(RULES, date(2026, 1, 1)).get(code)
    assert rule.limit == limit
    assert rule.severity == ("advisory" if code == "iso9972.temperature-height" else "reject")


def test_a_corrected_number_is_a_new_entry():
    day = date(2026, 6, 1)
    old = next(one for one in RULES if one.code == "iso9972.r-squared")
    book = [
        replace(old, effective_to=day - timedelta(days=1)),
        replace(old, limit=0.99, effective_from=day),
    ]
    assert effective_on(book, day - timedelta(days=1)).setting("iso9972.r-squared") == 0.98
    assert effective_on(book, day).setting("iso9972.r-squared") == 0.99


def test_a_missing_number_is_named():
    with pytest.raises(MissingRule, match=r"setting\.assumed-exponent"):
        effective_on(RULES, date(1999, 1, 1)).setting("setting.assumed-exponent")
