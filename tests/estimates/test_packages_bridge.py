"""What a budget buys, what a slider does, and what moves the result most."""

from dataclasses import replace

import pytest

from agency.estimates.bridge.measures import outcome_of
from agency.estimates.bridge.packages import assumed, package_of, what_if
from agency.estimates.weather import read_tmy3
from tests.estimates.measure_cases import usual_inputs
from tests.estimates.test_evaluate_estimate import GREENSBORO


@pytest.fixture(scope="module")
def weather():
    return read_tmy3(GREENSBORO)


@pytest.fixture(scope="module")
def inputs():
    return usual_inputs()


def test_a_budget_buys_no_more_than_it_holds(inputs, weather):
    spent = []
    for budget in (0, 600, 2000, 20_000):
        outcome = package_of(inputs, weather, budget=budget)
        package = outcome.figures["package"]
        assert package["cost"] <= budget
        assert package["passes"]
        spent.append(package["cost"])
    assert spent == sorted(spent)
    told = {one["measure"]: one["why"] for one in outcome.figures["left_out"]}
    assert set(told) | set(outcome.figures["chosen"]) == {one.id for one in inputs.measures}


def test_the_sliders_where_they_stand_show_the_estimate(inputs, weather):
    found = what_if(inputs, weather, assumed(inputs))
    outcome = outcome_of(inputs, weather).figures
    assert found["package"]["npv"] == pytest.approx(outcome["package"]["npv"])
    assert found["dollars"] == outcome["total"]["dollars"]["shown"]["central"]


def test_a_slider_moves_its_own_figure(inputs, weather):
    base = assumed(inputs)
    dear = what_if(inputs, weather, replace(base, price=1.5))
    plain = what_if(inputs, weather, base)
    assert dear["package"]["present_value"] == pytest.approx(
        1.5 * plain["package"]["present_value"]
    )
    fewer = what_if(inputs, weather, replace(base, without=frozenset({"4"})))
    assert fewer["package"]["cost"] == plain["package"]["cost"] - 4500
    assert "4" not in fewer["measures"]


def test_the_tornado_is_widest_first_and_starts_from_the_package(inputs, weather):
    figures = outcome_of(inputs, weather).figures
    tornado = figures["tornado"]
    assert tornado["base"]["npv"] == pytest.approx(figures["package"]["npv"])
    swings = [abs(bar["at_high"] - bar["at_low"]) for bar in tornado["bars"]]
    assert swings == sorted(swings, reverse=True)
    assert {bar["name"] for bar in tornado["bars"]} == {
        "prices", "discount_rate", "setpoint", "heating_efficiency", "leakage"
    }  # fmt: skip
