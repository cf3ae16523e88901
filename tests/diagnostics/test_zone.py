"""Zone pressures: ratio, door, vent and hole, and what may be said of them."""

import io
import json
from datetime import UTC, datetime

import numpy as np
import pytest
from django.core.management import call_command

from agency.diagnostics.documents import parse
from agency.diagnostics.evaluation import BenchResult
from agency.errors import DocumentRefused
from agency.wording import words

from .examples import FOLDER, KNOWN, checks_of, evaluate, shown, status_of
from .wrong_numbers import assert_every_number_may_be_wrong
from .zone_cases import CFM, STEADY, door, hole, state, vent, zone

THROUGH = "Leakage through the zone at 50 Pa"
NEAR, FAR = (f"{name} boundary at 50 Pa" for name in ("House to zone", "Zone to outside"))
DIRECT = "House leakage past the zone at 50 Pa"
RATIO = "House to zone boundary over zone to outside boundary"
BAND = "The same for exponents of 0.60 to 0.70"


BASEMENT = {"states": [state(-46.0)], "zone_type": "basement"}


def cfm(evaluation, name):
    return shown(evaluation)[name]["value"] / CFM


@pytest.mark.parametrize(
    ("reading", "ratio"), [(-5, 0.23974), (-10, 0.40613), (-40, 2.46229), (-48, 7.89110)]
)
def test_pressures_alone_give_the_ratio_of_the_boundaries(reading, ratio):
    """(z/h)^0.65 at 50 Pa by hand: derived, five decimals printed."""
    found = shown(evaluate(zone("pressure_only", state(float(reading))), instruments=KNOWN))[RATIO]
    assert found["value"] == pytest.approx(ratio, abs=5e-6)
    assert found["low"] < ratio < found["high"]


def test_read_against_the_house_the_ratio_is_the_same():
    outside = zone("pressure_only", state(-12.0))
    inside = zone("pressure_only", state(-38.0), across="house_zone")
    assert evaluate(inside).figures["details"]["zone_to_outside"] == pytest.approx(12)
    assert shown(evaluate(inside))[RATIO]["value"] == shown(evaluate(outside))[RATIO]["value"]


def test_a_zone_near_the_house_gives_a_lower_bound_in_words():
    """By hand: h is at most 1 + 1.644854 x sqrt(0.5² + 0.5²) = 2.1631 Pa, as house and zone err
    by half a pascal each, so that R is at least (47.8369/2.1631)^0.65 = 7.4825. Derived."""
    evaluation = evaluate(zone("pressure_only", state(-49.0)), instruments=STEADY)
    found = shown(evaluation)[RATIO]
    assert (found["value"], found["high"]) == (None, None)
    assert found["low"] == pytest.approx(7.4825, abs=5e-5)
    assert "at least 7.48\u202f: 1" in evaluation.figures["words"]
    assert words.figure("ratio_to_one", found) == "at least 7.48\u202f: 1"


def test_pressures_alone_never_tell_a_size():
    evaluation = evaluate(zone("pressure_only", state(-5.0)))
    assert "says nothing of size" in evaluation.figures["words"]
    assert {one["flow"] for one in evaluation.figures["drawing"]["paths"]} == {None}


def test_a_door_opened():
    """2400 to 2850 cfm, 12 to 50 Pa: C_ZO 58.5436, C_HZ 27.6750, 294.4066 cfm. Derived."""
    evaluation = evaluate(door(), instruments=KNOWN)
    assert cfm(evaluation, THROUGH) == pytest.approx(294.4066, abs=5e-5)
    assert cfm(evaluation, FAR) == pytest.approx(58.5436 * 50**0.65, rel=1e-6)
    assert cfm(evaluation, NEAR) == pytest.approx(27.6750 * 50**0.65, rel=2e-6)
    assert cfm(evaluation, DIRECT) == pytest.approx(2105.6, abs=0.05)
    assert evaluation.verdict == "valid"


def test_what_can_be_sealed_is_less_than_either_boundary_and_says_so():
    """Sealing either boundary perfectly takes away the series flow: derived."""
    figures = shown(evaluate(door()))
    for name in (NEAR, FAR):
        assert figures[THROUGH]["value"] < figures[name]["value"]
        assert "not what sealing can take away" in figures[name]["note"]
    assert next(iter(figures)) == THROUGH
    assert "the most that sealing either boundary can take away" in figures[THROUGH]["note"]


def test_a_zone_vented_to_outside():
    """1900 to 2100 cfm, house side 30 to 49 Pa: C_HZ 58.3649, C_ZO 75.9646, 532.4523 cfm.
    Derived."""
    evaluation = evaluate(vent())
    assert cfm(evaluation, THROUGH) == pytest.approx(532.4523, abs=5e-5)
    assert cfm(evaluation, NEAR) == pytest.approx(58.3649 * 50**0.65, rel=1e-6)
    assert cfm(evaluation, FAR) == pytest.approx(75.9646 * 50**0.65, rel=1e-6)


