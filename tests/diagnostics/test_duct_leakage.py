"""Duct leakage: total, to outside and by subtraction, normalised and held against a named limit."""

import json
from datetime import UTC, datetime

import pytest

from agency.charts.hookup import draw_hookup
from agency.diagnostics.evaluation import BenchResult, GeometryFacts
from agency.diagnostics.forms.duct_leakage import DuctLeakageDocument
from agency.office.bench_drawings import DRAWERS

from .examples import KNOWN, bench, checks_of, evaluate, example, shown
from .test_evaluate_command import run
from .wrong_numbers import assert_every_number_may_be_wrong

CFM = 0.3048**3 / 60
PER_100_SQFT = CFM / (100 * 0.3048**2)
TOTAL, OUTSIDE = "Total duct leakage at 25 Pa", "Duct leakage to outside at 25 Pa"


def duct_test(method="total", **changes):
    readings = {
        "direction": "depressurization",
        "stage": "post_construction",
        "held_against": "none",
        "house": {"floor_area": 1600.0},
        "duct_to_house": -25.0,
        "house_pressure": 0.0,
        "flow": {"flow": 96.0},
    }
    return bench("duct_leakage", method, **{**readings, **changes})


def outside_test(**changes):
    return duct_test("to_outside", **{"duct_to_house": 0.0, "house_pressure": -25.0, **changes})


def subtraction(*, opened=2600.0, sealed=2380.0, duct_to_house=42.0, **changes):
    readings = {
        "duct_to_house": None,
        "house_pressure": None,
        "flow": None,
        "registers_open": {"house_pressure": -50.0, "flow": opened},
        "registers_sealed": {
            "house_pressure": -50.0, "flow": sealed, "duct_to_house": duct_to_house,
        },
    }  # fmt: skip
    return duct_test("subtraction", **{**readings, **changes})


def handler_flow(cfm):
    return BenchResult(
        kind="air_handler", method="restriction", phase="before",
        taken_at=datetime(2026, 10, 14, 14, tzinfo=UTC), details={"flow": cfm * CFM},
    )  # fmt: skip


def total_leakage(cfm):
    return BenchResult(
        kind="duct_leakage", method="total", phase="before",
        taken_at=datetime(2026, 10, 14, 14, tzinfo=UTC), details={"total": cfm * CFM},
    )  # fmt: skip


def test_leakage_per_floor_area_and_as_a_share_of_the_air_handler_flow():
    """96 cfm, 1600 ft², 1150 cfm: 6.000 cfm/100 ft² and 8.348 %; arithmetic, derived."""
    figures = shown(evaluate(duct_test(), bench=(handler_flow(1150),)))
    assert figures[TOTAL]["value"] / CFM == pytest.approx(96, rel=1e-12)
    assert figures["Per floor area"]["value"] / PER_100_SQFT == pytest.approx(6.000, abs=5e-4)
    share = figures["Share of the air-handler flow"]["value"]
    assert 100 * share == pytest.approx(8.348, abs=5e-4)


def test_the_registers_floor_area_comes_before_the_documents():
    figures = shown(evaluate(duct_test(), geometry=GeometryFacts(floor_area_sqft=3200.0)))
    assert figures["Per floor area"]["value"] / PER_100_SQFT == pytest.approx(3.0)


def test_without_an_air_handler_flow_there_is_no_share_and_it_says_so():
    share = shown(evaluate(duct_test()))["Share of the air-handler flow"]
    assert share["value"] is None
    assert "no air-handler flow" in share["note"]


@pytest.mark.parametrize(
    ("code", "stage", "cfm", "answer"),
    [
        # cfm/100 ft² x 16. IECC 2015 R403.3.4: 4 with air handler, 3 without, 4 after
        # construction; read as quoted in an ICC flyer.
        ("iecc_2015", "post_construction", 64.0, "met"),
        ("iecc_2015", "post_construction", 65.0, "missed"),
        ("iecc_2015", "rough_in_with_handler", 64.0, "met"),
        ("iecc_2015", "rough_in_without_handler", 49.0, "missed"),
        # IECC 2009, from memory: 12 after construction, 6 and 4 at rough-in.
        ("iecc_2009", "post_construction", 192.0, "met"),
        ("iecc_2009", "rough_in_with_handler", 97.0, "missed"),
        # IECC 2021, from memory: 4.
        ("iecc_2021", "post_construction", 96.0, "missed"),
    ],
)
def test_limits_by_code_edition_and_stage(code, stage, cfm, answer):
    test = duct_test(held_against=code, stage=stage, flow={"flow": cfm})
    evaluation = evaluate(test, instruments=KNOWN)
    assert (evaluation.answer, evaluation.verdict) == (answer, "valid")


