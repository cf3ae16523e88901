"""Energy of leaking air against the trade's constants, plain sums and its own laws."""

import math

import numpy as np
import psychrolib
import pytest
from hypothesis import given
from hypothesis import strategies as st

from agency.leakage.infiltration import basic_coefficients
from agency.savings.errors import SavingsError
from agency.savings.fuels import BTU
from agency.savings.infiltration_energy import (
    STANDARD_AIR_DENSITY,
    Hours,
    air_density_at,
    cooling_load_by_house,
    heating_load,
    heating_load_by_house,
    latent_cooling_load,
    sensible_cooling_load,
)

CFM = 0.3048**3 / 60
psychrolib.SetUnitSystem(psychrolib.SI)


def test_one_cfm_through_one_degree_for_an_hour_is_1_08_btu():
    """0.075 lb/ft³ x 0.24 Btu/(lb °F) x 60 min = 1.08, the trade's constant, by definition."""
    joules = heating_load(
        flow=[CFM], temperature=[0.0], balance=1 / 1.8, density=STANDARD_AIR_DENSITY
    )
    assert float(joules) / BTU == pytest.approx(1.08, rel=1e-9)


def test_the_cooling_side_has_the_same_constant():
    joules = sensible_cooling_load(
        flow=[CFM], temperature=[20 + 1 / 1.8], balance=20.0, density=STANDARD_AIR_DENSITY
    )
    assert float(joules) / BTU == pytest.approx(1.08, rel=1e-9)


def test_one_cfm_through_a_unit_of_humidity_for_an_hour_is_4840_btu():
    """0.075 x 60 x 1,076 Btu/lb = 4,842; the trade prints 4,840."""
    joules = latent_cooling_load(
        flow=[CFM], temperature=[30.0], balance=24.0, humidity_ratio=[1.01],
        indoor_humidity_ratio=0.01, density=STANDARD_AIR_DENSITY,
    )  # fmt: skip
    assert float(joules) / BTU == pytest.approx(4840, abs=5)


@pytest.mark.parametrize(("feet", "printed"), [(0, 0.0180), (2000, 0.0168), (3000, 0.0162)])
def test_density_at_height_agrees_with_the_state_code(feet, printed):
    """Btu/(ft³ °F), Washington WAC 51-11C-61081 (read); three digits, and another atmosphere."""
    per_cubic_foot = air_density_at(feet * 0.3048) / STANDARD_AIR_DENSITY * 0.075 * 0.24
    assert per_cubic_foot == pytest.approx(printed, rel=0.006)


@given(elevation=st.floats(min_value=-400, max_value=4900))
def test_density_falls_as_the_librarys_standard_pressure(elevation):
    ratio = psychrolib.GetStandardAtmPressure(elevation) / 101_325
    assert air_density_at(elevation) / STANDARD_AIR_DENSITY == pytest.approx(ratio, rel=1e-4)


@pytest.mark.parametrize("elevation", [-501, 5001, math.nan])
def test_heights_off_the_formula_are_refused(elevation):
    with pytest.raises(SavingsError, match="elevation"):
        air_density_at(elevation)


def test_flow_and_cold_are_summed_hour_by_hour():
    """Two hours by hand: (1 x 30 + 3 x 10) K m³/s, not the product of means 2 x 20 x 2."""
    joules = heating_load(
        flow=[1.0, 3.0], temperature=[-12.0, 8.0], balance=18.0, density=STANDARD_AIR_DENSITY
    )
    capacity = STANDARD_AIR_DENSITY * 0.24 * 4186.8 * 3600
    assert float(joules) == pytest.approx(60 * capacity)


@pytest.mark.parametrize(
    ("temperature", "outside", "inside"),
    [(30.0, 0.009, 0.010), (20.0, 0.015, 0.010), (30.0, 0.010, 0.010)],
)
def test_dry_or_cool_air_brings_no_latent_load(temperature, outside, inside):
    """Counted only when it is warmer than indoors and moister than indoors; never negative."""
    load = latent_cooling_load(
        flow=[1.0], temperature=[temperature], balance=24.0, humidity_ratio=[outside],
        indoor_humidity_ratio=inside, density=1.2,
    )  # fmt: skip
    assert float(load) == 0


def small_year(seed, hours=200):
    rng = np.random.default_rng(seed)
    return Hours(
        temperature=rng.uniform(-25, 38, hours),
        wind_speed=rng.uniform(0, 12, hours),
        humidity_ratio=rng.uniform(0.0005, 0.02, hours),
    )


def test_many_houses_agree_with_plain_python():
    """35 houses against scalar sums with the printed coefficients of one storey, class 3."""
    year = small_year(3)
    rng = np.random.default_rng(4)
    area, setpoint = rng.uniform(0.01, 0.1, 35), rng.uniform(18, 22, 35)
    coefficients = basic_coefficients(storeys=np.ones(35), shelter_class=3)
    heat = heating_load_by_house(
        leakage_area=area, coefficients=coefficients, setpoint=setpoint, balance=setpoint - 3,
        hours=year, density=1.1,
    )  # fmt: skip
    cool = cooling_load_by_house(
        leakage_area=area, coefficients=coefficients, setpoint=setpoint,
        indoor_humidity_ratio=np.full(35, 0.01), hours=year, density=1.1,
    )  # fmt: skip
    for i in (0, 15, 16, 34):
        warmth = cooling = moisture = 0.0
        for t, u, w in zip(year.temperature, year.wind_speed, year.humidity_ratio, strict=True):
            drive = math.sqrt(0.000145 * abs(setpoint[i] - t) + 0.000174 * u**2)
            flow = 10 * area[i] * drive
            warmth += flow * max(0, setpoint[i] - 3 - t)
            cooling += flow * max(0, t - setpoint[i])
            moisture += flow * max(0, w - 0.01) * (t > setpoint[i])
        assert heat[i] == pytest.approx(warmth * 1.1 * 0.24 * 4186.8 * 3600, rel=1e-10)
        assert cool.sensible[i] == pytest.approx(cooling * 1.1 * 0.24 * 4186.8 * 3600, rel=1e-10)
        assert cool.latent[i] == pytest.approx(moisture * 1.1 * 1076 * 2326 * 3600, rel=1e-10)