def test_a_hole_in_the_house_side():
    """60 in², C_d 0.6, zone 5 to 12 Pa: 480.883 and 2005.844 cfm at 50 Pa, 449.1 through. Derived
    with Q = C_d A sqrt(2 dp/1.2041)."""
    evaluation = evaluate(hole())
    assert cfm(evaluation, NEAR) == pytest.approx(480.883, abs=5e-4)
    assert cfm(evaluation, FAR) == pytest.approx(2005.844, abs=5e-4)
    assert cfm(evaluation, THROUGH) == pytest.approx(449.1, abs=0.05)


def test_a_hole_in_the_outer_side():
    """30 in², zone 25 to 10 Pa: both boundaries 195.221 cfm at 50 Pa. Derived."""
    evaluation = evaluate(hole(boundary="zone_outside", area=30.0, pressures=(-25.0, -10.0)))
    for name in (NEAR, FAR):
        assert cfm(evaluation, name) == pytest.approx(195.221, abs=5e-4)


def test_the_band_of_exponents_stands_beside_the_reading_error():
    """Exponents 0.60 and 0.70 give 528.943 and 439.695 cfm for the house side: derived."""
    evaluation = evaluate(hole())
    band = evaluation.figures["details"]["house_zone_band"]
    assert [one / CFM for one in band] == pytest.approx([439.695, 528.943], abs=5e-4)
    assert "440 to 529\u202fcfm for exponents of 0.60 to 0.70" in shown(evaluation)[NEAR]["note"]
    assert shown(evaluation)[BAND]["low"] < shown(evaluation)[BAND]["value"]


def test_a_coefficient_left_blank_is_the_rule_books_and_says_so():
    """Flow of an opening goes with C_d: derived. The rule book's is 0.6."""
    blank, one = evaluate(hole(discharge=None)), evaluate(hole(discharge=1.0))
    given = evaluate(hole())
    assert shown(blank)[THROUGH]["value"] == shown(given)[THROUGH]["value"]
    assert "rule book" in shown(blank)["Its discharge coefficient"]["note"]
    assert shown(given)["Its discharge coefficient"]["note"] == "as sent"
    assert cfm(one, THROUGH) == pytest.approx(cfm(given, THROUGH) / 0.6)


def test_colder_air_in_the_hole_is_denser_and_less_passes_it():
    """sqrt(2 dp/rho): dry air of 0 degC at 101325 Pa is 1.2922 kg/m³ (ideal gas law, derived)."""
    cold = hole(zone_temperature=32.0, conditions={"barometric_pressure": 101.325})
    ratio = cfm(evaluate(cold), THROUGH) / cfm(evaluate(hole()), THROUGH)
    assert ratio == pytest.approx((1.2041 / 1.2922) ** 0.5, rel=1e-4)


def test_random_errors_of_a_door_against_drawn_readings():
    """1 % of each flow and 0.5 Pa of each pressure, 200 000 draws of the closed form: derived."""
    e = np.random.default_rng(8).standard_normal((6, 200_000))
    p_1, z_1, p_2, z_2 = (at + 0.5 * e[i] for i, at in enumerate((50, 12, 50, 45)))
    scale = (p_2 / p_1) ** 0.65
    rise = 2850 * (1 + 0.01 * e[5]) - scale * 2400 * (1 + 0.01 * e[4])
    through = rise / (z_2**0.65 - scale * z_1**0.65) * z_1**0.65 * (50 / p_1) ** 0.65
    states = (state(-12.0, flow=2400.0), state(-45.0, flow=2850.0))
    u = evaluate(door(states=states), instruments=STEADY).figures["details"]["u_through_zone"]
    assert u == pytest.approx(through.std() / through.mean(), rel=0.02)


def test_the_interval_holds_the_calibration_of_the_fan_too():
    """5 % half-width over √3 is 2.887 %; 95 % of both together, derived."""
    evaluation = evaluate(door(), instruments=STEADY)
    u = evaluation.figures["details"]["u_through_zone"]
    found = shown(evaluation)[THROUGH]
    both = (u**2 + (0.05 / 3**0.5) ** 2) ** 0.5
    assert found["high"] / found["value"] == pytest.approx(2.718281828 ** (1.96 * both), rel=1e-4)


def test_baselines_are_taken_off_each_channel():
    offset = door(
        states=(
            state(-12.3, house=-51.0, flow=2400.0),
            state(-50.3, house=-51.0, flow=2850.0),
        ),
        baselines=[{"house": -0.9, "zone": -0.2}, {"house": -1.1, "zone": -0.4}],
    )
    assert cfm(evaluate(offset), THROUGH) == pytest.approx(294.4066, abs=5e-5)


