"""Before against after, from stored figures."""

import copy
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from agency.diagnostics.bridge.document import compare, pair_of
from agency.diagnostics.evaluation import TestSide

from .examples import QUICK_RULES, evaluate, series_of, simple

DAY = datetime(2026, 10, 1, 15, 0, tzinfo=UTC)


def side(flow, *, phase="before", day=0, setup=None, **parts):
    """A test with known parts of its uncertainty; figures as they are stored."""
    figures = copy.deepcopy(
        evaluate(simple(method="one_point", series=[series_of([(50.0, flow)])])).figures
    )
    figures["flow_50"]["value"] = flow
    sizes = {"random": 0.02, "gauge": 0.0, "fan": 0.05, "other": 0.0, **parts}
    figures["uncertainty"] |= sizes
    figures["instruments"] |= {"fans": ["QM-F-07"], "configurations": ["wide"]}
    figures["setup"] = setup or {"interior_doors": "open"}
    return TestSide(
        figures=figures,
        phase=phase,
        method="ASTM E779",
        edition="19",
        taken_at=DAY + timedelta(days=day),
        verdict="valid",
        maths_version="2026.1",
    )


def outcome(before, after):
    return compare(before, after, rules=QUICK_RULES)


def test_a_common_error_cancels_in_the_share():
    """3000 to 2100, common 5 %, random 2 %: D 900 u 85.96, R 30.0 u 1.980 points (by hand)."""
    found = outcome(side(3000.0), side(2100.0, phase="after", day=20))
    assert found.verdict == "detectable"
    assert found.reduction == pytest.approx(0.30, abs=1e-12)
    assert found.reduction_uncertainty == pytest.approx(0.01980, abs=5e-6)
    assert found.figures["difference"]["uncertainty"] == pytest.approx(85.96, abs=0.005)


def test_another_fan_shares_no_error():
    """The same with independent errors of 5.385 % each: D u 197.2, R u 5.331 points (by hand)."""
    after = side(2100.0, phase="after", day=20)
    after.figures["instruments"]["fans"] = ["QM-F-08"]
    found = outcome(side(3000.0), after)
    assert found.reduction_uncertainty == pytest.approx(0.05331, abs=5e-6)
    assert found.figures["difference"]["uncertainty"] == pytest.approx(197.2, abs=0.05)
    assert any("does not cancel" in one["message"] for one in found.reasons)


def test_a_small_reduction_is_not_shown():
    """One-sided 95 %: R must exceed 1.645 u(R)."""
    found = outcome(side(3000.0), side(2900.0, phase="after", day=20))
    assert found.verdict == "not_detectable"


def test_a_leakier_house_keeps_its_negative_reduction():
    found = outcome(side(3000.0), side(3600.0, phase="after", day=20))
    assert found.reduction == pytest.approx(-0.2)
    assert "review.reduction" in {one["code"] for one in found.reasons}


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"verdict": "provisional"}, "after the work is provisional"),
        ({"method": "ISO 9972", "edition": "2015"}, "ISO 9972 2015"),
        ({"taken_at": DAY - timedelta(days=3)}, "3.0 days before"),
    ],
)
def test_tests_that_cannot_be_compared(change, words):
    after = replace(side(2100.0, phase="after", day=20), **change)
    found = outcome(side(3000.0), after)
    assert found.verdict == "not_comparable"
    assert any(words in one["message"] and one["forbids"] for one in found.reasons)


def test_another_state_of_the_house_is_not_comparable():
    after = side(2100.0, phase="after", day=20, setup={"interior_doors": "closed"})
    found = outcome(side(3000.0), after)
    assert found.verdict == "not_comparable"
    assert any("Interior doors" in one["message"] for one in found.reasons)


def test_one_test_alone():
    test = side(3000.0)
    assert outcome(None, test).verdict == "no_before"
    assert outcome(test, None).verdict == "no_after"
    assert outcome(test, None).before_flow_50 == 3000.0


def test_the_pair_is_the_last_before_and_the_last_after():
    first, again = side(3000.0), side(3010.0, day=1)
    during = side(2500.0, phase="during", day=10)
    after = side(2100.0, phase="after", day=20)
    inspected = side(2080.0, phase="inspection", day=30)
    assert pair_of([inspected, first, after, during, again]) == (again, inspected)
    assert pair_of([during]) == (None, None)