def test_ducts_inside_the_envelope_are_allowed_more_by_one_edition():
    """IECC 2021, from memory: 8 where all ducts are inside, 4 otherwise; 96 cfm here is 6."""
    inside = {"location": "all_inside"}
    assert evaluate(duct_test(held_against="iecc_2021", **inside)).answer == "met"
    assert evaluate(duct_test(held_against="iecc_2021")).answer == "missed"
    assert evaluate(duct_test(held_against="iecc_2015", **inside)).answer == "missed"


def test_a_small_house_is_allowed_the_least_figure():
    """ENERGY STAR, from memory: to outside the larger of 4 cfm/100 ft² and 40 cfm; 700 ft²
    would allow 28."""
    small = {"house": {"floor_area": 700.0}, "held_against": "energy_star"}
    assert evaluate(outside_test(flow={"flow": 39.0}, **small)).answer == "met"
    missed = evaluate(outside_test(flow={"flow": 41.0}, **small))
    assert missed.answer == "missed"
    assert missed.figures["drawing"]["bars"][0]["high"] / CFM == pytest.approx(40)


def test_a_code_whose_sources_disagree_decides_nothing():
    evaluation = evaluate(outside_test(held_against="iecc_2024", flow={"flow": 500.0}))
    assert evaluation.answer == "open"
    assert "contradict each other" in evaluation.figures["words"]


def test_a_limit_the_rule_book_does_not_hold_is_never_met():
    """A code for new homes has no limit at the stage of an existing one."""
    evaluation = evaluate(duct_test(held_against="iecc_2015", stage="existing"))
    assert evaluation.answer == "open"
    assert "no limit" in evaluation.figures["words"]
    assert checks_of(evaluation, "ducts.limit-known")[0]["field"] == "held_against"


def test_an_existing_home_held_against_nothing_is_a_finding_without_a_verdict_on_it():
    evaluation = evaluate(duct_test(stage="existing"), instruments=KNOWN)
    assert (evaluation.answer, evaluation.verdict) == ("found", "valid")


def test_without_a_floor_area_a_limit_is_not_met():
    assert evaluate(duct_test(held_against="iecc_2009", house=None)).answer == "open"


def test_15_pa_is_extrapolated_and_says_so():
    """Q (25/15)^0.6, exponent from memory: 0.6 ln(1.6667) = 0.306495, factor 1.35865."""
    evaluation = evaluate(duct_test(duct_to_house=-15.0))
    assert shown(evaluation)[TOTAL]["value"] / CFM == pytest.approx(96 * 1.35865, rel=1e-5)
    assert "extrapolated" in checks_of(evaluation, "ducts.reached")[0]["message"]
    assert not checks_of(evaluate(duct_test()), "ducts.reached")


def test_below_10_pa_there_is_no_result():
    """Common practice, no source: nothing is extrapolated from below 10 Pa."""
    evaluation = evaluate(duct_test(duct_to_house=-8.0))
    assert evaluation.verdict == "not_computed"
    assert "at least 10 Pa" in checks_of(evaluation, "reading.refused")[0]["message"]


def test_a_house_that_was_not_open_makes_the_total_doubtful():
    assert evaluate(duct_test(house_pressure=-4.0)).verdict == "advisory"
    blank = checks_of(evaluate(duct_test(house_pressure=None)), "ducts.equal-pressures")
    assert blank[0]["status"] == "not_verifiable"


def test_duct_and_house_apart_tell_how_much_may_be_between_them():
    """Derived: (100 - 60) cfm x (1/25)^0.6 = 5.80 cfm where the two are 1 Pa apart."""
    test = outside_test(duct_to_house=-1.0, house_pressure=-24.0, flow={"flow": 60.0})
    evaluation = evaluate(test, bench=(total_leakage(100),))
    bias = shown(evaluation)["Of it perhaps between duct and house"]["value"]
    assert bias / CFM == pytest.approx(5.798, abs=5e-3)
    assert evaluation.verdict == "advisory"


def test_subtraction_with_correction():
    """2600 less 2380 cfm, sealed ducts at 8 of 50 Pa, n = 0.65: 316.030 cfm at 50 Pa and
    201.400 at 25; derived."""
    evaluation = evaluate(subtraction(), instruments=KNOWN)
    figures = shown(evaluation)
    at_house = figures["The same at the pressure of the house"]["value"]
    assert at_house / CFM == pytest.approx(316.030, abs=5e-4)
    assert figures[OUTSIDE]["value"] / CFM == pytest.approx(201.400, abs=5e-4)
    assert figures[OUTSIDE]["low"] < figures[OUTSIDE]["value"] < figures[OUTSIDE]["high"]
    assert evaluation.verdict == "valid"


