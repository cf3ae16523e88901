"""Component leakage: from chamber readings to a figure per area and per length of crack."""

import pytest

from .examples import KNOWN, bench, checks_of, evaluate, shown

CFM = 0.3048**3 / 60
FOOT = 0.3048


def window(**changes):
    readings = {
        "component": "Kitchen window",
        "construction": "window",
        "direction": "depressurization",
        "conditions": {"barometric_pressure": 99.0},
        "pressure": -75.0,
        "total": {"flow": 18.4},
        "extraneous": {"flow": 5.1},
        "meter_temperature": 77.0,
        "area": 15.0,
        "crack_length": 16.0,
    }
    return bench("component", "chamber", **{**readings, **changes})


def test_a_window_at_75_pa():
    """ASTM E283 form worked by hand, from memory: 18.4 less 5.1 cfm at 99 kPa and 25 degC is
    13.053 cfm of standard air, 0.870 cfm/ft² over 15 ft² and 0.816 cfm/ft over 16 ft."""
    figures = shown(evaluate(window()))
    assert figures["Leakage at 75 Pa, standard air"]["value"] / CFM == pytest.approx(
        13.053, abs=5e-4
    )
    per_area = figures["Leakage per area at 75 Pa"]["value"]
    assert per_area / (CFM / FOOT**2) == pytest.approx(0.8702, abs=5e-5)
    per_crack = figures["Leakage per length of crack"]["value"]
    assert per_crack / (CFM / FOOT) == pytest.approx(0.8158, abs=5e-5)


def test_the_limit_decides_the_answer_and_not_whether_the_test_is_valid():
    """IECC R402.4.3, from memory: 0.3 cfm/ft² for windows, 0.5 for swinging doors."""
    leaky = evaluate(window(), instruments=KNOWN)
    tight = evaluate(window(area=60.0), instruments=KNOWN)
    between = window(area=30.0)
    assert (leaky.answer, leaky.verdict) == ("missed", "valid")
    assert (tight.answer, tight.verdict) == ("met", "valid")
    assert evaluate(between).answer == "missed"
    assert evaluate({**between, "construction": "swinging_door"}).answer == "met"


def test_an_area_that_was_not_measured_is_never_a_pass():
    evaluation = evaluate(window(area=None))
    assert evaluation.answer == "open"
    assert shown(evaluation)["Leakage per area at 75 Pa"]["value"] is None


def test_a_pressure_that_was_not_reached_is_extrapolated_and_says_so():
    """Power law, derived: (75/50)^0.65 = 1.3016, the inverse of 0.76832."""
    reached = shown(evaluate(window()))["Leakage at 75 Pa, standard air"]["value"]
    low = evaluate(window(pressure=-50.0))
    assert shown(low)["Leakage at 75 Pa, standard air"]["value"] / reached == pytest.approx(
        1 / 0.76832, rel=1e-4
    )
    assert checks_of(low, "component.extrapolated")
    assert not checks_of(evaluate(window()), "component.extrapolated")


def test_more_flow_sealed_than_open_gives_no_figure():
    evaluation = evaluate(window(extraneous={"flow": 20.0}))
    assert evaluation.verdict == "not_computed"
    assert "Total less extraneous flow" in checks_of(evaluation, "reading.refused")[0]["message"]


def test_without_a_temperature_there_is_no_figure_and_the_field_is_named():
    evaluation = evaluate(window(meter_temperature=None))
    assert evaluation.verdict == "not_computed"
    assert checks_of(evaluation, "reading.missing")[0]["field"] == "meter_temperature"


def test_a_turned_sign_is_a_question_until_the_sides_are_swapped():
    turned = window(pressure=75.0)
    assert evaluate(turned).verdict == "provisional"
    swapped = evaluate(turned, swapped=frozenset("A"))
    assert not checks_of(swapped, "reading.expected-sign")
    assert checks_of(swapped, "gauge.swapped")
    assert swapped.figures["shown"] == evaluate(window()).figures["shown"]
