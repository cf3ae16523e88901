"""Zone networks: leaks found from states, states solved from leaks, and what stays unknown."""

import copy
import io
import json

import pytest
from django.core.management import call_command

from agency.diagnostics.bridge import kinds
from agency.diagnostics.documents import parse
from agency.diagnostics.evaluation import Context
from agency.errors import DocumentRefused

from .examples import FOLDER, KNOWN, bench, checks_of, evaluate, shown, status_of
from .wrong_numbers import assert_every_number_may_be_wrong
from .zone_cases import CFM, rules_with

LEAKS = {
    ("house", "outside"): 110,
    ("house", "Attic"): 40,
    ("Attic", "outside"): 200,
    ("house", "Garage"): 15,
    ("Garage", "outside"): 60,
    ("Attic", "Garage"): 10,
}
"""cfm/Pa^0.65"""
OPENINGS = {
    "As it is": None,
    "Garage door open": ("house", "Garage", 6000.0),
    "Attic hatch open": ("house", "Attic", 400.0),
    "Garage vented": ("Garage", "outside", 9000.0),
}
"""In², discharge coefficient 0.6."""
READ = {
    "As it is": (-3.9865603, -4.9115646, 2058.90504),
    "Garage door open": (-5.2972526, -49.9807591, 2752.53222),
    "Attic hatch open": (-32.7544772, -8.8153376, 3577.38800),
    "Garage vented": (-3.6175858, -0.0005030, 2073.80936),
}
"""Attic and garage in Pa and the fan in cfm with the house at -50 Pa, by scipy.optimize.fsolve over
the two balances, an independent solver. The first agrees with nested bracketing: derived."""


def network(method, *states, known=(), possible=(), **changes):
    named = [*states, *possible]
    readings = {
        "direction": "depressurization",
        "zones": [
            {"name": "Attic", "zone_type": "vented_attic"},
            {"name": "Garage", "zone_type": "attached_garage"},
        ],
        "paths": [
            {"name": f"{a}-{b}", "start": a, "end": b}
            | ({"flow_50": size * 50**0.65} if (a, b) in known else {})
            for (a, b), size in LEAKS.items()
        ],
        "states": [
            {"name": name, "house": -50.0, "baseline": 0.0, "fan": {"flow": READ[name][2]}}
            for name in states
        ],
        "pressures": [
            {"state": name, "zone": zone, "pressure": READ[name][at], "baseline": 0.0}
            for name in states
            for at, zone in enumerate(("Attic", "Garage"))
        ],
        "openings": [
            {"state": name, "start": start, "end": end, "area": area, "discharge": 0.6}
            for name in named
            if OPENINGS[name]
            for start, end, area in [OPENINGS[name]]
        ],
        "candidates": [{"name": name} for name in possible],
    }
    return bench("zone_network", method, **{**readings, **changes})


def small(**changes):
    """One zone and its two leaks, one of them known."""
    readings = {
        "zones": [{"name": "Crawl", "zone_type": "crawl"}],
        "paths": [
            {"name": "floor", "start": "house", "end": "Crawl"},
            {"name": "vents", "start": "Crawl", "end": "outside", "flow_50": 1000.0},
        ],
        "states": [{"name": "As it is", "house": -50.0, "baseline": 0.0, "fan": {"flow": 391.0}}],
        "pressures": [
            {"state": "As it is", "zone": "Crawl", "pressure": -11.8, "baseline": 0.0,
             "seconds": 60, "deviation": 0.4}
        ],
        "openings": [],
        "candidates": [],
    }  # fmt: skip
    return network("estimate", **{**readings, **changes})


def test_six_leaks_come_back_from_four_states():
    """From readings of an independent solver: derived."""
    evaluation = evaluate(network("estimate", *READ), instruments=KNOWN)
    figures = shown(evaluation)
    for (a, b), size in LEAKS.items():
        found = figures[f"{a}-{b} at 50 Pa"]
        assert found["value"] / CFM == pytest.approx(size * 50**0.65, rel=1e-4)
        assert found["low"] < found["value"] < found["high"]
    assert figures["Leaks determined"]["value"] == 6
    assert (evaluation.answer, evaluation.verdict) == ("found", "valid")
    assert status_of(evaluation, "network.misfit") == {"pass"}


def test_a_leak_that_is_not_determined_has_no_number_and_a_way_out():
    """Without the hatch's state the attic's leaks hang in the air: derived, condition 5396."""
    states = [name for name in READ if name != "Attic hatch open"]
    evaluation = evaluate(network("estimate", *states, possible=["Attic hatch open"]))
    blank = evaluation.figures["details"]["undetermined"]
    assert "house-Attic" in blank
    for name in blank:
        found = shown(evaluation)[f"{name} at 50 Pa"]
        assert (found["value"], found["low"], found["high"]) == (None, None, None)
        assert found["note"] == "not determined by these readings"
    assert "One more state, Attic hatch open, would determine" in evaluation.figures["words"]
    assert evaluation.answer == "open"
    dashed = [one for one in evaluation.figures["drawing"]["paths"] if one["flow"] is None]
    assert len(dashed) == len(blank)
    assert evaluation.figures["details"]["fan_flow"] is None


def test_with_no_state_to_offer_more_readings_are_asked_for():
    evaluation = evaluate(network("estimate", "As it is"))
    assert "take one of these leaks as known" in evaluation.figures["words"]
    assert evaluation.figures["details"]["condition"] is None


