"""Duct leakage in operation: both fits of a sweep, and what the readings do not tell."""

import json
from dataclasses import replace
from math import log, sqrt

import pytest

from agency.charts.hookup import draw_hookup
from agency.diagnostics.bridge import kinds
from agency.diagnostics.documents import parse
from agency.diagnostics.evaluation import Context
from agency.diagnostics.forms.duct_sweep import DuctSweepDocument
from agency.office.bench_drawings import DRAWERS
from agency.rulebook.shipped import shipped_rules

from .examples import KNOWN, bench, checks_of, evaluate, example, shown
from .test_evaluate_command import run
from .wrong_numbers import assert_every_number_may_be_wrong

CFM = 0.3048**3 / 60
STATIONS = (-50, -40, -30, -20, -10, -5, 5, 10, 20, 30, 40, 50)
SUPPLY, RETURN = (
    "Supply leakage, plenum pressures measured",
    "Return leakage, plenum pressures measured",
)
FREE_SUPPLY, FREE_RETURN = "Supply leakage, pressures fitted", "Return leakage, pressures fitted"


def added(x, *, supply=90.0, back=60.0, by_supply=60.0, by_return=90.0):
    """Flow outward with the air handler on, less off, written out apart from the code. [cfm]"""

    def leak(pressure, at):
        return (abs(pressure) / at) ** 0.6 * (1 if pressure > 0 else -1)

    on = supply * leak(x + by_supply, by_supply) + back * leak(x - by_return, by_return)
    return on - supply * leak(x, by_supply) - back * leak(x, by_return)


def station(x):
    """A house of 150 cfm/Pa^0.65 whose fan moves less, or more, while the air handler runs."""
    sign = 1 if x > 0 else -1
    off = 150 * abs(x) ** 0.65
    return {
        "direction": "pressurization" if x > 0 else "depressurization",
        "off": {"house_pressure": float(x), "flow": off},
        "on": {
            "house_pressure": float(x),
            "flow": off + sign * added(x),
        },
    }


def sweep(stations=STATIONS, **changes):
    given = {
        "baseline": 0.0,
        "supply_plenum": 60.0,
        "return_plenum": -90.0,
        "stations": [station(x) for x in stations],
    }
    return bench("duct_sweep", "on_off_sweep", **{**given, **changes})


def test_a_clean_sweep_gives_back_both_leakages_either_way():
    """Derived: readings made of 90 and 60 cfm at 60 and 90 Pa, exponent 0.6."""
    evaluation = evaluate(sweep(), instruments=KNOWN)
    figures = shown(evaluation)
    assert (evaluation.answer, evaluation.verdict) == ("found", "valid")
    for name, cfm in ((SUPPLY, 90), (RETURN, 60), (FREE_SUPPLY, 90), (FREE_RETURN, 60)):
        assert figures[name]["value"] / CFM == pytest.approx(cfm, rel=1e-4)


@pytest.mark.parametrize(("x", "change"), [(-25, 76.6712), (25, -19.4851)])
def test_differences_are_counted_outward_whichever_way_the_fan_blows(x, change):
    """Derived, by pocket calculator: 76.6712 and -19.4851 cfm for 90, 60 cfm at 60, 90 Pa."""
    evaluation = evaluate(sweep([x, *STATIONS]))
    assert evaluation.figures["drawing"]["points"][0]["y"] / CFM == pytest.approx(change, abs=1e-3)
    assert added(x) == pytest.approx(change, abs=5e-5)


def test_measured_plenum_pressures_halve_the_uncertainty():
    """Derived, by linear propagation apart from the code: with 20 cfm a difference and 12
    stations, 10.3 and 10.2 cfm with the pressures known, 22.2 and 19.1 with them fitted."""
    exact = {"sweep.repeatability": 0.0, "sweep.least-uncertainty": 20 / sqrt(2),
             "sweep.plenum-share": 0.0, "sweep.exponent-uncertainty": 0.0,
             "uncertainty.gauge-percent": 0.0, "uncertainty.gauge-pressure": 0.0}  # fmt: skip
    rules = [
        replace(one, limit=exact[one.code]) if one.code in exact else one for one in shipped_rules()
    ]
    evaluation = kinds.evaluate(parse(sweep()), rules=rules, context=Context())
    figures = shown(evaluation)
    # Student's t for 95 %: 2.228 with 10 degrees of freedom, 2.306 with 8; tables, from memory.
    for name, u in ((SUPPLY, 10.3), (RETURN, 10.2)):
        half = (figures[name]["high"] - figures[name]["low"]) / 2
        assert half / 2.228 / CFM == pytest.approx(u, abs=0.06)
    for name, u in ((FREE_SUPPLY, 22.2), (FREE_RETURN, 19.1)):
        one = figures[name]
        relative = log(one["high"] / one["low"]) / 2 / 2.306
        assert relative * one["value"] / CFM == pytest.approx(u, abs=0.15)


