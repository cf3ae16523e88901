"""Room balance: closed rooms against the limits in force, and the opening each one lacks."""

import json

import pytest

from agency.charts.hookup import draw_hookup
from agency.diagnostics.bridge import kinds
from agency.diagnostics.documents import parse
from agency.diagnostics.evaluation import Context
from agency.diagnostics.forms.room_balance import RoomBalanceDocument
from agency.office.bench_drawings import DRAWERS
from agency.rulebook.shipped import shipped_rules

from .examples import KNOWN, bench, checks_of, evaluate, example, shown
from .test_evaluate_command import run
from .wrong_numbers import assert_every_number_may_be_wrong

SQUARE_INCH = 0.0254**2
UNNAMED = [one for one in shipped_rules() if not one.code.startswith("rooms.programme-basis")]
"""The shipped rule book of an agency whose programme names no basis."""
ENERGY_STAR = [one for one in UNNAMED if not one.code.endswith((".florida", "_specifications"))]
"""The same with one basis in force."""


def rooms(*pressures, **more):
    listed = [
        {"name": f"Room {place + 1}", "pressure": pressure, **more}
        for place, pressure in enumerate(pressures)
    ]
    return bench("room_balance", "doors_closed", rooms=listed)


def answer_by(rules, test):
    return kinds.evaluate(parse(test), rules=rules, context=Context()).answer


@pytest.mark.parametrize(
    ("pressure", "answer"), [(3.0, "met"), (-3.0, "met"), (3.1, "missed"), (-3.1, "missed")]
)
def test_a_room_is_held_to_three_pascals_either_way(pressure, answer):
    """NREL Standard Work Specifications 6.6201.2, read: 3 Pa with interior doors closed."""
    evaluation = evaluate(rooms(0.5, pressure), instruments=KNOWN)
    assert (evaluation.answer, evaluation.verdict) == (answer, "valid")


def test_without_a_named_basis_the_strictest_in_force_decides():
    """Florida Building Code 601.4, read as quoted: 2.5 Pa, less than the 3 Pa of the others."""
    assert evaluate(rooms(2.8)).answer == "met"
    assert answer_by(UNNAMED, rooms(2.8)) == "missed"
    assert answer_by(UNNAMED, rooms(2.5)) == "met"


def test_a_room_with_much_air_has_the_wide_limit_where_its_design_flow_is_known():
    """ENERGY STAR, read as quoted: 5 Pa from 150 cfm of design flow, 3 Pa otherwise."""
    assert answer_by(ENERGY_STAR, rooms(4.9, design_flow=150.0)) == "met"
    assert answer_by(ENERGY_STAR, rooms(5.1, design_flow=150.0)) == "missed"
    assert answer_by(ENERGY_STAR, rooms(4.9, design_flow=149.0)) == "missed"
    assert answer_by(ENERGY_STAR, rooms(4.9)) == "missed"


def test_a_rule_book_without_a_basis_finds_and_does_not_judge():
    rules = [one for one in UNNAMED if not one.code.startswith("rooms.limit")]
    assert answer_by(rules, rooms(40.0)) == "found"


def test_a_room_nobody_read_is_never_a_pass():
    evaluation = evaluate(rooms(0.5, None))
    assert evaluation.answer == "open"
    assert shown(evaluation)["Rooms not read"]["note"] == "Room 2"


def test_zero_is_a_reading():
    evaluation = evaluate(rooms(0.0))
    assert evaluation.answer == "met"
    assert shown(evaluation)["Farthest from the main body"]["value"] == 0


def test_a_room_over_its_limit_is_named():
    missed = checks_of(evaluate(rooms(0.5, -6.0)), "rooms.limit.work_specifications")
    assert [one["field"] for one in missed] == ["rooms[1].pressure"]
    assert missed[0]["message"] == "Room 2: -6.0 Pa to the main body; the limit is 3 Pa."


def test_opening_a_room_needs_for_its_supply_air():
    """Orifice equation, derived: 120 cfm at 3 Pa, discharge 0.6, 1.2041 kg/m³: 65.541 in²."""
    figures = shown(evaluate(rooms(8.0, supply_flow=120.0)))
    needed = figures["Room 1: opening needed in all"]["value"]
    assert needed / SQUARE_INCH == pytest.approx(65.541, abs=5e-3)
    assert figures["Room 1: opening to add"]["note"] == "open area not measured"


def test_opening_to_add_to_the_one_there_is():
    """Derived: a drop of 12 Pa through 20 in² falls to 3 Pa through twice the area."""
    figures = shown(evaluate(rooms(12.0, open_area=20.0)))
    assert figures["Room 1: opening to add"]["value"] / SQUARE_INCH == pytest.approx(20.0)
    assert figures["Room 1: opening needed in all"]["value"] is None


def test_a_room_within_its_limit_needs_no_opening():
    assert "Room 1: opening to add" not in shown(evaluate(rooms(1.0, open_area=20.0)))


def test_swapped_sides_turn_every_room():
    figures = shown(evaluate(rooms(6.0, 1.0), swapped=frozenset("A")))
    assert figures["Farthest from the main body"]["value"] == -6.0


def test_bars_show_both_limits():
    drawing = evaluate(rooms(-4.0, 1.0, None)).figures["drawing"]
    assert [(one["low"], one["high"]) for one in drawing["bars"]] == [(-3.0, 3.0)] * 3
    assert [one["state"] for one in drawing["bars"]] == ["missed", "met", "unjudged"]
    assert "<svg" in DRAWERS["bars"](drawing, drawing["title"], 720)


def test_no_number_stops_the_evaluation():
    assert_every_number_may_be_wrong(
        rooms(6.0, 1.0, design_flow=160.0, supply_flow=120.0, open_area=20.0)
    )


def test_the_hook_up_card_can_be_drawn():
    for card in RoomBalanceDocument.form.hookups:
        assert draw_hookup(card).startswith("<svg")


def test_the_command_prints_the_figures_of_the_example():
    done = run("tests/examples/room_balance.json")
    assert (done.returncode, done.stderr) == (0, "")
    printed = json.loads(done.stdout)
    assert printed["figures"]["shown"] == evaluate(example("room_balance.json")).figures["shown"]
    assert printed["answer"] == "missed"