def test_without_a_baseline_the_result_stays_provisional():
    evaluation = evaluate(door(baselines=[]), instruments=KNOWN)
    assert evaluation.verdict == "provisional"
    assert checks_of(evaluation, "reading.baseline-missing")[0]["field"] == "baselines"


def test_pressurization_gives_the_same_with_the_other_signs():
    other = door(
        direction="pressurization",
        states=(
            state(12.0, house=50.0, flow=2400.0),
            state(50.0, house=50.0, flow=2850.0),
        ),
    )
    assert cfm(evaluate(other), THROUGH) == pytest.approx(294.4066, abs=5e-5)
    assert not checks_of(evaluate(other), "reading.expected-sign")


def test_a_turned_sign_is_a_question_until_the_sides_are_swapped():
    turned = door(states=(state(12.0, flow=2400.0), state(50.0, flow=2850.0)))
    asked = evaluate(turned, instruments=KNOWN)
    assert asked.verdict == "provisional"
    assert {one["field"] for one in checks_of(asked, "reading.expected-sign")} == {
        "states[0].zone",
        "states[1].zone",
    }
    swapped = evaluate(turned, instruments=KNOWN, swapped=frozenset("B"))
    assert not checks_of(swapped, "reading.expected-sign")
    assert swapped.figures["shown"] == evaluate(door(), instruments=KNOWN).figures["shown"]


def test_a_turned_sign_that_someone_stands_for_is_no_zone_pressure():
    turned = door(states=(state(12.0, flow=2400.0), state(50.0, flow=2850.0)))
    stood_for = evaluate(turned, confirmed=frozenset(["reading.expected-sign"]))
    assert shown(stood_for)[THROUGH]["value"] is None
    assert "0 or less" in shown(stood_for)[THROUGH]["note"]


def test_noise_around_zero_is_no_swapped_hose():
    near = zone("pressure_only", state(0.1))
    assert not checks_of(evaluate(near, instruments=KNOWN), "reading.expected-sign")
    assert "at most" in evaluate(near, instruments=KNOWN).figures["words"]


def test_a_flow_that_hardly_rose_gives_no_value_and_the_reason():
    """By hand: sqrt(24² + 25²) = 34.655 cfm, so that 100 cfm is 2.886 of its uncertainties."""
    weak = door(states=(state(-12.0, flow=2400.0), state(-50.0, flow=2500.0)))
    evaluation = evaluate(weak)
    assert checks_of(evaluation, "zone.flow-change")[0]["status"] == "reject"
    assert (evaluation.verdict, evaluation.answer) == ("rejected", "open")
    for name in (THROUGH, NEAR, FAR, DIRECT, RATIO, BAND):
        assert shown(evaluation)[name]["value"] is None
        assert "repeatability" in shown(evaluation)[name]["note"]
    assert evaluation.figures["details"]["through_zone"] is None


@pytest.mark.parametrize(
    ("data", "reason"),
    [
        (door(states=(state(-12.0, flow=2400.0), state(-8.0, flow=2850.0))), "did not move"),
        (door(states=(state(-12.0, flow=2400.0), state(-50.0, flow=2300.0))), "did not rise"),
        (hole(pressures=(-12.0, -5.0)), "did not move towards"),
    ],
)
def test_states_that_cannot_be_give_no_value_and_the_reason(data, reason):
    evaluation = evaluate(data)
    assert evaluation.verdict == "rejected"
    assert reason in checks_of(evaluation, "zone.no-figures")[0]["message"]
    assert reason in shown(evaluation)[THROUGH]["note"]


@pytest.mark.parametrize(
    ("flow", "grade", "words_"),
    [(2850.0, "report", ""), (2530.0, "caution", "caution"), (2471.0, None, "")],
)
def test_wider_errors_lower_the_grade(flow, grade, words_):
    """34.7 cfm of 450 and of 130 cfm are 8 and 27 %; 71 cfm are fewer than three of them."""
    evaluation = evaluate(door(states=(state(-12.0, flow=2400.0), state(-50.0, flow=flow))))
    assert evaluation.figures["details"]["grade"] == (grade or "no_value")
    assert words_ in evaluation.figures["words"]


def test_a_small_hole_is_indicative_only():
    """Zone 5 to 6 Pa, half a pascal each: 76 % by central differences, derived."""
    evaluation = evaluate(
        hole(pressures=(-5.0, -6.0)), instruments=STEADY,
        confirmed=frozenset(),
    )  # fmt: skip
    assert evaluation.figures["details"]["grade"] == "no_value"
    assert status_of(evaluation, "zone.denominator") == {"reject"}
    assert status_of(evaluation, "zone.change") == {"advisory"}


