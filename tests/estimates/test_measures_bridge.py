"""The bridge to the formulas: published flows, laws of a package, and refusals in words."""

import json
import math
from itertools import permutations

import numpy as np
import pytest

from agency.estimates.bridge.climate import degree_days
from agency.estimates.bridge.economics import Case
from agency.estimates.bridge.houses import leaks_of
from agency.estimates.bridge.measures import described, hash_of, inputs_from, outcome_of
from agency.estimates.bridge.money import indices_of
from agency.estimates.measures_inputs import Billed
from agency.estimates.weather import read_tmy3, read_tmy3_dropping_gaps
from agency.savings.natural_flow import natural_flow
from tests.estimates.measure_cases import (
    ALL,
    CEILING,
    DUCTS,
    FURNACE,
    SEAL,
    changed,
    measure,
    usual_inputs,
    with_house,
    with_leaks,
)
from tests.estimates.test_evaluate_estimate import GREENSBORO


@pytest.fixture(scope="module")
def weather():
    return read_tmy3(GREENSBORO)


@pytest.fixture(scope="module")
def inputs():
    return usual_inputs()


def total(outcome):
    return outcome.figures["total"]["mmbtu"]["central"]


def test_basic_model_through_the_bridge(inputs):
    """500 cm², 1 storey, class 3, 20 K, 4 m/s: 500 sqrt(0.005684) L/s by hand, from the tables of
    the US DOE Input Output Reference, read."""
    flow = natural_flow(
        leakage_area=0.05, leaks=leaks_of(inputs), temperature_difference=20.0, wind_speed=4.0
    )
    assert float(flow) == pytest.approx(37.6962e-3, abs=1e-6)


def test_enhanced_model_through_the_bridge(inputs):
    """C = 0.05, n = 0.67, 1 storey, slab, no flue, class 3, 25 K, 4 m/s at the eaves: 38.796 L/s
    by hand with logarithms, tables as above. The area is the one with C = 0.05 m³/(s Paⁿ)."""
    model = leaks_of(changed(inputs, model="enhanced"))
    area = 0.05 * 4**0.67 / math.sqrt(2 * 4 / 1.2041)
    flow = natural_flow(
        leakage_area=area,
        leaks=model,
        temperature_difference=25.0,
        wind_speed=4.0 / float(model.coefficients.wind_multiplier),
    )
    assert float(flow) == pytest.approx(38.796e-3, abs=2e-6)


def test_both_models_hour_by_hour(inputs, weather):
    """Means over Greensboro TMY3 at 22 °C by a second script with the csv module and no numpy:
    basic, 500 cm²: 28.04216 L/s; enhanced, C = 0.05, n = 0.67: 15.56311 L/s."""
    year = {
        "temperature_difference": 22.0 - weather.temperature,
        "wind_speed": weather.wind_speed,
    }
    basic = natural_flow(leakage_area=0.05, leaks=leaks_of(inputs), **year)
    assert float(basic.mean()) == pytest.approx(28.04216e-3, abs=1e-7)
    area = 0.05 * 4**0.67 / math.sqrt(2 * 4 / 1.2041)
    enhanced = leaks_of(changed(inputs, model="enhanced"))
    flow = natural_flow(leakage_area=area, leaks=enhanced, **year)
    assert float(flow.mean()) == pytest.approx(15.56311e-3, abs=1e-7)


def test_degree_days_by_every_convention(weather):
    """Greensboro TMY3 below 65 °F by a second script: hourly 4,050.378, daily mean 3,875.76,
    max and min 3,869. Erbs within 3 % and Schoenau-Kehrig within 2 % of the daily mean."""
    hourly, daily, max_min, erbs, schoenau = (
        1.8 * one.heating for one in degree_days(weather, base=(65 - 32) / 1.8)
    )
    assert hourly == pytest.approx(4050.378, abs=0.05)
    assert daily == pytest.approx(3875.76, abs=0.05)
    assert max_min == pytest.approx(3869, abs=0.5)
    assert erbs == pytest.approx(daily, rel=0.03)
    assert schoenau == pytest.approx(daily, rel=0.02)


