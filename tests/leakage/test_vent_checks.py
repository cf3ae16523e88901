"""Spillage, draft and the zone as a whole: worked values, blanks and hazards."""

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agency.leakage.errors import LeakageError, OutOfRange
from agency.leakage.validity import Criterion, Status, judge
from agency.leakage.vent_checks import SpillageTest, draft_limit, judge_spillage, judge_zone

# 60 s, an older BPI summary sheet (read); 300 s, NFPA 54 and IFGC (from memory).
MINUTE, FIVE_MINUTES = (
    Criterion(code=f"spillage.{s}", operator="<=", limit=s, unit="s", rejects=True)
    for s in (60.0, 300.0)
)
# BPI technical standards before BPI-1200 (from memory): -2.5 Pa below 10 degF, T/40 - 2.75 to
# 90 degF, -0.5 Pa above.
DRAFT = [(10.0, -2.5), (90.0, -0.5)]


@pytest.mark.parametrize(
    ("watched", "cleared", "status"),
    [
        (60.0, 0.0, Status.PASS),
        (90.0, 60.0, Status.PASS),
        (90.0, 61.0, Status.REJECT),
        (90.0, None, Status.REJECT),
        (60.0, None, Status.REJECT),
        (30.0, None, Status.NOT_VERIFIABLE),
    ],
)
def test_spillage(watched, cleared, status):
    """At 60 s still spilling is a miss; at 30 s it is too early to say."""
    test = SpillageTest(watched=watched, cleared_after=cleared)
    assert judge_spillage(test, limits=[MINUTE, FIVE_MINUTES]).status is status


def test_an_appliance_not_tested_is_not_a_pass():
    assert judge_spillage(None, limits=[MINUTE]).status is Status.NOT_VERIFIABLE


def test_spillage_cannot_end_after_the_watching():
    with pytest.raises(OutOfRange, match="End of spillage is 90 s"):
        judge_spillage(SpillageTest(watched=60.0, cleared_after=90.0), limits=[MINUTE])


@pytest.mark.parametrize(
    ("temperature", "draft"), [(50, -1.50), (-5, -2.5), (10, -2.5), (90, -0.5), (110, -0.5)]
)
def test_draft(temperature, draft):
    assert draft_limit(temperature, table=DRAFT) == pytest.approx(draft, abs=1e-12)


@given(temperature=st.floats(min_value=10, max_value=90))
def test_draft_follows_the_printed_line(temperature):
    expected = temperature / 40 - 2.75
    assert draft_limit(temperature, table=DRAFT) == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize("table", [[], [(90, -0.5), (10, -2.5)], [(10.0,)]])
def test_a_table_that_does_not_rise_is_refused(table):
    with pytest.raises(LeakageError, match="Table of drafts"):
        draft_limit(50.0, table=table)


def verdict(measured):
    return judge(
        measured, Criterion(code="net", operator=">=", limit=-5.0, unit="Pa", rejects=True)
    )


CLEAR = {"flame roll-out": False, "gas leak": False}


def test_all_seen_and_passed():
    assert judge_zone({"net": verdict(-3.0)}, hazards=CLEAR) is Status.PASS


def test_a_hazard_overrides_every_number():
    found = judge_zone({"net": verdict(0.0)}, hazards=CLEAR | {"soot": True})
    assert found is Status.REJECT


@pytest.mark.parametrize(
    ("verdicts", "hazards"),
    [
        ({"net": verdict(None)}, CLEAR),
        ({"net": verdict(-3.0)}, CLEAR | {"soot": None}),
        ({}, CLEAR),
        ({"net": verdict(-3.0)}, {}),
        ({}, {}),
    ],
)
def test_a_blank_is_never_a_pass(verdicts, hazards):
    assert judge_zone(verdicts, hazards=hazards) is Status.NOT_VERIFIABLE


def test_a_miss_outweighs_a_blank():
    verdicts = {"net": verdict(-9.0), "spillage": verdict(None)}
    assert judge_zone(verdicts, hazards=CLEAR) is Status.REJECT


def test_every_combination_of_three_is_as_grave_as_its_gravest():
    """Pass only where all three pass; reject wherever one does."""
    for readings in itertools.product([-3.0, None, -9.0], repeat=3):
        verdicts = {str(i): verdict(reading) for i, reading in enumerate(readings)}
        found = judge_zone(verdicts, hazards=CLEAR)
        assert (found is Status.PASS) == all(r == -3.0 for r in readings)
        assert (found is Status.REJECT) == (-9.0 in readings)
