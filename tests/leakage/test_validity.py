"""Criteria: both ends of each operator, and what is never a pass."""

import math

import pytest

from agency.leakage.errors import LeakageError
from agency.leakage.validity import Criterion, Status, judge


def criterion(operator, *, rejects=True, **limits):
    return Criterion(code="c", operator=operator, unit="Pa", rejects=rejects, **limits)


EDGES = [
    (">=", {"limit": 5}, 5.0, 4.999),
    ("<=", {"limit": 5}, 5.0, 5.001),
    (">", {"limit": 0}, 0.001, 0.0),
    ("<", {"limit": 10}, 9.999, 10.0),
    ("==", {"limit": 2}, 2.0, 3.0),
    ("between", {"low": 0.5, "high": 1.0}, 0.5, 0.499),
    ("between", {"low": 0.5, "high": 1.0}, 1.0, 1.001),
]


@pytest.mark.parametrize(("operator", "limits", "kept", "missed"), EDGES)
def test_the_limit_itself_and_just_beyond(operator, limits, kept, missed):
    assert judge(kept, criterion(operator, **limits)).status is Status.PASS
    assert judge(missed, criterion(operator, **limits)).status is Status.REJECT
    soft = criterion(operator, rejects=False, **limits)
    assert judge(missed, soft).status is Status.ADVISORY


def test_what_was_not_measured_is_neither_passed_nor_rejected():
    verdict = judge(None, criterion(">=", limit=5))
    assert verdict.status is Status.NOT_VERIFIABLE
    assert verdict.measured is None


def test_zero_is_a_reading():
    assert judge(0.0, criterion("<=", limit=5)).status is Status.PASS


def test_the_comparison_is_not_rounded():
    """0.9799 prints as 0.98 and still misses 0.98."""
    assert judge(0.9799, criterion(">=", limit=0.98)).status is Status.REJECT


def test_the_limit_in_words():
    assert judge(1.0, criterion(">=", limit=5)).limit == ">= 5 Pa"
    assert judge(1.0, criterion("between", low=10, high=60)).limit == "10 to 60 Pa"


@pytest.mark.parametrize("measured", [math.nan, math.inf])
def test_numbers_that_are_none_are_refused(measured):
    with pytest.raises(LeakageError, match="not a finite number"):
        judge(measured, criterion("<=", limit=5))


@pytest.mark.parametrize(
    "broken",
    [criterion("~", limit=1), criterion(">="), criterion("between", low=1), criterion("==")],
)
def test_a_criterion_without_its_limit_is_refused(broken):
    with pytest.raises(LeakageError):
        judge(1.0, broken)