def test_without_plenum_pressures_only_the_free_fit_is_shown():
    figures = shown(evaluate(sweep(return_plenum=None)))
    assert SUPPLY not in figures
    assert figures[FREE_SUPPLY]["value"] / CFM == pytest.approx(90, rel=1e-4)


def test_too_few_stations_for_four_figures_leave_the_two_that_can_be_told():
    figures = shown(evaluate(sweep([-30, -10, 30])))
    assert figures[SUPPLY]["value"] is not None
    assert figures[FREE_SUPPLY]["value"] is None
    assert "at least 4" in figures[FREE_SUPPLY]["note"]


def test_what_is_not_determined_prints_no_number_and_says_what_would_tell_it():
    evaluation = evaluate(sweep([-50, -45, -40, -35], supply_plenum=None))
    supply = shown(evaluation)[FREE_SUPPLY]
    assert (supply["value"], supply["low"], supply["high"]) == (None, None, None)
    assert "measure both plenum pressures" in supply["note"]
    assert evaluation.answer == "open"
    assert evaluation.figures["details"]["supply"] is None


def test_flows_at_slightly_different_house_pressures_are_brought_to_one():
    """Derived: the house follows 150 P^0.65 with the air handler off."""
    test = sweep()
    test["stations"][0]["off"] = {"house_pressure": -49.0, "flow": 150 * 49**0.65}
    assert shown(evaluate(test))[SUPPLY]["value"] / CFM == pytest.approx(90, rel=1e-4)


def test_a_baseline_is_taken_off_every_station():
    moved = sweep(baseline=2.0)
    for one in moved["stations"]:
        one["off"]["house_pressure"] += 2.0
        one["on"]["house_pressure"] += 2.0
    assert shown(evaluate(moved))[SUPPLY]["value"] / CFM == pytest.approx(90, rel=1e-4)


def test_a_baseline_nobody_read_is_not_taken_as_zero_in_silence():
    assert checks_of(evaluate(sweep(baseline=None)), "sweep.baseline")[0]["field"] == "baseline"


def test_too_few_stations_altogether_give_no_figure():
    evaluation = evaluate(sweep([-30, 30], supply_plenum=None))
    assert evaluation.verdict == "not_computed"
    assert "Number of house pressures" in checks_of(evaluation, "reading.refused")[0]["message"]


def test_a_turned_sign_is_a_question_until_the_sides_are_swapped():
    turned = sweep()
    for one in turned["stations"]:
        for state in ("off", "on"):
            one[state]["house_pressure"] *= -1
    assert evaluate(turned, instruments=KNOWN).verdict == "provisional"
    swapped = evaluate(turned, instruments=KNOWN, swapped=frozenset("A"))
    assert shown(swapped)[SUPPLY]["value"] / CFM == pytest.approx(90, rel=1e-4)


def test_plenums_read_the_wrong_way_round_are_questioned():
    evaluation = evaluate(sweep(supply_plenum=-60.0))
    assert checks_of(evaluation, "reading.expected-sign")[0]["field"] == "supply_plenum"


def test_the_line_runs_through_clean_stations():
    drawing = evaluate(sweep()).figures["drawing"]
    for x, y in drawing["line"]:
        if x != 0:
            assert y / CFM == pytest.approx(added(x), abs=0.05)
    assert "<svg" in DRAWERS["curve"](drawing, drawing["title"], 720)


def test_no_number_stops_the_evaluation():
    assert_every_number_may_be_wrong(sweep([-40, -20, -10, 10, 40]))


@pytest.mark.parametrize("card", DuctSweepDocument.form.hookups, ids=lambda card: card.title)
def test_each_hook_up_card_can_be_drawn(card):
    assert draw_hookup(card).startswith("<svg")


def test_the_command_prints_the_figures_of_the_example():
    done = run("tests/examples/duct_sweep.json")
    assert (done.returncode, done.stderr) == (0, "")
    printed = json.loads(done.stdout)
    assert printed["figures"]["shown"] == evaluate(example("duct_sweep.json")).figures["shown"]
    assert printed["answer"] == "found"
