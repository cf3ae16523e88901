"""Local exhaust: flow through box and hood, and what each edition asks of a room."""

import copy
import json

import pytest

from agency.diagnostics.documents import parse
from agency.errors import DocumentRefused

from .examples import KNOWN, bench, checks_of, evaluate, example, shown
from .test_evaluate_command import run
from .wrong_numbers import assert_every_number_may_be_wrong

NAME = "exhaust_fans.json"
CFM = 0.3048**3 / 60
BOX = {
    "room": "Bath",
    "sort": "bathroom",
    "operation": "on_demand",
    "measured_by": "orifice_box",
    "hole_area": 20.0,
    "discharge": 0.61,
    "box_pressure": -4.0,
}


def hood(flow, **changes):
    """A fan under a balanced hood."""
    balanced = {"measured_by": "powered_hood", "hood_flow": flow, "hood_pressure": 0.0}
    return {"room": "Bath", "sort": "bathroom", "operation": "on_demand"} | balanced | changes


def fans(*exhausts, edition="2019", **changes):
    return bench(
        "exhaust_fans", "each_fan", edition=edition, exhausts=copy.deepcopy(list(exhausts)),
        **changes,
    )  # fmt: skip


def test_flow_through_an_orifice_box():
    """1.0747 x 20 in² x √4 Pa = 42.99 cfm at Cd 0.61 in reference air; Bernoulli, derived."""
    evaluation = evaluate(fans(BOX))
    assert shown(evaluation)["Bath: exhaust"]["value"] / CFM == pytest.approx(42.988, abs=5e-4)
    assert evaluation.answer == "missed"


def test_thinner_air_moves_faster_through_the_same_hole():
    """√(1.2041/ρ) at 84 kPa and 20 °C dry air, ρ = 84 000/(287.055 x 293.15): derived."""
    thin = {"barometric_pressure": 84.0, "indoor_temperature": 68.0}
    ratio = (1.2041 / (84_000 / (287.055 * 293.15))) ** 0.5
    flows = [
        shown(evaluate(fans(BOX, **at)))["Bath: exhaust"]["value"]
        for at in ({}, {"conditions": thin})
    ]
    assert flows[1] / flows[0] == pytest.approx(ratio, rel=1e-4)


def test_the_uncertainty_surrounds_the_flow():
    figure = shown(evaluate(fans(BOX), instruments=KNOWN))["Bath: exhaust"]
    assert figure["low"] < figure["value"] < figure["high"]


@pytest.mark.parametrize(("flow", "answer"), [(50.0, "met"), (49.9, "missed"), (49.9999, "missed")])
def test_a_flow_is_held_unrounded(flow, answer):
    """50 cfm on demand in a bathroom, ASHRAE 62.2, from memory."""
    assert evaluate(fans(hood(flow))).answer == answer


EDITIONS = [
    ("2010", "bathroom", "continuous", 20), ("2022", "bathroom", "continuous", 20),
    ("2010", "bathroom", "on_demand", 50), ("2022", "kitchen_hood", "on_demand", 100),
    ("2016", "kitchen_other", "on_demand", 300), ("2022", "kitchen_other", "on_demand", 300),
    ("2013", "kitchen_other", "on_demand", 100),
    # 5 air changes of 9 x 12 x 8 ft = 864 ft³: 72 cfm, derived.
    ("2019", "kitchen_enclosed", "continuous", 72), ("2010", "kitchen_hood", "continuous", 72),
    ("2016", "kitchen_enclosed", "on_demand", 72),
]  # fmt: skip


@pytest.mark.parametrize(("edition", "sort", "operation", "cfm"), EDITIONS)
def test_what_each_edition_asks(edition, sort, operation, cfm):
    """ASHRAE 62.2 local exhaust, from memory."""
    room = {"room": "Room", "sort": sort, "operation": operation, "volume": 864.0}
    enough = evaluate(fans(hood(float(cfm), **room), edition=edition))
    assert (enough.answer, enough.edition) == ("met", edition)
    short = evaluate(fans(hood(cfm - 0.1, **room), edition=edition))
    assert short.answer == "missed"
    drawn = short.figures["drawing"]["bars"][0]
    assert (drawn["low"] / CFM, drawn["state"]) == (pytest.approx(cfm), "missed")


