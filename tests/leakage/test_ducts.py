"""Duct leakage, normalisation and pressure pans against worked values and other means."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from agency.leakage import ducts
from agency.leakage.errors import LeakageError, OutOfRange

CFM = 0.3048**3 / 60
SQFT = 0.3048**2
# Numbers of a rule, not of this code: 25 Pa, exponent 0.60 (from memory); the rest common practice.
RULE = ducts.DuctTestRule(
    reference_pressure=25.0,
    lowest_pressure=10.0,
    reached_within=0.5,
    equal_within=0.5,
    exponent=0.6,
    u_exponent=0.05,
)
PANS = {"reference_pressure": 50.0, "gauge_error": 0.5}

leak_flows = st.floats(min_value=0.001, max_value=0.5)
drops = st.floats(min_value=10, max_value=60)


def total(**change):
    case = {
        "flow": 0.06, "u_flow": 0.03, "duct_to_house": -25.0, "house_pressure": 0.0,
        "u_pressure": 0.2, "rule": RULE,
    }  # fmt: skip
    return ducts.total_leakage(**case | change)


def outside(**change):
    case = {
        "flow": 0.03, "u_flow": 0.03, "duct_to_house": 0.0, "house_pressure": -25.0,
        "u_pressure": 0.2, "rule": RULE,
    }  # fmt: skip
    return ducts.outside_leakage(**case | change)


def test_at_25_pa_the_flow_is_the_reading():
    found = total()
    assert found.flow == pytest.approx(0.06, rel=1e-15)
    assert found.is_balanced
    assert not found.is_extrapolated


def test_15_pa_is_extrapolated_to_25():
    """Q (25/15)^0.6 by logarithms: 0.6 ln(1.6667) = 0.306495."""
    found = total(duct_to_house=-15.0)
    assert found.flow == pytest.approx(0.06 * math.exp(0.306495), rel=1e-6)
    assert found.is_extrapolated
    # Extrapolation brings in the exponent's uncertainty: 0.05 ln(1.6667) = 0.0255.
    assert found.u_flow == pytest.approx(math.hypot(0.03, 0.6 * 0.2 / 15, 0.02554), abs=1e-5)


def test_below_the_lowest_pressure_there_is_no_result():
    with pytest.raises(OutOfRange, match=r"Duct pressure is 8 Pa; it must be at least 10 Pa"):
        total(duct_to_house=-8.0)


@given(flow=leak_flows, drop=drops)
def test_direction_does_not_matter(flow, drop):
    down = total(flow=flow, duct_to_house=-drop)
    up = total(flow=flow, duct_to_house=drop)
    assert up.flow == down.flow
    assert up.u_flow == down.u_flow


def test_outside_leaks_see_duct_and_house_together():
    """House at -24, duct 1 Pa further: 25 Pa across the leaks to outside, but not balanced."""
    found = outside(house_pressure=-24.0, duct_to_house=-1.0)
    assert found.pressure == pytest.approx(25)
    assert not found.is_balanced


def test_many_tests_at_once():
    found = total(flow=np.array([0.02, 0.04]), duct_to_house=np.array([-25.0, -12.5]))
    assert found.flow.shape == (2,)
    assert list(found.is_extrapolated) == [False, True]


def test_unequal_pressures_bias_the_outside_test_as_a_network_says():
    """Two leaks of known size; the duct fan's flow by mass balance, minus the leak to outside."""
    to_outside, to_house = 0.03, 0.05
    fan = to_outside * (25.5 / 25) ** 0.6 + to_house * (0.5 / 25) ** 0.6
    bias = ducts.unequal_pressure_bias(
        total=to_outside + to_house, outside=to_outside, duct_to_house=-0.5, rule=RULE
    )
    measured = outside(flow=fan, house_pressure=-25.0, duct_to_house=-0.5).flow
    assert measured - to_outside == pytest.approx(bias * (25 / 25.5) ** 0.6, rel=1e-12)
    # Half a pascal lets through a tenth of what 25 Pa would: 0.02^0.6 = 0.0956.
    assert bias / to_house == pytest.approx(0.0956, abs=5e-5)


def test_more_to_outside_than_in_total_is_refused():
    with pytest.raises(OutOfRange, match="Total less outside leakage"):
        ducts.unequal_pressure_bias(total=0.02, outside=0.03, duct_to_house=0.5, rule=RULE)