def test_steps_sum_to_the_total(inputs, weather):
    outcome = outcome_of(inputs, weather)
    steps = sum(step["mmbtu"]["central"] for step in outcome.figures["steps"])
    assert steps == pytest.approx(total(outcome), rel=1e-9)
    assert outcome.refusals == []


def test_the_total_does_not_depend_on_the_order(inputs, weather):
    """To the whole joules of each state."""
    found = []
    for order in list(permutations([SEAL, CEILING, DUCTS, FURNACE]))[::7]:
        savings = Case(changed(inputs, measures=list(order)), weather).stepped()
        found.append(float(sum(energy[0] for energy in savings.saved.values())))
    assert np.ptp(found) <= 8


def test_nothing_changed_saves_nothing(inputs, weather):
    same = [
        measure(1, "insulation", 1, assembly="wall", area_sqft=500, r_before=11, r_after=11),
        measure(2, "heating", 1, fuel_after="natural_gas", efficiency_after=0.78),
        measure(3, "duct_sealing", 1, efficiency_after=0.75),
        measure(4, "air_sealing", 1),
    ]
    alike = with_leaks(changed(inputs, measures=same), after=0.11, u_after=0.05, shared=0.05)
    outcome = outcome_of(alike, weather)
    for step in outcome.figures["steps"]:
        for end in ("low", "central", "high"):
            assert step["mmbtu"][end] == pytest.approx(0, abs=1e-9)
            assert step["dollars"][end] == pytest.approx(0, abs=1e-6)
    assert outcome.figures["package"]["present_value"] == pytest.approx(0, abs=1e-5)


@pytest.mark.parametrize(
    ("less", "more"),
    [(19, 44), (30, 60)],
)
def test_more_insulation_never_saves_less(inputs, weather, less, more):
    saved = []
    for r in (less, more):
        one = measure(2, "insulation", 1, assembly="ceiling", area_sqft=1000, r_before=11,
                      r_after=r)  # fmt: skip
        saved.append(total(outcome_of(changed(inputs, measures=[one]), weather)))
    assert saved[1] > saved[0] > 0


def test_tighter_never_saves_less(inputs, weather):
    saved = [
        total(outcome_of(with_leaks(changed(inputs, measures=[SEAL]), after=after), weather))
        for after in (0.10, 0.08, 0.06)
    ]
    assert saved == sorted(saved)


def test_every_kind_is_understood_and_saves(inputs, weather):
    outcome = outcome_of(changed(inputs, measures=ALL), weather)
    assert outcome.refusals == []
    found = {step["kind"]: step["mmbtu"]["central"] for step in outcome.figures["steps"]}
    assert set(found) == {one.kind for one in ALL}
    assert all(saved > 0 for saved in found.values()), found


def test_insulation_by_parallel_paths_with_framing_and_missed_places(inputs, weather):
    """By hand: cavity R 13.5 to 41 on 90 %, framing R 8 on 10 %, a tenth missed, 1,000 ft²:
    (0.9/13.5 - 0.9/41) x 0.9 x 1000 = 40.244 Btu/(h °F), 21.230 W/K."""
    told = measure(2, "insulation", 1, assembly="wall", area_sqft=1000, r_before=13.5, r_after=41,
                   framing_share=0.1, framing_r=8, missed_share=0.1)  # fmt: skip
    case = Case(changed(inputs, measures=[told]), weather)
    after = case.changes[0].apply(case.house)
    by_hand = (0.9 / 13.5 - 0.9 / 41) * 0.9 * 1000
    assert case.house.conductance - after.conductance == pytest.approx(
        by_hand * 1055.05585262 / 3600 * 1.8, rel=1e-9
    )


