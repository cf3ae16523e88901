"""Air-handler flow, static pressure and room balance against worked values and other means."""

import math

import numpy as np
import psychrolib
import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import ufloat

from agency.leakage import air_handler
from agency.leakage.errors import LeakageError, NotPositive, OutOfRange
from agency.leakage.fan_flow import indicated_flow

psychrolib.SetUnitSystem(psychrolib.SI)

CFM = 0.3048**3 / 60
INCH2 = 0.0254**2
INCH_OF_WATER = 249.08891
BTU_PER_HOUR = 1055.05585262 / 3600
FAHRENHEIT = 5 / 9
# 0.075 lb/ft³, the air of the factor 1.08; pound 0.45359237 kg exactly.
TRADE_AIR = 0.075 * 0.45359237 / 0.3048**3
# Rule numbers: common practice, no source.
RULE = {"matched_within": 0.5, "lowest_ratio": 0.7, "highest_ratio": 1.3}


def test_plate_flow_is_that_of_its_certificate():
    """K = 110, m = 0.5, 100 Pa: 1100, in the unit of K. Arithmetic."""
    found = indicated_flow(
        coefficient=110, exponent=0.5, fan_pressure=100, lowest_pressure=10, highest_pressure=200
    )
    assert found == pytest.approx(1100, rel=1e-12)


def test_operating_correction():
    """1020 cfm with the plate at 62 Pa, normal 70 Pa: 1020 x sqrt(70/62) = 1083.810 cfm."""
    found = air_handler.operating_flow(
        flow=1020 * CFM, normal_pressure=70.0, pressure_with_device=62.0, **RULE
    )
    assert found.flow / CFM == pytest.approx(1083.810, abs=5e-4)
    assert not found.is_matched


@given(
    coefficient=st.floats(min_value=1e-3, max_value=1),
    normal=st.floats(min_value=20, max_value=90),
    ratio=st.floats(min_value=0.75, max_value=1.25),
)
def test_a_quadratic_duct_system_is_corrected_exactly(coefficient, normal, ratio):
    """Flow = c sqrt(p) for the ducts, with the device and without."""
    reached = normal / ratio
    found = air_handler.operating_flow(
        flow=coefficient * math.sqrt(reached), normal_pressure=normal,
        pressure_with_device=reached, **RULE,
    )  # fmt: skip
    assert found.flow == pytest.approx(coefficient * math.sqrt(normal), rel=1e-12)


def test_the_uncertainty_of_the_correction_is_that_of_linear_propagation():
    """The package uncertainties, with the formula written out apart from the code."""
    flow, normal, reached = ufloat(0.5, 0.01), ufloat(70.0, 1.2), ufloat(62.0, 0.9)
    by_package = flow * (normal / reached) ** 0.5
    found = air_handler.operating_flow_uncertainty(
        u_flow=0.02, normal_pressure=70.0, pressure_with_device=62.0, u_normal=1.2,
        u_with_device=0.9,
    )  # fmt: skip
    assert found == pytest.approx(by_package.s / by_package.n, rel=1e-9)


def test_a_matched_fan_needs_no_correction():
    found = air_handler.operating_flow(
        flow=[0.5, 0.5], normal_pressure=60.0, pressure_with_device=[60.0, 55.0], **RULE
    )
    assert list(found.is_matched) == [True, False]
    assert found.flow[0] == 0.5


def test_a_pressure_far_from_normal_is_refused():
    with pytest.raises(OutOfRange, match=r"Ratio of supply pressures.*from 0.7 to 1.3"):
        air_handler.operating_flow(
            flow=0.5, normal_pressure=60.0, pressure_with_device=100.0, **RULE
        )


def test_a_return_pressure_in_place_of_the_supply_is_refused():
    with pytest.raises(NotPositive, match="Normal supply pressure is -60 Pa"):
        air_handler.operating_flow(
            flow=0.5, normal_pressure=-60.0, pressure_with_device=55.0, **RULE
        )


def test_familiar_factor():
    """0.075 lb/ft³ x 0.24 Btu/(lb degF) x 60 min/h = 1.08; definition."""
    flow = air_handler.temperature_rise_flow(
        heat_output=1.08 * BTU_PER_HOUR, temperature_rise=FAHRENHEIT, density=TRADE_AIR
    )
    assert flow / CFM == pytest.approx(1, rel=1e-9)


def test_gas_furnace():
    """60 000 Btu/h x 0.80 and 55 degF: 48 000 / 59.4 = 808.081 cfm."""
    heat = air_handler.burner_output(heat_input=60_000 * BTU_PER_HOUR, efficiency=0.80)
    found = air_handler.temperature_rise_flow(
        heat_output=heat, temperature_rise=55 * FAHRENHEIT, density=TRADE_AIR
    )
    assert found / CFM == pytest.approx(808.081, abs=5e-4)


def test_electric_furnace():
    """10 kW x 3412.14 Btu/kWh and 30 degF: 1053.130 cfm; the last digit holds 3412.14, rounded."""
    found = air_handler.temperature_rise_flow(
        heat_output=10_000.0, temperature_rise=30 * FAHRENHEIT, density=TRADE_AIR
    )
    assert found / CFM == pytest.approx(1053.130, abs=1e-3)