def test_normalisation():
    """96 cfm at 25 Pa, 1600 ft², 1150 cfm: 6.000 per 100 ft² and 8.348 %; arithmetic."""
    per_area = ducts.leakage_per_floor_area(flow=96 * CFM, floor_area=1600 * SQFT)
    assert per_area / CFM * SQFT * 100 == pytest.approx(6.000, abs=5e-4)
    share = ducts.leakage_share(flow=96 * CFM, air_handler_flow=1150 * CFM)
    assert 100 * share == pytest.approx(8.348, abs=5e-4)


def test_a_small_house_is_allowed_the_least_figure():
    """The larger of 4 cfm per 100 ft² and 40 cfm (ENERGY STAR, from memory)."""
    found = ducts.allowed_leakage(
        floor_area=np.array([700, 1000, 2400]) * SQFT, per_area=0.04 * CFM / SQFT, least=40 * CFM
    )
    assert found / CFM == pytest.approx([40, 40, 96])


@pytest.mark.parametrize("reading", [{"floor_area": 0.0}, {"floor_area": math.nan}])
def test_no_floor_area_no_figure(reading):
    with pytest.raises(LeakageError, match="Floor area"):
        ducts.leakage_per_floor_area(flow=0.03, **reading)


def test_pan_reading_is_scaled_to_the_drop_there_is():
    """3 Pa with 40 Pa from house to attic is 3.75 Pa with 50; the sign follows the direction."""
    assert ducts.pan_reading(reading=3.0, house_to_zone=-40.0, **PANS) == pytest.approx(3.75)
    assert ducts.pan_reading(reading=-3.0, house_to_zone=40.0, **PANS) == pytest.approx(3.75)


def test_a_pan_reading_of_zero_is_a_reading():
    assert ducts.pan_reading(reading=0.0, house_to_zone=-50.0, **PANS) == 0


@pytest.mark.parametrize("reading", [-3.0, 51.0])
def test_a_pan_reading_no_duct_can_have_is_refused(reading):
    with pytest.raises(OutOfRange, match="hoses are not swapped"):
        ducts.pan_reading(reading=reading, house_to_zone=-50.0, **PANS)


def test_the_gauge_may_err_about_zero():
    assert ducts.pan_reading(reading=-0.3, house_to_zone=-50.0, **PANS) == pytest.approx(-0.3)


@given(
    ratio=st.floats(min_value=1e-3, max_value=1e3), exponent=st.floats(min_value=0.5, max_value=1)
)
def test_opening_ratio_is_that_of_a_network_solved_for_its_pressure(ratio, exponent):
    """scipy's bracketing root find on the mass balance of the duct under the pan."""

    def imbalance(drop):
        return ratio * (50 - drop) ** exponent - drop**exponent

    drop = brentq(imbalance, 0, 50, xtol=1e-13)
    found = ducts.pan_opening_ratio(reading=drop, reference_pressure=50.0, exponent=exponent)
    assert found == pytest.approx(ratio, rel=1e-6)


# Ratio (5/45)^0.65 and others: series of two openings, by logarithms.
RATIOS = [(5.0, 0.23974), (10.0, 0.40613), (25.0, 1.0), (40.0, 2.46229), (48.0, 7.89110)]


@pytest.mark.parametrize(("reading", "ratio"), RATIOS)
def test_opening_ratio_table(reading, ratio):
    found = ducts.pan_opening_ratio(reading=reading, reference_pressure=50.0, exponent=0.65)
    assert found == pytest.approx(ratio, abs=5e-6)


def test_a_disconnected_duct_has_an_infinite_ratio():
    found = ducts.pan_opening_ratio(reading=[0.0, 50.0], reference_pressure=50.0, exponent=0.65)
    assert list(found) == [0.0, math.inf]


def test_a_register_not_read_is_not_a_pass():
    found = ducts.summarize_pans([0.4, None, 2.5], limit=1.0)
    assert found.not_measured == (1,)
    assert found.over == (2,)
    assert found.highest == 2.5
    assert found.total is None


def test_all_registers_read():
    found = ducts.summarize_pans([0.0, 1.0, 0.5], limit=1.0)
    assert (found.registers, found.not_measured, found.over) == (3, (), ())
    assert found.total == pytest.approx(1.5)


def test_no_register_at_all_has_no_figure():
    found = ducts.summarize_pans([], limit=1.0)
    assert (found.highest, found.total) == (None, None)