def test_leaks_taken_as_known_free_the_others():
    """Three readings and three unknown leaks: derived."""
    known = [("house", "Attic"), ("Garage", "outside"), ("Attic", "Garage")]
    evaluation = evaluate(network("estimate", "As it is", known=known))
    figures = shown(evaluation)
    assert figures["house-Garage at 50 Pa"]["value"] / CFM == pytest.approx(15 * 50**0.65, rel=1e-3)
    assert figures["house-Attic at 50 Pa"]["note"] == "taken as known"
    assert status_of(evaluation, "network.misfit") == {"not_verifiable"}


def test_sealing_a_leak_takes_away_less_than_it_would_pass_by_itself():
    """Series paths: sealing takes away what flows there now, less what other leaks take over."""
    details = evaluate(network("estimate", *READ)).figures["details"]
    for name, fall in details["sealing"].items():
        assert 0 <= fall < details["paths"][name] * (1 + 1e-9)
    direct = details["paths"]["house-outside"]
    assert details["sealing"]["house-outside"] == pytest.approx(direct, rel=1e-4)


def test_a_reading_that_does_not_go_with_the_others_is_named():
    data = network("estimate", *READ)
    data["pressures"][2]["pressure"] = -12.0
    evaluation = evaluate(data)
    miss = checks_of(evaluation, "network.largest-miss")[0]
    assert miss["status"] == "advisory"
    assert "," in miss["message"]
    assert status_of(evaluation, "network.misfit") == {"advisory"}
    assert evaluation.verdict != "valid"


@pytest.mark.parametrize("state", ["As it is", "Attic hatch open"])
def test_pressures_and_fan_flow_from_known_leaks(state):
    """READ is an independent solver's; -3.98656, -4.911565 Pa and 2058.905 cfm are derived."""
    evaluation = evaluate(network("solve", state, known=list(LEAKS), pressures=[]))
    figures = shown(evaluation)
    attic, garage, fan = READ[state]
    assert figures[f"Attic, {state}"]["value"] == pytest.approx(attic, abs=5e-6)
    assert figures[f"Garage, {state}"]["value"] == pytest.approx(garage, abs=5e-6)
    assert figures[f"Fan flow, {state}"]["value"] / CFM == pytest.approx(fan, abs=5e-4)
    assert evaluation.answer == "found"


def test_to_solve_every_leak_must_be_known():
    evaluation = evaluate(network("solve", "As it is", known=list(LEAKS)[1:]))
    assert evaluation.verdict == "not_computed"
    assert checks_of(evaluation, "reading.missing")[0]["field"] == "paths[0].flow_50"


def test_to_estimate_one_leak_must_be_unknown():
    evaluation = evaluate(network("estimate", "As it is", known=list(LEAKS)))
    assert "none is left to be found" in checks_of(evaluation, "reading.refused")[0]["message"]


def test_a_zone_without_leaks_is_refused_by_name():
    data = network("estimate", "As it is")
    data["paths"] = data["paths"][:3]
    assert "Garage" in checks_of(evaluate(data), "reading.refused")[0]["message"]


def test_an_opening_needs_its_area():
    data = network("estimate", "Garage door open")
    data["openings"][0]["area"] = None
    assert checks_of(evaluate(data), "reading.missing")[0]["field"] == "openings[0].area"


@pytest.mark.parametrize(
    ("field", "change", "reason"),
    [
        ("pressures", {"zone": "Cellar"}, "no Cellar"),
        ("pressures", {"state": "Door shut"}, "no Door shut"),
        ("openings", {"state": "Door shut"}, "no Door shut"),
        ("paths", {"end": "Cellar"}, "no Cellar"),
        ("paths", {"start": "outside"}, "back to itself"),
        ("zones", {"name": "House"}, "something else"),
        ("pressures", {"zone": "Garage"}, "read twice"),
    ],
)
def test_names_of_nothing_and_names_used_twice_are_refused(field, change, reason):
    data = network("estimate", *READ)
    data[field][0].update(change)
    with pytest.raises(DocumentRefused, match=reason):
        parse(data)


def test_swapped_sides_are_a_question_and_swapping_them_back_gives_the_same():
    data = network("estimate", *READ)
    turned = copy.deepcopy(data)
    for one in turned["pressures"]:
        one["pressure"] *= -1
    assert evaluate(turned, instruments=KNOWN).verdict == "provisional"
    swapped = evaluate(turned, instruments=KNOWN, swapped=frozenset("B"))
    assert swapped.figures["shown"] == evaluate(data, instruments=KNOWN).figures["shown"]


def test_readings_without_a_baseline_are_a_question():
    data = network("estimate", *READ)
    data["pressures"][3]["baseline"] = None
    asked = checks_of(evaluate(data), "reading.baseline-missing")[0]
    assert asked["field"] == "pressures[3].baseline"


def test_the_same_readings_give_the_same_figures():
    first, second = (evaluate(network("estimate", *READ)) for _ in range(2))
    assert first.figures == second.figures
    assert first.input_hash == second.input_hash


@pytest.mark.parametrize(
    "whole",
    [small(), network("solve", "Attic hatch open", known=list(LEAKS))],
    ids=["estimate", "solve"],
)
def test_no_number_breaks_the_evaluation_and_the_answer_is_plain_json(whole):
    rules = rules_with(network__restarts=0)
    assert_every_number_may_be_wrong(
        whole, judge=lambda data: kinds.evaluate(parse(data), rules=rules, context=Context())
    )


def test_the_example_is_evaluated_by_the_command():
    out = io.StringIO()
    call_command("evaluate", str(FOLDER / "zone_network.json"), stdout=out)
    figures = json.loads(out.getvalue())["figures"]
    assert figures["shown"][0]["value"] == 6
    assert figures["details"]["paths"]["house to Attic"] / CFM == pytest.approx(
        40 * 50**0.65, rel=0.02
    )