@pytest.mark.parametrize("elevation", [0.0, 800.0, 1609.0])
def test_mass_flow_heats_as_coolprop_says(elevation):
    """CoolProp's enthalpy of air at two temperatures; the trade's specific heat is 0.1 % lower."""
    pressure = psychrolib.GetStandardAtmPressure(elevation)
    cold, hot = 293.15, 323.15
    rise = PropsSI("H", "T", hot, "P", pressure, "Air") - PropsSI(
        "H", "T", cold, "P", pressure, "Air"
    )
    density = PropsSI("D", "T", cold, "P", pressure, "Air")
    found = air_handler.temperature_rise_flow(
        heat_output=15_000.0, temperature_rise=hot - cold, density=density
    )
    assert found == pytest.approx(15_000.0 / rise / density, rel=0.003)


def test_thin_air_takes_more_volume():
    sea, high = air_handler.temperature_rise_flow(
        heat_output=15_000.0, temperature_rise=30.0, density=np.array([1.2, 1.0])
    )
    assert high / sea == pytest.approx(1.2)


def test_temperature_rise_uncertainty():
    """1 degF on either of 45 degF apart is 3.1 %; with the uncertainties package, 3.2."""
    found = air_handler.temperature_rise_uncertainty(
        temperature_rise=25.0, u_temperature=FAHRENHEIT, u_heat_output=0.0
    )
    assert 100 * found == pytest.approx(3.1, abs=0.05)
    heat, supply, back = ufloat(14_000, 280), ufloat(45, 0.5), ufloat(20, 0.5)
    oracle = heat / (supply - back)
    found = air_handler.temperature_rise_uncertainty(
        temperature_rise=25.0, u_temperature=0.5, u_heat_output=0.02
    )
    assert found == pytest.approx(oracle.std_dev / oracle.nominal_value, rel=1e-12)


@pytest.mark.parametrize("efficiency", [0.0, 1.2, 80.0])
def test_efficiency_in_percent_is_refused(efficiency):
    with pytest.raises(LeakageError, match="Efficiency"):
        air_handler.burner_output(heat_input=17_000.0, efficiency=efficiency)


def test_no_rise_no_flow():
    with pytest.raises(NotPositive, match="Temperature rise is 0 K"):
        air_handler.temperature_rise_flow(heat_output=1e4, temperature_rise=0.0, density=1.2)


def test_cfm_per_ton():
    """1150 cfm on 3 tons: 383.333."""
    found = air_handler.flow_cfm_per_ton(flow=1150 * CFM, capacity=36_000 * BTU_PER_HOUR)
    assert found == pytest.approx(383.333, abs=5e-4)


def test_external_static_pressure():
    """+0.32 and -0.41 in w.c.: 0.73 in w.c., 181.835 Pa."""
    found = air_handler.external_static_pressure(
        supply=0.32 * INCH_OF_WATER, return_=-0.41 * INCH_OF_WATER
    )
    assert found == pytest.approx(181.835, abs=5e-4)


def test_a_coil_outside_the_cabinet_counts():
    found = air_handler.external_static_pressure(supply=50.0, return_=-70.0, outside_parts=[45.0])
    assert found == 165.0


@pytest.mark.parametrize(("supply", "return_"), [(-80.0, 100.0), (0.0, 0.0)])
def test_swapped_static_hoses_are_refused(supply, return_):
    with pytest.raises(NotPositive, match="hoses are not swapped"):
        air_handler.external_static_pressure(supply=supply, return_=return_)


def test_a_static_pressure_not_read_is_refused():
    with pytest.raises(LeakageError, match="Return pressure is not given"):
        air_handler.external_static_pressure(supply=80.0, return_=None)


def test_limit_of_a_room_follows_its_flow():
    """±3 Pa, ±5 Pa from 150 cfm (ENERGY STAR new homes as quoted by PNNL, read)."""
    rule = air_handler.RoomLimit(limit=3.0, wide_limit=5.0, wide_from=150 * CFM)
    flows = (100 * CFM, 150 * CFM, None)
    assert [air_handler.room_limit(rule, design_flow=q) for q in flows] == [3, 5, 3]
    strict = air_handler.RoomLimit(limit=2.5, wide_limit=None, wide_from=None)
    assert air_handler.room_limit(strict, design_flow=300 * CFM) == 2.5


def test_transfer_area():
    """120 cfm at 3 Pa, discharge 0.6, 1.2041 kg/m³: 65.541 in²; orifice equation by calculator."""
    found = air_handler.transfer_area(flow=120 * CFM, pressure=3.0, discharge=0.6, density=1.2041)
    assert found / INCH2 == pytest.approx(65.541, abs=5e-4)


@given(
    area=st.floats(min_value=1e-3, max_value=0.1),
    flow=st.floats(min_value=1e-3, max_value=0.2),
    limit=st.floats(min_value=1, max_value=10),
)
def test_added_area_brings_the_room_to_its_limit(area, flow, limit):
    """The orifice equation written out here, before and after."""
    measured = 1.2041 / 2 * (flow / (0.6 * area)) ** 2
    more = air_handler.added_transfer_area(open_area=area, measured_pressure=measured, limit=limit)
    needed = air_handler.transfer_area(flow=flow, pressure=limit, discharge=0.6, density=1.2041)
    assert area + more == pytest.approx(needed, rel=1e-9)


def test_four_times_the_limit_takes_as_much_again():
    found = air_handler.added_transfer_area(
        open_area=0.02, measured_pressure=[-12.0, 3.0], limit=3.0
    )
    assert found == pytest.approx([0.02, 0.0])
