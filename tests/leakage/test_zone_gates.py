"""What a zone test may show, at and around made-up limits, and the words that go with it."""

import math

import pytest

from agency.leakage.errors import ShapeMismatch
from agency.leakage.validity import Status
from agency.leakage.zone_gates import ADVICE, Grade, ZoneLimits, judge_zone
from agency.leakage.zone_methods import open_door

from .zone_cases import CFM, read

LIMITS = ZoneLimits(
    closure=1.0,
    closure_share=0.03,
    edge=3.0,
    flow_change=3.0,
    denominator=3.0,
    smallest_change=5.0,
    highest_wind_deviation=2.0,
    report_uncertainty=0.20,
    caution_uncertainty=0.50,
    rejecting=frozenset({"zone_flow_change", "zone_edge", "zone_through"}),
)


def judged(*, z=12.0, moved=50.0, after_flow=2850.0, u_flow=0.01, u_zone=0.5, **changes):
    before, after = read(50, z, u_zone=u_zone), read(50, moved, u_zone=u_zone)
    leakage = open_door(
        before=before, after=after, flow_before=2400 * CFM, flow_after=after_flow * CFM,
        u_flow=u_flow, exponent=changes.pop("exponent", 0.65), reference=50,
    )  # fmt: skip
    case = {
        "closure": None,
        "wind_deviation": 0.5,
        "shared_with": (),
        "fan_flow": 2400 * CFM,
        "limits": LIMITS,
    }
    return judge_zone(leakage, before=before, after=after, **{**case, **changes})


def finding(judgement, code):
    return next(f for f in judgement.findings if f.verdict.criterion.code == code)


def missed(judgement):
    return {f.verdict.criterion.code for f in judgement.findings if f.advice}


def test_a_good_test_is_reported():
    found = judged(closure=1.4)
    assert found.grade is Grade.REPORT
    assert missed(found) == set()
    assert found.reason == ""


def test_what_was_not_measured_is_not_passed():
    found = judged(wind_deviation=None, fan_flow=None, shared_with=None)
    for code in ("zone_closure", "zone_wind", "zone_through", "zone_coupled"):
        assert finding(found, code).verdict.status is Status.NOT_VERIFIABLE


def test_flow_change_within_repeatability_is_refused():
    """By hand: sqrt(24² + 25²) = 34.655 cfm, so that 100 cfm is 2.886 uncertainties."""
    found = judged(after_flow=2500)
    gate = finding(found, "zone_flow_change").verdict
    assert gate.measured == pytest.approx(100 / math.hypot(24, 25), rel=1e-6)
    assert found.grade is Grade.NO_VALUE
    assert "Open more" in found.reason


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"closure": -1.6}, "zone_closure"),
        ({"z": 1.4}, "zone_edge"),
        ({"z": 48.6}, "zone_edge"),
        ({"z": 12.0, "moved": 16.5}, "zone_change"),
        ({"z": 12.0, "moved": 13.0, "u_zone": 0.5}, "zone_denominator"),
        ({"wind_deviation": 2.1}, "zone_wind"),
        ({"shared_with": ("attic",)}, "zone_coupled"),
        ({"fan_flow": 200 * CFM}, "zone_through"),
        ({"after_flow": 2530, "u_flow": 0.01}, "zone_uncertainty"),
    ],
)
def test_each_gate_says_what_to_change(changes, code):
    found = judged(**changes)
    assert code in missed(found)
    assert finding(found, code).advice.startswith(ADVICE[code])


def test_the_other_zone_is_named():
    assert "attic" in finding(judged(shared_with=("attic",)), "zone_coupled").advice


@pytest.mark.parametrize(
    ("after_flow", "grade"),
    [(2850, Grade.REPORT), (2530, Grade.CAUTION), (2460, Grade.INDICATIVE)],
)
def test_wider_errors_lower_the_grade(after_flow, grade):
    """34.7 cfm of 450, 130 and 60 cfm: 8, 27 and 58 % before the zone's own errors."""
    advising = ZoneLimits(
        **{name: getattr(LIMITS, name) for name in LIMITS.__slots__ if name != "rejecting"},
        rejecting=frozenset(),
    )
    assert judged(after_flow=after_flow, limits=advising).grade is grade


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"moved": 8.0}, "did not move towards"),
        ({"after_flow": 2300}, "did not rise"),
        ({"z": -0.4}, "0 or less"),
    ],
)
def test_no_value_comes_with_its_reason(changes, words):
    found = judged(**changes)
    assert found.grade is Grade.NO_VALUE
    assert words in found.reason


def test_an_exact_reading_is_not_judged_by_its_noise():
    found = judged(u_zone=0.0)
    assert finding(found, "zone_denominator").verdict.status is Status.NOT_VERIFIABLE


def test_a_band_of_exponents_is_not_one_test():
    with pytest.raises(ShapeMismatch, match="Judge each"):
        judged(exponent=[0.6, 0.7])
