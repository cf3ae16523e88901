"""Receipts counted up to a year."""

from decimal import Decimal

import pytest

from agency.errors import ActionRefused
from agency.intake.income import yearly_income
from agency.intake.models import IncomeItem


def item(amount, kind="wages", earner="adult"):
    return IncomeItem(kind=kind, earner=earner, amount=Decimal(amount))


def test_twelve_months_are_summed():
    assert yearly_income([item("10000.10"), item("5.05")], months=12).amount == Decimal("10005.15")


def test_three_months_count_four_times():
    """Derived: 12 ÷ 3."""
    assert yearly_income([item("6000")], months=3).amount == Decimal(24_000)


def test_a_month_that_does_not_divide_is_rounded_to_the_cent_once():
    """Derived: 100 × 12 ÷ 7 = 171.428…"""
    assert yearly_income([item("100")], months=7).amount == Decimal("171.43")


@pytest.mark.parametrize("kind", ["child_support", "capital_gain", "gift", "loan", "inheritance"])
def test_excluded_receipts_are_named_and_not_counted(kind):
    """Yearly federal income notice (WPN 25-3), second-hand, from memory."""
    found = yearly_income([item("900", kind)], months=12)
    assert found.amount == 0
    assert "excludes it" in found.lines[0]


@pytest.mark.parametrize("earner", ["under_18", "student"])
@pytest.mark.parametrize("kind", ["wages", "self_employment", "unemployment"])
def test_earnings_of_minors_and_students_are_not_counted(earner, kind):
    """Same notice, from memory."""
    assert yearly_income([item("900", kind, earner)], months=12).amount == 0


def test_social_security_paid_to_a_child_is_counted():
    assert yearly_income([item("900", "social_security", "under_18")], months=12).amount == 900


def test_nothing_received_is_zero_not_unknown():
    assert yearly_income([], months=12).amount == 0


@pytest.mark.parametrize("months", [0, 13, -1])
def test_other_spans_are_refused(months):
    with pytest.raises(ActionRefused, match=f"{months} months"):
        yearly_income([item("1")], months=months)
