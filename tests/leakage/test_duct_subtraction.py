"""The subtraction method against worked values, a duct network and linear propagation."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import ufloat

from agency.leakage.duct_subtraction import (
    SubtractionReadings,
    SubtractionRule,
    subtraction_correction,
    subtraction_leakage,
)
from agency.leakage.errors import LeakageError, OutOfRange

CFM = 0.3048**3 / 60
# Rule numbers: exponent from memory, the rest common practice without a source.
RULE = SubtractionRule(
    reference_pressure=25.0,
    exponent=0.65,
    u_exponent=0.0,
    highest_ratio=0.5,
    least_uncertainties=3.0,
)
# 2600 cfm open, 2380 cfm sealed, sealed ducts at 8 Pa against outside with the house at -50.
READINGS = SubtractionReadings(
    flow_open=2600 * CFM,
    flow_sealed=2380 * CFM,
    u_flow=10 * CFM,
    house_pressure=-50.0,
    sealed_duct_to_house=42.0,
    u_pressure=0.2,
)
# 1 / (1 - (pd/50)^n), by logarithms; derived formula, so arithmetic is all there is to check.
FACTORS = [
    # pd [Pa], n = 0.65, n = 0.60
    (1.0, 1.085, 1.106),
    (2.0, 1.141, 1.170),
    (5.0, 1.288, 1.335),
    (10.0, 1.542, 1.615),
    (20.0, 2.228, 2.365),
]


@pytest.mark.parametrize(("duct", "at_65", "at_60"), FACTORS)
def test_correction_factors(duct, at_65, at_60):
    for exponent, printed in ((0.65, at_65), (0.60, at_60)):
        found = subtraction_correction(
            sealed_duct_pressure=duct, house_pressure=50.0, exponent=exponent
        )
        assert found == pytest.approx(printed, abs=5.01e-4)


def test_worked_example():
    """220 cfm x 1.43650 = 316.030 cfm at 50 Pa, x 0.63728 = 201.400 cfm at 25 Pa."""
    found = subtraction_leakage(READINGS, rule=RULE)
    assert found.flow_at_house_pressure / CFM == pytest.approx(316.030, abs=5e-4)
    assert found.flow / CFM == pytest.approx(201.400, abs=5e-4)


def test_worked_example_with_the_smaller_exponent():
    """329.8 cfm at 50 Pa with n = 0.60."""
    found = subtraction_leakage(READINGS, rule=replace(RULE, exponent=0.60))
    assert found.flow_at_house_pressure / CFM == pytest.approx(329.8, abs=0.05)


@given(
    leak=st.floats(min_value=0.005, max_value=0.3),
    house=st.floats(min_value=20, max_value=60),
    left=st.floats(min_value=0, max_value=0.5),
)
def test_a_known_leak_is_found_again(leak, house, left):
    """A duct leak of known size, its flow open and sealed; the house's other leaks cancel."""
    other = 0.9
    open_flow = other + leak * (house / 25) ** 0.65
    sealed_flow = other + leak * (left * house / 25) ** 0.65
    found = subtraction_leakage(
        replace(
            READINGS,
            flow_open=open_flow,
            flow_sealed=sealed_flow,
            house_pressure=house,
            sealed_duct_to_house=-(1 - left) * house,
        ),
        rule=replace(RULE, highest_ratio=0.51),
    )
    assert found.flow == pytest.approx(leak, rel=1e-9)


def test_direction_does_not_matter():
    mirrored = replace(READINGS, house_pressure=50.0, sealed_duct_to_house=-42.0)
    one, other = (subtraction_leakage(r, rule=RULE) for r in (READINGS, mirrored))
    assert one == other


def test_uncertainty_agrees_with_linear_propagation():
    """The uncertainties package, 3.2; its slope and a step of one uncertainty differ in 1e-3."""
    rule = replace(RULE, u_exponent=0.02)
    house, rise, n = ufloat(50.0, 0.2), ufloat(42.0, 0.2), ufloat(0.65, 0.02)
    difference = ufloat(2600.0, 10.0) - ufloat(2380.0, 10.0)
    oracle = difference / (1 - (1 - rise / house) ** n) * (25 / house) ** n
    found = subtraction_leakage(READINGS, rule=rule)
    assert found.u_flow / CFM == pytest.approx(oracle.std_dev, rel=2e-3)


def test_large_flows_hide_a_small_leak():
    """1 % of 2500 cfm twice, times 1.4365, is 51 cfm at 50 Pa; 60 cfm is not determined."""
    readings = replace(
        READINGS, flow_open=2500 * CFM, flow_sealed=2440 * CFM, u_flow=25 * CFM, u_pressure=0.0
    )
    found = subtraction_leakage(readings, rule=RULE)
    at_house = found.u_flow / CFM * 2**0.65
    assert at_house == pytest.approx(51, abs=0.5)
    assert not found.is_determined
    assert "Not determined" in found.words


def test_a_rise_of_flow_is_shown_not_set_to_nothing():
    found = subtraction_leakage(replace(READINGS, flow_sealed=2610 * CFM), rule=RULE)
    assert found.flow < 0
    assert not found.is_determined


def test_perfect_seals_have_an_uncertainty_too():
    """The slope of (pd/P)^n at 0 is infinite; the result must not be."""
    found = subtraction_leakage(replace(READINGS, sealed_duct_to_house=50.0), rule=RULE)
    assert found.correction_factor == 1
    assert 0 < found.u_flow < found.flow


@pytest.mark.parametrize("to_house", [-42.0, 20.0, 51.0])
def test_swapped_hoses_and_poor_seals_are_refused(to_house):
    """Wrong sign; ducts at 30 of 50 Pa; ducts beyond outside."""
    with pytest.raises(OutOfRange, match="Sealed duct less outside"):
        subtraction_leakage(replace(READINGS, sealed_duct_to_house=to_house), rule=RULE)


def test_ducts_at_house_pressure_have_no_factor():
    with pytest.raises(OutOfRange, match="less than the house pressure"):
        subtraction_correction(sealed_duct_pressure=50.0, house_pressure=50.0, exponent=0.65)


def test_no_reading_no_result():
    with pytest.raises(LeakageError, match="Open flow is not given"):
        subtraction_leakage(replace(READINGS, flow_open=None), rule=RULE)
