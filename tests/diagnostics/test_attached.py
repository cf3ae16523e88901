"""Guarded tests: what leaks outside and what next door, and who was asked first."""

import io
import json

import pytest
from django.core.management import call_command

from agency.diagnostics.documents import parse
from agency.errors import DocumentRefused

from .examples import FOLDER, KNOWN, bench, checks_of, evaluate, shown, status_of
from .wrong_numbers import assert_every_number_may_be_wrong
from .zone_cases import CFM

OUTSIDE = "Leakage to outside at 50 Pa"
THROUGH = "Leakage through the neighbour at 50 Pa"
WALL = "Wall to the neighbour at 50 Pa"


def guarded(*, off=2000.0, on=1600.0, left=0.0, **changes):
    readings = {
        "neighbour": "14 Quillmoor Row",
        "neighbour_consent": True,
        "neighbour_combustion_check": True,
        "direction": "depressurization",
        "baselines": [{"house": 0.0, "wall": 0.0}],
        "states": [
            {"guard": "off", "house": -50.0, "wall": -30.0, "seconds": 60, "deviation": 0.3,
             "fan": {"flow": off}},
            {"guard": "on", "house": -50.0, "wall": left, "seconds": 60, "deviation": 0.3,
             "fan": {"flow": on}},
        ],
    }  # fmt: skip
    return bench("attached", "guarded", **{**readings, **changes})


def cfm(evaluation, name):
    return shown(evaluation)[name]["value"] / CFM


def test_a_guarded_test_by_hand():
    """2000 less 1600 cfm passes the wall at 30 Pa, 400 (50/30)^0.65 = 557.5 at 50: derived."""
    evaluation = evaluate(guarded(), instruments=KNOWN)
    assert cfm(evaluation, OUTSIDE) == pytest.approx(1600, rel=1e-9)
    assert cfm(evaluation, THROUGH) == pytest.approx(400, rel=1e-9)
    assert cfm(evaluation, WALL) == pytest.approx(400 * (50 / 30) ** 0.65, rel=1e-9)
    assert (evaluation.verdict, evaluation.answer) == ("valid", "found")
    assert evaluation.figures["details"]["fan_flow"] / CFM == pytest.approx(2000)


def test_a_guard_that_is_not_exact_is_counted_and_named():
    """Mass balance: 2 Pa left across the wall pass C_W 2^n, derived."""
    evaluation = evaluate(guarded(left=-2.0))
    wall = 400 / (30**0.65 - 2**0.65)
    assert cfm(evaluation, WALL) == pytest.approx(wall * 50**0.65, rel=1e-9)
    assert cfm(evaluation, OUTSIDE) == pytest.approx(1600 - wall * 2**0.65, rel=1e-9)
    assert status_of(evaluation, "attached.guard") == {"advisory"}
    assert status_of(evaluate(guarded(left=-1.0)), "attached.guard") == {"pass"}


def test_an_overshooting_guard_is_no_swapped_hose():
    evaluation = evaluate(guarded(left=0.8), instruments=KNOWN)
    assert not checks_of(evaluation, "reading.expected-sign")
    assert cfm(evaluation, OUTSIDE) > 1600


@pytest.mark.parametrize("field", ["neighbour_consent", "neighbour_combustion_check"])
@pytest.mark.parametrize("answer", [None, False])
def test_the_neighbours_answers_are_asked_for_and_a_blank_is_no_pass(field, answer):
    evaluation = evaluate(guarded(**{field: answer}), instruments=KNOWN)
    assert evaluation.verdict == "provisional"
    (asked,) = [one for one in evaluation.checks if one["field"] == field]
    assert asked["status"] == "advisory"
    assert ("not recorded" in asked["message"]) == (answer is None)


def test_an_answered_question_lets_the_test_stand():
    stood_for = evaluate(
        guarded(neighbour_consent=None),
        instruments=KNOWN,
        confirmed=frozenset(["attached.consent"]),
    )
    assert stood_for.verdict == "valid"


def test_a_change_of_flow_within_its_noise_tells_nothing_of_the_wall():
    """1 % of 2000 and of 1940 cfm are 27.9 cfm together, so that 60 cfm are 2.15 of them. What
    the guarded fan reads stands all the same."""
    evaluation = evaluate(guarded(on=1940.0))
    for name in (THROUGH, WALL):
        assert shown(evaluation)[name]["value"] is None
        assert "in its uncertainty" in shown(evaluation)[name]["note"]
    assert cfm(evaluation, OUTSIDE) == pytest.approx(1940, rel=1e-9)
    assert evaluation.answer == "open"
    assert "is not told" in evaluation.figures["words"]


def test_a_fan_that_needs_more_with_the_guard_on_gives_no_value():
    evaluation = evaluate(guarded(on=2100.0))
    assert evaluation.verdict == "rejected"
    assert {shown(evaluation)[name]["value"] for name in (OUTSIDE, THROUGH, WALL)} == {None}
    assert "no less flow" in shown(evaluation)[OUTSIDE]["note"]
    assert "no less flow" in checks_of(evaluation, "attached.no-figures")[0]["message"]


@pytest.mark.parametrize(
    ("drop", "field"), [("on", "states"), ("off", "states"), ("fan", "states[1].fan")]
)
def test_a_missing_state_or_flow_is_named(drop, field):
    data = guarded()
    if drop == "fan":
        data["states"][1]["fan"] = None
    else:
        data["states"] = [one for one in data["states"] if one["guard"] != drop]
    evaluation = evaluate(data)
    missing = checks_of(evaluation, "reading.missing")[0]
    assert (evaluation.verdict, missing["field"]) == ("not_computed", field)
    assert drop in missing["message"].lower() or drop == "fan"


def test_one_state_twice_is_refused():
    data = guarded()
    data["states"][1]["guard"] = "off"
    with pytest.raises(DocumentRefused, match="Both states have the guard off"):
        parse(data)


def test_a_turned_sign_is_a_question_until_the_sides_are_swapped():
    turned = guarded()
    turned["states"][0]["wall"] = 30.0
    asked = evaluate(turned, instruments=KNOWN)
    assert asked.verdict == "provisional"
    assert checks_of(asked, "reading.expected-sign")[0]["field"] == "states[0].wall"
    swapped = evaluate(turned, instruments=KNOWN, swapped=frozenset("B"))
    assert cfm(swapped, THROUGH) == pytest.approx(400, rel=1e-9)
    assert not checks_of(swapped, "reading.expected-sign")


def test_no_number_breaks_the_evaluation_and_the_answer_is_plain_json():
    assert_every_number_may_be_wrong(guarded())


def test_the_example_is_evaluated_by_the_command():
    out = io.StringIO()
    call_command("evaluate", str(FOLDER / "attached.json"), stdout=out)
    figures = json.loads(out.getvalue())["figures"]
    assert figures["shown"][0]["name"] == OUTSIDE
    assert figures["shown"][0]["value"] / CFM == pytest.approx(1615, abs=5)
