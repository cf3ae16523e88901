"""Pressure pans: scaled readings, registers over the limit, and those nobody read."""

import json

import pytest

from agency.charts.hookup import draw_hookup
from agency.diagnostics.forms.pressure_pan import PressurePanDocument
from agency.office.bench_drawings import DRAWERS

from .examples import KNOWN, bench, checks_of, evaluate, example, shown
from .test_evaluate_command import run
from .wrong_numbers import assert_every_number_may_be_wrong

HIGHEST = "Highest reading at 50 Pa"


def pans(*readings, **changes):
    registers = [
        {"name": f"Register {place + 1}", "side": "supply", "reading": reading}
        for place, reading in enumerate(readings)
    ]
    given = {
        "direction": "depressurization",
        "held_against": "each_register",
        "house_pressure": -50.0,
        "house_to_zone": -50.0,
        "registers": registers,
    }
    return bench("pressure_pan", "pan", **{**given, **changes})


def test_a_reading_is_scaled_by_what_the_duct_space_leaves_of_the_pressure():
    """Derived: 3 Pa with 40 Pa from house to attic is 3.75 Pa with 50."""
    figures = shown(evaluate(pans(3.0, 0.5, house_to_zone=-40.0)))
    assert figures[HIGHEST]["value"] == pytest.approx(3.75)
    assert figures["Sum of the readings"]["value"] == pytest.approx(4.375)
    assert figures[HIGHEST]["note"] == "Register 1"


@pytest.mark.parametrize(("reading", "answer"), [(1.0, "met"), (1.1, "missed")])
def test_each_register_is_held_against_the_programmes_limit(reading, answer):
    """Common practice, no source: 1 Pa at each register with the house at 50 Pa."""
    evaluation = evaluate(pans(0.3, reading), instruments=KNOWN)
    assert (evaluation.answer, evaluation.verdict) == (answer, "valid")


@pytest.mark.parametrize(("reading", "answer"), [(8.0, "met"), (9.0, "missed")])
def test_the_sum_is_held_against_three_pascals_a_register(reading, answer):
    """Common practice, no source: sum of 3 registers up to 9 Pa; 1 + 0 + 8 and 1 + 0 + 9."""
    evaluation = evaluate(pans(1.0, 0.0, reading, held_against="sum_of_registers"))
    assert evaluation.answer == answer


def test_a_register_over_the_limit_is_named():
    missed = checks_of(evaluate(pans(0.3, 4.0)), "pans.limit.each_register")
    assert [(one["field"], one["status"]) for one in missed] == [
        ("registers[1].reading", "advisory")
    ]
    assert missed[0]["message"].startswith("Register 2: 4.0 Pa")


@pytest.mark.parametrize("held_against", ["each_register", "sum_of_registers"])
def test_a_register_nobody_read_is_never_a_pass(held_against):
    evaluation = evaluate(pans(0.3, None, held_against=held_against))
    figures = shown(evaluation)
    assert evaluation.answer == "open"
    assert figures["Sum of the readings"]["value"] is None
    assert figures["Registers not read"]["value"] == 1
    assert evaluate(pans(None, None)).answer == "open"


def test_zero_is_a_reading():
    figures = shown(evaluate(pans(0.0)))
    assert (figures[HIGHEST]["value"], figures["Registers not read"]["value"]) == (0, 0)


def test_without_the_duct_space_a_limit_can_be_missed_but_not_met():
    """Derived: house to duct space is at most house to outside, so scaling only raises."""
    assert evaluate(pans(0.3, house_to_zone=None)).answer == "open"
    assert evaluate(pans(4.0, house_to_zone=None)).answer == "missed"


def test_a_duct_space_far_from_outside_is_said():
    evaluation = evaluate(pans(0.3, house_to_zone=-30.0))
    assert checks_of(evaluation, "pans.space-near-outside")[0]["status"] == "advisory"


def test_little_pressure_to_the_duct_space_makes_the_test_invalid():
    """Common practice, no source: below 10 Pa the scaled error is the gauge's."""
    assert evaluate(pans(0.3, house_to_zone=-5.0)).verdict == "rejected"


def test_without_a_house_pressure_the_field_is_named():
    evaluation = evaluate(pans(0.3, house_pressure=None))
    assert evaluation.verdict == "not_computed"
    assert checks_of(evaluation, "reading.missing")[0]["field"] == "house_pressure"


def test_a_reading_no_duct_can_have_is_refused_with_its_register():
    """Derived: a duct lies between room and outside, never beyond either."""
    message = checks_of(evaluate(pans(0.3, -3.0)), "reading.refused")[0]["message"]
    assert "Register 2" in message
    assert "hoses are not swapped" in message


def test_swapped_sides_of_the_pan_are_turned():
    turned = evaluate(pans(-0.4, -2.0), swapped=frozenset("B"))
    assert turned.figures["shown"] == evaluate(pans(0.4, 2.0)).figures["shown"]


def test_a_pressurized_house_turns_every_sign():
    up = pans(-0.4, -2.0, direction="pressurization", house_pressure=50.0, house_to_zone=50.0)
    assert evaluate(up).figures["shown"] == evaluate(pans(0.4, 2.0)).figures["shown"]


def test_a_house_pressure_of_the_wrong_sign_is_a_question():
    assert evaluate(pans(-0.3, house_pressure=50.0, house_to_zone=50.0)).verdict == "provisional"


def test_bars_show_each_register_read_or_not():
    drawing = evaluate(pans(0.3, None, 4.0)).figures["drawing"]
    assert [one["state"] for one in drawing["bars"]] == ["met", "unjudged", "missed"]
    assert "<svg" in DRAWERS["bars"](drawing, drawing["title"], 720)


def test_no_number_stops_the_evaluation():
    assert_every_number_may_be_wrong(pans(0.3, 4.0))


@pytest.mark.parametrize("card", PressurePanDocument.form.hookups, ids=lambda card: card.title)
def test_each_hook_up_card_can_be_drawn(card):
    assert draw_hookup(card).startswith("<svg")


def test_the_command_prints_the_figures_of_the_example():
    done = run("tests/examples/pressure_pan.json")
    assert (done.returncode, done.stderr) == (0, "")
    printed = json.loads(done.stdout)
    assert printed["figures"]["shown"] == evaluate(example("pressure_pan.json")).figures["shown"]
    assert printed["answer"] == "missed"