def test_ducts_by_their_leaks_improve_as_the_worked_out_efficiency_does(inputs, weather):
    """Half of 200 cfm of 1,000 on each side before; tight after. ASHRAE 152 form, from memory:
    a consistency check only, no published value."""
    told = {
        "leakage_before_cfm": 200, "leakage_after_cfm": 0, "fan_flow_cfm": 1000,
        "capacity_btuh": 40000, "supply_area_sqft": 200, "return_area_sqft": 50, "duct_r": 6,
        "location": "attic", "around_f": 40,
    }  # fmt: skip
    case = Case(changed(inputs, measures=[measure(3, "duct_sealing", 1, **told)]), weather)
    tight = case.changes[0].apply(case.house)
    assert 0.75 < tight.distribution_efficiency < 1
    same = told | {"leakage_after_cfm": 200}
    case = Case(changed(inputs, measures=[measure(3, "duct_sealing", 1, **same)]), weather)
    assert case.changes[0].apply(case.house).distribution_efficiency == pytest.approx(0.75)


def test_a_fuel_switch_saves_one_fuel_and_buys_another(inputs, weather):
    pump = measure(4, "heating", 9000, fuel_after="electricity", efficiency_after=2.5)
    (step,) = outcome_of(changed(inputs, measures=[pump]), weather).figures["steps"]
    heating = {use["fuel"]: use["central"] for use in step["uses"] if use["end_use"] == "heating"}
    assert heating["natural_gas"] > 0 > heating["electricity"]
    # The same load: therms x 0.78 and kWh x 2.5 are one heat, 1 therm = 29.3071 kWh.
    assert heating["natural_gas"] * 29.3071 * 0.78 == pytest.approx(
        -heating["electricity"] * 2.5, rel=1e-4
    )


def test_ranges_hold_the_central_figure_and_are_shown_no_narrower(inputs, weather):
    for step in outcome_of(inputs, weather).figures["steps"]:
        for found in (step["mmbtu"], step["dollars"]):
            assert found["low"] < found["central"] < found["high"]
            assert found["shown"]["low"] <= found["low"]
            assert found["shown"]["high"] >= found["high"]


def test_economics_by_hand(inputs, weather):
    """One fuel, 20 years at 3 %: UPV 14.87747 (NIST HB 135 form, brute sum); prices constant."""
    one = changed(inputs, measures=[CEILING, FURNACE])
    outcome = outcome_of(with_house(one, cooling_efficiency=None), weather)
    for step in outcome.figures["steps"]:
        found = outcome.figures["measures"][step["measure"]]
        first_year = step["dollars"]["central"]
        assert found["present_value"] == pytest.approx(14.87747 * first_year, rel=1e-5)
        assert found["sir"] == pytest.approx(found["present_value"] / found["cost"])
        assert found["payback"] == pytest.approx(found["cost"] / first_year)
        assert found["npv"] == pytest.approx(found["present_value"] - found["cost"])


def test_price_indices_are_linear_between_the_years_of_the_book(inputs):
    price = inputs.prices[0].model_copy(update={"indices": {10: 1.2, 20: 1.2, 30: 1.5}})
    found = indices_of(price, years=25)
    assert found[[0, 4, 9, 14, 24]] == pytest.approx([1.02, 1.10, 1.2, 1.2, 1.35])


def test_health_and_safety_costs_nothing_of_the_package(inputs, weather):
    fan = SEAL.model_copy(
        update={"id": "99", "kind": "no_saving", "category": "health_and_safety", "material": 5e5}
    )
    outcome = outcome_of(changed(inputs, measures=[fan, *inputs.measures]), weather)
    without = outcome_of(inputs, weather)
    package = outcome.figures["package"]
    assert package["excepted_cost"] == 5e5
    assert package["sir"] == without.figures["package"]["sir"]


def test_repairs_count_in_the_package_and_not_in_the_measure(inputs, weather):
    mended = CEILING.model_copy(update={"repairs": 700.0})
    found = outcome_of(changed(inputs, measures=[mended]), weather).figures
    assert found["measures"]["2"]["cost"] == 1500
    assert found["package"]["cost"] == 2200