def test_pressures_that_do_not_add_up_are_seen():
    """3 % of 50 Pa is 1.5 Pa: 39.4 + 12 misses 50 by 1.4, 39.6 by 1.6. Common practice, no
    source."""
    for third, status in ((-39.4, "pass"), (-39.6, "advisory")):
        states = (state(-12.0, flow=2400.0, third=third), state(-50.0, flow=2850.0))
        assert status_of(evaluate(door(states=states)), "zone.closure-share") == {status}


def test_at_low_pressure_one_pascal_may_be_missing():
    low = zone("pressure_only", state(-5.0, house=-20.0, third=-16.2))
    assert status_of(evaluate(low), "zone.closure") == {"advisory"}


def test_blanks_never_pass():
    evaluation = evaluate(
        door(
            states=(state(-12.0, flow=2400.0, deviation=None), state(-50.0, flow=2850.0)),
            shares_with=None,
        )
    )
    for code in ("zone.closure", "zone.wind", "zone.coupled"):
        assert status_of(evaluation, code) == {"not_verifiable"}


def test_a_zone_that_shares_a_boundary_is_biased_and_says_so():
    coupled = checks_of(evaluate(door(shares_with=["Attic"])), "zone.coupled")[0]
    assert coupled["status"] == "advisory"
    assert "Attic" in coupled["message"]
    assert "network" in coupled["next_step"]


@pytest.mark.parametrize(
    ("data", "field"),
    [
        (door(states=(state(-12.0, flow=2400.0),)), "states[1]"),
        (door(states=(state(-12.0), state(-50.0, flow=2850.0))), "states[0].fan"),
        (hole(area=None), "opening.area"),
        (hole(boundary=None), "opening.boundary"),
        (hole(opening=None), "opening"),
    ],
)
def test_a_reading_the_method_needs_is_named(data, field):
    evaluation = evaluate(data)
    assert evaluation.verdict == "not_computed"
    assert checks_of(evaluation, "reading.missing")[0]["field"] == field


def test_a_method_and_an_opening_that_contradict_each_other_are_refused():
    with pytest.raises(DocumentRefused, match="opens house_zone, not zone_outside"):
        parse(door(opening={"boundary": "zone_outside"}))


@pytest.mark.parametrize(
    ("changes", "answer"),
    [
        ({"states": [state(-4.0)]}, "met"),
        ({"states": [state(-12.0)]}, "missed"),
        ({"states": [state(-12.0)], "zone_type": "other"}, "found"),
        ({**BASEMENT, "air_barrier": "zone_outside"}, "met"),
        ({**BASEMENT, "air_barrier": "house_zone"}, "missed"),
        (BASEMENT, "open"),
        ({"states": [state(-1.6, house=-20.0)]}, "met"),
    ],
)  # fmt: skip
def test_the_reading_wanted_of_a_kind_of_zone(changes, answer):
    """45 of 50 Pa across the boundary meant to be the barrier: common practice, no source."""
    assert evaluate(zone("pressure_only", state(-12.0), **changes)).answer == answer


def earlier(method, through, **changes):
    details = {"zone": "garage", "through_zone": through * CFM, "u_through_zone": 0.08}
    return BenchResult(
        kind="zone",
        method=method,
        phase="before",
        taken_at=datetime(2026, 10, 14, 15, 0, tzinfo=UTC),
        details={**details, **changes},
    )


def test_two_methods_for_one_garage_are_held_side_by_side():
    close = evaluate(door(), bench=(earlier("vent_outside", 300),))
    apart = evaluate(door(), bench=(earlier("vent_outside", 700),))
    assert "the two agree" in close.figures["words"]
    assert "the two do not agree" in apart.figures["words"]
    assert status_of(close, "zone.methods-agree") == {"pass"}
    assert status_of(apart, "zone.methods-agree") == {"advisory"}


@pytest.mark.parametrize(
    "other",
    [
        earlier("open_door", 300),
        earlier("pressure_only", 300),
        earlier("vent_outside", 300, zone="Attic"),
        earlier("vent_outside", 300, through_zone=None),
    ],
)
def test_another_zone_or_the_same_method_is_not_compared(other):
    assert not checks_of(evaluate(door(), bench=(other,)), "zone.methods-agree")


@pytest.mark.parametrize("make", [door, vent, hole, lambda: zone("pressure_only", state(-5.0))])
def test_no_number_breaks_the_evaluation_and_the_answer_is_plain_json(make):
    assert_every_number_may_be_wrong(make())


def test_the_example_is_evaluated_by_the_command():
    out = io.StringIO()
    call_command("evaluate", str(FOLDER / "zone.json"), stdout=out)
    figures = json.loads(out.getvalue())["figures"]
    assert figures["shown"][0]["name"] == THROUGH
    assert figures["shown"][0]["value"] / CFM == pytest.approx(294, abs=2)
