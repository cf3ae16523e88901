"""Air density, viscosity and pressure against other implementations and printed values."""

import psychrolib
import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import given
from hypothesis import strategies as st

from agency.leakage import air
from agency.leakage.errors import LeakageError

psychrolib.SetUnitSystem(psychrolib.SI)

# ASTM E779 Appendix X1 form, from memory; evaluated by hand from the printed formula.
E779_DENSITY = [
    # T [degC], E [m], density [kg/m³]
    (20.0, 0.0, 1.2041),
    (0.0, 0.0, 1.2923),
    (-20.0, 0.0, 1.3945),
    (20.0, 1609.0, 0.9947),
    (-10.0, 1609.0, 1.1082),
    (8.0, 2350.0, 0.9476),
]
# Sutherland with b = 1.458e-6 and s = 110.4 K (Roulet, Ventilation and Airflow in Buildings, read).
VISCOSITY = [(-20.0, 1.6146e-5), (0.0, 1.7153e-5), (20.0, 1.8127e-5), (35.0, 1.8836e-5)]
MOIST = [(20.0, 101_325.0, 0.5), (31.0, 97_500.0, 0.6), (-22.0, 98_900.0, 0.7)]


@pytest.mark.parametrize(("temperature", "elevation", "density"), E779_DENSITY)
def test_dry_air_density_agrees_with_the_printed_form(temperature, elevation, density):
    found = air.dry_air_density(temperature=temperature, elevation=elevation)
    assert found == pytest.approx(density, abs=0.00005 + 1e-4 * density)


@pytest.mark.parametrize("temperature", [-20.0, 0.0, 20.0])
def test_dry_air_density_agrees_with_psychrolib_at_sea_level(temperature):
    """psychrolib 2.5, dry air; the form rounds 273.15 to 273, which is worth 1e-4."""
    oracle = psychrolib.GetDryAirDensity(temperature, 101_325.0)
    assert air.dry_air_density(temperature=temperature, elevation=0.0) == pytest.approx(
        oracle, rel=2e-4
    )


@pytest.mark.parametrize(
    ("temperature", "elevation", "gap"), [(20.0, 1609.0, 0.0033), (8.0, 2350.0, 0.0049)]
)
def test_e779_form_lies_above_the_standard_atmosphere(temperature, elevation, gap):
    """The lapse starts at 293 K instead of 288.15 K; psychrolib has the ISO 2533 atmosphere."""
    oracle = psychrolib.GetDryAirDensity(temperature, psychrolib.GetStandardAtmPressure(elevation))
    found = air.dry_air_density(temperature=temperature, elevation=elevation)
    assert found / oracle - 1 == pytest.approx(gap, abs=3e-4)


@pytest.mark.parametrize("temperature", [-20.0, 5.0, 35.0])
@pytest.mark.parametrize("pressure", [75_000.0, 98_000.0, 101_325.0])
def test_density_at_a_measured_pressure_agrees_with_coolprop(temperature, pressure):
    oracle = PropsSI("D", "T", temperature + 273.15, "P", pressure, "Air")
    found = air.dry_air_density_at_pressure(temperature=temperature, pressure=pressure)
    assert found == pytest.approx(oracle, rel=1e-3)


@pytest.mark.parametrize(("temperature", "viscosity"), VISCOSITY)
def test_viscosity_agrees_with_the_printed_constants(temperature, viscosity):
    found = air.dynamic_viscosity(temperature)
    assert found == pytest.approx(viscosity, rel=1e-4)
    oracle = PropsSI("V", "T", temperature + 273.15, "P", 101_325.0, "Air")
    assert found == pytest.approx(oracle, rel=0.005)


@pytest.mark.parametrize(("temperature", "pressure", "humidity"), MOIST)
def test_moist_air_density_agrees_with_psychrolib(temperature, pressure, humidity):
    ratio = psychrolib.GetHumRatioFromRelHum(temperature, humidity, pressure)
    oracle = psychrolib.GetMoistAirDensity(temperature, ratio, pressure)
    found = air.moist_air_density(temperature=temperature, pressure=pressure, humidity=humidity)
    assert found == pytest.approx(oracle, rel=1e-3)


@pytest.mark.parametrize("temperature", [1.0, 20.0, 40.0])
def test_saturation_pressure_agrees_with_psychrolib_above_freezing(temperature):
    oracle = psychrolib.GetSatVapPres(temperature)
    assert air.saturation_vapour_pressure(temperature) == pytest.approx(oracle, rel=0.003)


@pytest.mark.parametrize("elevation", [0.0, 277.0, 1609.0, 2350.0])
def test_standard_pressure_agrees_with_psychrolib(elevation):
    oracle = psychrolib.GetStandardAtmPressure(elevation)
    assert air.standard_pressure(elevation) == pytest.approx(oracle, rel=1e-4)


def test_standard_pressure_at_sea_level_is_the_definition():
    assert air.standard_pressure(0.0) == 101_325.0


@given(st.floats(min_value=-60, max_value=59), st.floats(min_value=-500, max_value=5499))
def test_air_thins_with_warmth_and_height(temperature, elevation):
    here = air.dry_air_density(temperature=temperature, elevation=elevation)
    assert air.dry_air_density(temperature=temperature + 1, elevation=elevation) < here
    assert air.dry_air_density(temperature=temperature, elevation=elevation + 1) < here


def test_water_vapour_makes_air_lighter():
    dry, damp = air.moist_air_density(temperature=20.0, pressure=1e5, humidity=[0.0, 1.0])
    assert damp < dry


REFUSED = [
    (lambda: air.dry_air_density(temperature=68.0, elevation=0.0), "Temperature is 68 degC"),
    (lambda: air.dry_air_density(temperature=20.0, elevation=9000.0), "Elevation is 9000 m"),
    (
        lambda: air.moist_air_density(temperature=20.0, pressure=101.3, humidity=0.5),
        "Station pressure is 101.3 Pa",
    ),
    (
        lambda: air.moist_air_density(temperature=20.0, pressure=1e5, humidity=50),
        "Relative humidity is 50",
    ),
    (lambda: air.dynamic_viscosity(float("nan")), "Temperature is nan"),
]


@pytest.mark.parametrize(("call", "words"), REFUSED)
def test_values_out_of_range_are_refused_by_name(call, words):
    with pytest.raises(LeakageError, match=words):
        call()