@pytest.mark.parametrize(("duct", "factor"), [(2.0, 1.1408), (10.0, 1.5415)])
def test_correction_factors(duct, factor):
    """1/(1 - (pd/50)^0.65) for sealed ducts at 2 and 10 Pa; derived."""
    figures = shown(evaluate(subtraction(duct_to_house=50.0 - duct)))
    assert figures["Correction factor"]["value"] == pytest.approx(factor, abs=5e-5)


def test_a_difference_within_three_uncertainties_prints_no_number():
    """1 % of 2500 cfm twice, with a factor of 1.44, is 51 cfm; derived. 60 cfm are not three."""
    evaluation = evaluate(subtraction(opened=2500.0, sealed=2440.0, held_against="energy_star"))
    figure = shown(evaluation)[OUTSIDE]
    assert (figure["value"], figure["low"], evaluation.answer) == (None, None, "open")
    assert "duct fan" in figure["note"]


def test_registers_that_were_not_sealed_give_no_result():
    """Common practice, no source: above half the house's pressure there is nothing to correct."""
    evaluation = evaluate(subtraction(duct_to_house=20.0))
    assert evaluation.verdict == "not_computed"
    assert "seals of the registers" in checks_of(evaluation, "reading.refused")[0]["message"]


def test_flows_read_at_different_house_pressures_are_brought_to_one():
    """Derived: a house that follows 2600 cfm at 50 Pa passes 2600 (49/50)^0.65 at 49 Pa."""
    state = {"house_pressure": -49.0, "flow": 2600 * (49 / 50) ** 0.65}
    moved = shown(evaluate(subtraction(registers_open=state)))[OUTSIDE]["value"]
    assert moved == pytest.approx(shown(evaluate(subtraction()))[OUTSIDE]["value"], rel=1e-9)


@pytest.mark.parametrize(
    ("test", "field"),
    [
        (duct_test(duct_to_house=None), "duct_to_house"),
        (duct_test(flow=None), "flow"),
        (outside_test(house_pressure=None), "house_pressure"),
        (subtraction(registers_open=None), "registers_open"),
        (subtraction(duct_to_house=None), "registers_sealed.duct_to_house"),
    ],
)
def test_a_missing_reading_is_named(test, field):
    evaluation = evaluate(test)
    assert evaluation.verdict == "not_computed"
    assert checks_of(evaluation, "reading.missing")[0]["field"] == field


def test_a_turned_sign_is_a_question_until_the_sides_are_swapped():
    turned = duct_test(duct_to_house=25.0)
    assert evaluate(turned).verdict == "provisional"
    swapped = evaluate(turned, swapped=frozenset("A"))
    assert not checks_of(swapped, "reading.expected-sign")
    assert swapped.figures["shown"] == evaluate(duct_test()).figures["shown"]


def test_a_duct_fan_meets_indoor_air_even_when_it_blows_in():
    """Derived: volume flow of a restriction goes with sqrt(1/density), density with 1/T; the
    cold outside does not come into it."""
    fans = [{"serial": "QM-D-1", "equations": [
        {"configuration": "ring 2", "coefficient": 10.0, "exponent": 0.5, "lowest_pressure": 5.0,
         "highest_pressure": 200.0, "flow_unit": "cfm", "air_density": 1.2041},
    ]}]  # fmt: skip
    reading = {"fans": [{"serial": "QM-D-1", "configuration": "ring 2", "fan_pressure": 100.0}]}
    test = duct_test(
        direction="pressurization", duct_to_house=25.0, fans=fans, flow=reading,
        conditions={"indoor_temperature": 77.0, "outdoor_temperature": -4.0, "elevation": 0.0},
    )  # fmt: skip
    found = shown(evaluate(test))[TOTAL]["value"] / CFM
    assert found == pytest.approx(100 * (298.15 / 293.15) ** 0.5, rel=1e-3)


@pytest.mark.parametrize("test", [duct_test(), outside_test(), subtraction()])
def test_no_number_stops_the_evaluation(test):
    assert_every_number_may_be_wrong(test)


@pytest.mark.parametrize("card", DuctLeakageDocument.form.hookups, ids=lambda card: card.title)
def test_each_hook_up_card_can_be_drawn(card):
    assert draw_hookup(card).startswith("<svg")


def test_the_leakage_is_drawn_beside_what_the_house_is_allowed():
    drawing = evaluate(duct_test(held_against="iecc_2009")).figures["drawing"]
    assert drawing["bars"][0]["high"] / CFM == pytest.approx(12 * 16)
    assert "<svg" in DRAWERS["bars"](drawing, drawing["title"], 720)


def test_the_command_prints_the_figures_of_the_example():
    done = run("tests/examples/duct_leakage.json")
    assert (done.returncode, done.stderr) == (0, "")
    printed = json.loads(done.stdout)
    assert printed["figures"]["shown"] == evaluate(example("duct_leakage.json")).figures["shown"]
    assert printed["answer"] == "found"
