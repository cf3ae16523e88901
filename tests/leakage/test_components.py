"""Leakage of windows and doors against worked values and another formula for density."""

import psychrolib
import pytest

from agency.leakage import components
from agency.leakage.errors import LeakageError, OutOfRange
from agency.leakage.scaling import flow_at_other_pressure

psychrolib.SetUnitSystem(psychrolib.SI)

CFM = 0.3048**3 / 60
FOOT = 0.3048
# Formula from memory of ASTM E283; worked by calculator from it.
STANDARD = [
    # flow [cfm], B [Pa], T [degC], standard flow [cfm], half a last digit
    (18.4 - 5.1, 99_000.0, 25.0, 13.0530, 5e-5),
    (12.0, 84_000.0, 5.0, 11.232, 5e-4),
]


@pytest.mark.parametrize(("flow", "pressure", "temperature", "printed", "half_digit"), STANDARD)
def test_standard_flow(flow, pressure, temperature, printed, half_digit):
    found = components.flow_at_standard_air(
        flow=flow * CFM, pressure=pressure, temperature=temperature
    )
    assert found / CFM == pytest.approx(printed, abs=half_digit)


def test_standard_air_is_at_20_8_degrees():
    """1.2019 kg/m³ at 101 325 Pa and 20.8 degC, printed 1.202."""
    found = components.flow_at_standard_air(flow=1.0, pressure=101_325.0, temperature=20.8)
    assert found**2 * 1.202 == pytest.approx(1.20190, abs=5e-6)


@pytest.mark.parametrize("temperature", [-10.0, 15.0, 35.0])
@pytest.mark.parametrize("pressure", [80_000.0, 101_325.0])
def test_density_agrees_with_psychrolib(temperature, pressure):
    """Dry air; the printed form rounds 273.15 and the gas constant, worth 1e-3 together."""
    oracle = psychrolib.GetDryAirDensity(temperature, pressure)
    found = components.flow_at_standard_air(flow=1.0, pressure=pressure, temperature=temperature)
    assert found**2 * 1.202 == pytest.approx(oracle, rel=1e-3)


def test_window():
    """18.4 less 5.1 cfm, 15 ft² and 16 ft of crack: 0.87020 cfm/ft² and 0.81581 cfm/ft."""
    alone = components.specimen_leakage(total=18.4 * CFM, extraneous=5.1 * CFM)
    flow = components.flow_at_standard_air(flow=alone, pressure=99_000.0, temperature=25.0)
    per_area = components.leakage_per_area(flow=flow, area=15 * FOOT**2)
    per_crack = components.leakage_per_crack_length(flow=flow, crack_length=16 * FOOT)
    assert per_area / CFM * FOOT**2 == pytest.approx(0.87020, abs=5e-6)
    assert per_crack / CFM * FOOT == pytest.approx(0.81581, abs=5e-6)


def test_one_cfm_per_square_foot():
    """5.08 L/(s m²), exact."""
    found = components.leakage_per_area(flow=CFM, area=FOOT**2)
    assert 1000 * found == pytest.approx(5.08, rel=1e-12)


def test_75_pa_not_reached():
    """75/50 to the 0.65 is 1/0.76832."""
    found = flow_at_other_pressure(flow=0.76832, pressure=50.0, target=75.0, exponent=0.65)
    assert found == pytest.approx(1, abs=1e-5)


def test_pressure_in_hectopascals_is_refused():
    with pytest.raises(OutOfRange, match="Station pressure is 990 Pa"):
        components.flow_at_standard_air(flow=1.0, pressure=990.0, temperature=20.0)


def test_more_flow_sealed_than_open_is_refused():
    with pytest.raises(OutOfRange, match="Total less extraneous flow"):
        components.specimen_leakage(total=0.004, extraneous=0.005)


def test_a_tight_window_leaks_nothing():
    assert components.specimen_leakage(total=0.004, extraneous=0.004) == 0


@pytest.mark.parametrize("length", [0.0, -1.0, float("nan")])
def test_a_fixed_light_has_no_crack(length):
    with pytest.raises(LeakageError, match="Crack length"):
        components.leakage_per_crack_length(flow=0.001, crack_length=length)