def test_an_older_kitchen_without_a_hood_needs_its_air_changes_too():
    """62.2-2010 and 2013: 100 cfm, and a hood below 5 air changes, from memory."""
    kitchen = {"room": "Kitchen", "sort": "kitchen_other", "volume": 1500.0}
    assert evaluate(fans(hood(110.0, **kitchen), edition="2013")).answer == "missed"
    assert evaluate(fans(hood(125.0, **kitchen), edition="2013")).answer == "met"
    unknown = evaluate(fans(hood(125.0, **{**kitchen, "volume": None}), edition="2013"))
    assert unknown.answer == "open"
    assert {one["field"] for one in unknown.checks if one["status"] == "not_verifiable"} >= {
        "exhausts[0].volume"
    }


def test_an_open_kitchen_may_not_rely_on_a_continuous_fan():
    """62.2-2016 and later, from memory."""
    kitchen = {"room": "Kitchen", "sort": "kitchen_hood", "operation": "continuous"}
    assert evaluate(fans(hood(500.0, **kitchen), edition="2016")).answer == "missed"


BLANK = [
    {**BOX, "measured_by": "not_measured"}, {**BOX, "box_pressure": None},
    {**BOX, "hole_area": None}, hood(None), hood(60.0, hood_pressure=None),
]  # fmt: skip


@pytest.mark.parametrize("exhaust", BLANK)
def test_a_blank_is_not_tested_and_never_a_pass(exhaust):
    evaluation = evaluate(fans(exhaust))
    assert evaluation.answer == "open"
    assert "not tested" in evaluation.figures["words"]
    assert shown(evaluation)["Rooms with enough exhaust"]["note"] == "of 1, 1 not tested"
    mixed = evaluate(fans({**exhaust, "room": "Other bath"}, hood(60.0)))
    assert mixed.answer == "open"


def test_no_list_of_fans_is_not_a_pass():
    assert evaluate(fans()).answer == "open"


def test_a_room_without_a_fan_moves_nothing():
    evaluation = evaluate(fans(hood(None, measured_by="no_fan")))
    assert evaluation.answer == "missed"
    assert shown(evaluation)["Bath: exhaust"]["value"] == 0.0


@pytest.mark.parametrize(
    ("changes", "words"),
    [({"box_pressure": -0.4}, "0.4 Pa"), ({"box_pressure": -9.0}, "9 Pa"),
     ({"discharge": 1.1}, "1.1")],
)  # fmt: skip
def test_a_reading_out_of_the_boxs_range_is_refused_in_words(changes, words):
    """1 to 8 Pa across the hole: common practice, no source."""
    evaluation = evaluate(fans({**BOX, **changes}))
    assert evaluation.answer == "open"
    assert words in evaluation.figures["words"]


def test_a_hood_that_was_not_balanced_is_refused():
    evaluation = evaluate(fans(hood(60.0, hood_pressure=2.0)))
    assert evaluation.answer == "open"
    assert "Hood less room pressure is 2 Pa" in evaluation.figures["words"]


def test_a_turned_sign_is_a_question_until_the_sides_are_swapped():
    turned = fans({**BOX, "box_pressure": 4.0})
    evaluation = evaluate(turned)
    assert (evaluation.verdict, evaluation.answer) == ("provisional", "open")
    swapped = evaluate(turned, swapped=frozenset("B"))
    assert not checks_of(swapped, "reading.expected-sign")
    assert swapped.figures["shown"] == evaluate(fans(BOX)).figures["shown"]


def test_two_rooms_of_one_name_are_refused():
    with pytest.raises(DocumentRefused) as refusal:
        parse(fans(BOX, hood(60.0)))
    assert [one.field for one in refusal.value.reasons] == ["exhausts[1].room"]


def test_whatever_the_numbers_there_is_an_answer_that_can_be_stored():
    assert_every_number_may_be_wrong(example(NAME))
    assert_every_number_may_be_wrong(
        fans(hood(60.0, sort="kitchen_enclosed", volume=864.0), edition="2013")
    )


def test_the_command_prints_its_figures():
    done = run(f"tests/examples/{NAME}")
    assert (done.returncode, done.stderr) == (0, "")
    printed = json.loads(done.stdout)
    assert (printed["edition"], printed["answer"]) == ("2019", "missed")