def test_the_model_is_scaled_to_the_bill(inputs, weather):
    plain = outcome_of(inputs, weather).figures
    modelled = next(one["value"] for one in plain["modelled"] if one["end_use"] == "heating")
    bill = Billed(end_use="heating", fuel="natural_gas", units=0.8 * modelled, source="test")
    held = outcome_of(changed(inputs, billed=[bill]), weather).figures
    heating = next(one for one in held["before"] if one["end_use"] == "heating")
    assert heating["value"] == pytest.approx(0.8 * modelled, rel=1e-6)
    assert held["calibration"][0]["ratio"] == pytest.approx(0.8)
    saved = next(use for use in held["total"]["uses"] if use["end_use"] == "heating")
    assert saved["central"] < 0.8 * modelled


def test_a_model_far_from_the_bill_is_refused_in_words(inputs, weather):
    bill = Billed(end_use="heating", fuel="natural_gas", units=20.0, source="test")
    outcome = outcome_of(changed(inputs, billed=[bill]), weather)
    assert outcome.figures == {}
    (refusal,) = outcome.refusals
    assert "must be 0.5 to 1.5" in refusal["reason"]
    assert "Check the bills" in refusal["reason"]


def test_a_fuel_without_a_price_keeps_the_energy_and_refuses_the_money(inputs, weather):
    outcome = outcome_of(changed(inputs, prices=inputs.prices[1:]), weather)
    (refusal,) = outcome.refusals
    assert refusal["part"] == "money"
    assert "No price of natural gas" in refusal["reason"]
    assert outcome.figures["total"]["mmbtu"]["central"] > 0
    assert outcome.figures["total"]["dollars"] is None
    assert outcome.figures["package"] is None
    assert "million Btu" in outcome.figures["words"][0]


def test_more_is_taken_away_than_there_is(inputs, weather):
    huge = measure(2, "insulation", 1, assembly="ceiling", area_sqft=90_000, r_before=2, r_after=44)
    outcome = outcome_of(changed(inputs, measures=[huge]), weather)
    assert outcome.figures == {}
    assert "Conductance of the shell" in outcome.refusals[0]["reason"]


def test_the_stored_inputs_give_the_same_estimate_again(inputs, weather):
    first = outcome_of(inputs, weather)
    again = inputs_from(json.loads(json.dumps(described(inputs, weather))))
    assert outcome_of(again, weather) == first
    assert first.input_hash == hash_of(inputs, weather)
    assert hash_of(changed(inputs, seed=2), weather) != first.input_hash
    assert weather.sha256 in first.weather


def test_the_outcome_names_model_edition_and_quick_estimate(inputs, weather):
    outcome = outcome_of(changed(inputs, model="enhanced_original"), weather)
    air = outcome.figures["natural_air"]
    assert "AIM-2" in air["method"]
    assert air["variant"] == "basement or slab, no flue; original superposition"
    assert air["quick"]["method"].startswith("N-factor")
    # Flow at 50 Pa over 17 x 1.0 (normal shielding) x 1.0 (one storey) x 1.0 (normal leaks).
    assert air["quick"]["before"] == pytest.approx(1.1 / 17)


def test_fans_are_combined_with_the_leaks(inputs, weather):
    """An exhaust fan alone adds in quadrature: never less than either, never their sum."""
    air = outcome_of(with_house(inputs, exhaust=0.05), weather).figures["natural_air"]["before"]
    assert max(air["year"], 0.05) < air["with_fans"] < air["year"] + 0.05
    assert 0 < air["effective_air_changes"] <= air["with_fans"] * 3600 / 300.0


def test_degree_days_of_a_year_with_gaps_are_refused(tmp_path):
    lines = GREENSBORO.read_text().splitlines(keepends=True)
    path = tmp_path / "gap.csv"
    path.write_text("".join(lines[:100] + lines[101:]))
    with pytest.raises(ValueError, match="need a complete year"):
        degree_days(read_tmy3_dropping_gaps(path), base=18.3)
