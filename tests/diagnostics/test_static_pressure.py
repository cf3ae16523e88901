"""External static pressure: plenums, parts outside, and the nameplate."""

import json

import pytest

from agency.charts.hookup import draw_hookup
from agency.diagnostics.forms.static_pressure import StaticPressureDocument
from agency.office.bench_drawings import DRAWERS
from agency.wording import words

from .examples import KNOWN, bench, checks_of, evaluate, example, shown
from .test_evaluate_command import run
from .wrong_numbers import assert_every_number_may_be_wrong

TOTAL = "External static pressure"
INCH_OF_WATER = 249.08891
"""From the package pint. [Pa]"""


def static(**changes):
    given = {"supply": 80.0, "return_plenum": -100.0}
    return bench("static_pressure", "plenums", **{**given, **changes})


def in_inches(supply, back, **changes):
    return {
        **static(supply=supply, return_plenum=back, **changes),
        "units": {"pressure": "inH2O"},
    }


def test_supply_less_return():
    """Derived: +0.32 and -0.41 in. w.c. are 0.73 in. w.c., 181.835 Pa."""
    figure = shown(evaluate(in_inches(0.32, -0.41)))[TOTAL]
    assert figure["value"] == pytest.approx(181.835, abs=5e-4)
    assert figure["value"] / INCH_OF_WATER == pytest.approx(0.73, rel=1e-6)


def test_both_units_are_shown():
    figure = shown(evaluate(in_inches(0.32, -0.41)))[TOTAL]
    text = words.figure("pressure", figure)
    assert text.startswith("181.8")
    assert "0.730" in text


@pytest.mark.parametrize(("nameplate", "answer"), [(0.8, "met"), (0.73, "met"), (0.7, "missed")])
def test_the_nameplate_is_the_limit_where_it_was_read(nameplate, answer):
    evaluation = evaluate(in_inches(0.32, -0.41, nameplate_maximum=nameplate), instruments=KNOWN)
    assert (evaluation.answer, evaluation.verdict) == (answer, "valid")


@pytest.mark.parametrize(("supply", "answer"), [(0.20, "met"), (0.32, "missed")])
def test_the_usual_maximum_is_the_limit_where_it_was_not(supply, answer):
    """Common practice, no source: 0.5 in. w.c.; 0.20 + 0.25 and 0.32 + 0.25."""
    evaluation = evaluate(in_inches(supply, -0.25))
    assert evaluation.answer == answer
    assert shown(evaluation)["Share of the nameplate's maximum"]["value"] is None


def test_a_coil_outside_the_cabinet_counts_as_external():
    """Common practice, no source: 80 + 100 + 30 Pa."""
    with_coil = evaluate(static(outside_parts=[{"name": "Cooling coil", "drop": 30.0}]))
    assert shown(with_coil)[TOTAL]["value"] == pytest.approx(210)
    labels = [one["label"] for one in with_coil.figures["drawing"]["bars"]]
    assert labels == ["Supply plenum", "Return plenum", "Cooling coil", "Total external"]


def test_two_parts_of_one_name_both_count():
    parts = [{"name": "Coil", "drop": 30.0}, {"name": "Coil", "drop": 20.0}]
    assert shown(evaluate(static(outside_parts=parts)))[TOTAL]["value"] == pytest.approx(230)


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"supply": None}, "supply"),
        ({"return_plenum": None}, "return_plenum"),
        ({"outside_parts": [{"name": "Coil", "drop": None}]}, "outside_parts[0].drop"),
    ],
)
def test_a_missing_reading_is_named(changes, field):
    evaluation = evaluate(static(**changes))
    assert evaluation.verdict == "not_computed"
    assert checks_of(evaluation, "reading.missing")[0]["field"] == field


def test_swapped_plenums_are_refused_until_the_sides_are_turned():
    turned = static(supply=-80.0, return_plenum=100.0)
    refused = evaluate(turned)
    assert refused.verdict == "not_computed"
    assert "hoses are not swapped" in checks_of(refused, "reading.refused")[0]["message"]
    swapped = evaluate(turned, swapped=frozenset("AB"))
    assert swapped.figures["shown"] == evaluate(static()).figures["shown"]


def test_one_turned_sign_is_a_question():
    evaluation = evaluate(static(return_plenum=60.0))
    assert evaluation.verdict == "provisional"
    assert checks_of(evaluation, "reading.expected-sign")[0]["field"] == "return_plenum"


def test_no_number_stops_the_evaluation():
    parts = [{"name": "Coil", "drop": 20.0}]
    assert_every_number_may_be_wrong(static(outside_parts=parts, nameplate_maximum=125.0))


def test_plenums_and_total_are_drawn():
    drawing = evaluate(static(nameplate_maximum=125.0)).figures["drawing"]
    assert drawing["bars"][-1]["high"] == 125.0
    assert "<svg" in DRAWERS["bars"](drawing, drawing["title"], 720)


def test_the_hook_up_card_can_be_drawn():
    for card in StaticPressureDocument.form.hookups:
        assert draw_hookup(card).startswith("<svg")


def test_the_command_prints_the_figures_of_the_example():
    done = run("tests/examples/static_pressure.json")
    assert (done.returncode, done.stderr) == (0, "")
    printed = json.loads(done.stdout)
    assert printed["figures"]["shown"] == evaluate(example("static_pressure.json")).figures["shown"]
    assert printed["answer"] == "missed"
