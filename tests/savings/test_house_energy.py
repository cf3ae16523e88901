"""A house's year against hand sums, plain Python, degree days and its own laws."""

import csv
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pvlib
import pytest
from hypothesis import given
from hypothesis import strategies as st

from agency.leakage.errors import LeakageError
from agency.savings.climate import Convention, heating_degree_days
from agency.savings.conduction import heat_through
from agency.savings.errors import SavingsError
from agency.savings.house_energy import (
    Plant,
    balance_temperature,
    cooling_need,
    energy_bought,
    heating_need,
    mean_balance_temperature,
)
from agency.savings.infiltration_energy import Hours
from tests.savings.houses import COOLED, GAS_HEAT, GAS_WATER, HOUSE, LIGHTS, SITE

GREENSBORO = Path(pvlib.__file__).parent / "data" / "723170TYA.CSV"
KWH = 3.6e6

conductances = st.floats(min_value=50, max_value=800)
areas = st.floats(min_value=0.0, max_value=0.3)


def steady(temperature, hours):
    return replace(
        SITE,
        hours=Hours(
            temperature=np.full(hours, temperature),
            wind_speed=np.zeros(hours),
            humidity_ratio=np.full(hours, 0.012),
        ),
    )


def test_a_tight_house_in_steady_cold_by_hand():
    """200 W/K, 400 W of gains: heated below 20 - 2 = 18 °C; 240 h at 8 °C take 480 kWh."""
    house = replace(HOUSE, conductance=200.0, gains=400.0, leakage_area=0.0)
    assert float(heating_need(house, steady(8.0, 240))[0]) / KWH == pytest.approx(480)
    assert float(heating_need(house, steady(18.0, 240))[0]) == 0
    assert float(mean_balance_temperature(house, steady(8.0, 24))[0]) == pytest.approx(18)


def test_a_leaky_house_in_steady_warmth_by_hand():
    """One hour at 35 °C, no wind, 200 W/K, 500 W, 500 cm², 25 °C and 0.010 kg/kg indoors.

    Flow 500 sqrt(0.0002175 x 10) = 23.318 L/s (1.5 storeys, table read). Sensible
    2000 + 500 + 1.15 x 1004.832 x 0.023318 x 10 = 2769.45 W; latent
    1.15 x 2,502,776 x 0.023318 x 0.002 = 134.23 W.
    """
    house = replace(HOUSE, conductance=200.0, leakage_area=0.05)
    cooling = replace(HOUSE.cooling, gains=500.0)
    found = cooling_need(house, cooling, steady(35.0, 1))
    assert float(found[0]) / 3600 == pytest.approx(2769.45 + 134.23, abs=0.05)


def test_greensboro_without_leaks_agrees_with_its_degree_days():
    """TMY3 723170 as shipped with pvlib: UA x 24 x hourly degree days at the balance point."""
    with GREENSBORO.open(newline="") as file:
        next(file)
        dry_bulb = np.array([float(row["Dry-bulb (C)"]) for row in csv.DictReader(file)])
    year = Hours(temperature=dry_bulb, wind_speed=dry_bulb * 0, humidity_ratio=dry_bulb * 0)
    house = replace(HOUSE, leakage_area=0.0, conductance=250.0, gains=750.0)
    days = heating_degree_days(dry_bulb, base=20.0 - 3.0, convention=Convention.HOURLY)
    found = heating_need(house, replace(SITE, hours=year))
    assert float(found[0]) == pytest.approx(
        float(heat_through(conductance=250.0, degree_days=days)), rel=1e-9
    )


def test_many_houses_agree_with_plain_python():
    rng = np.random.default_rng(11)
    shell, leaks = rng.uniform(80, 500, 9), rng.uniform(0, 0.2, 9)
    together = heating_need(replace(HOUSE, conductance=shell, leakage_area=leaks), SITE)
    for i in range(9):
        watts = []
        for t, u in zip(SITE.hours.temperature, SITE.hours.wind_speed, strict=True):
            drive = math.sqrt(0.0002175 * abs(20 - t) + (0.000174 + 0.000231) / 2 * u * u)
            whole = shell[i] + 1.15 * 0.24 * 4186.8 * 10 * leaks[i] * drive
            watts.append(max(0.0, whole * (20 - t) - 600))
        assert together[i] == pytest.approx(3600 * math.fsum(watts), rel=1e-10)


def test_energy_of_each_use_is_need_over_what_brings_it():
    found = energy_bought(HOUSE, SITE)
    need = float(heating_need(HOUSE, SITE)[0])
    cold = float(cooling_need(HOUSE, HOUSE.cooling, SITE)[0])
    assert float(found[GAS_HEAT][0]) == pytest.approx(need / 0.72 / 0.75)
    assert float(found[COOLED][0]) == pytest.approx(cold / 2.8 / 0.75)
    assert float(found[GAS_WATER][0]) == pytest.approx(9e9 / 0.58)
    assert float(found[LIGHTS][0]) == 2.5e10
    assert COOLED not in energy_bought(replace(HOUSE, cooling=None), SITE)


def test_the_balance_point_falls_as_the_house_improves():
    """By hand: 20 - 600/300 = 18 °C, 20 - 600/150 = 16 °C."""
    found = balance_temperature(setpoint=20.0, gains=600.0, conductance=np.array([300.0, 150.0]))
    assert found.tolist() == [18.0, 16.0]
    tight = replace(HOUSE, leakage_area=0.02)
    assert mean_balance_temperature(tight, SITE) < mean_balance_temperature(HOUSE, SITE)


@given(shell=conductances, leaks=areas, less=st.floats(min_value=0, max_value=1))
def test_less_leakage_or_conductance_never_needs_more(shell, leaks, less):
    house = replace(HOUSE, conductance=shell, leakage_area=leaks)
    for better in (
        replace(house, leakage_area=leaks * less),
        replace(house, conductance=shell * (0.1 + 0.9 * less)),
    ):
        assert heating_need(better, SITE) <= heating_need(house, SITE)
        assert cooling_need(better, HOUSE.cooling, SITE) <= cooling_need(house, HOUSE.cooling, SITE)


def test_figures_of_trials_and_of_all_trials_go_together():
    """Three efficiencies, one shell: three answers."""
    house = replace(HOUSE, heating=Plant(fuel="natural_gas", efficiency=np.array([0.6, 0.8, 0.9])))
    found = energy_bought(house, SITE)
    assert found[GAS_HEAT].shape == found[LIGHTS].shape == (3,)
    assert found[GAS_HEAT][0] * 0.6 == pytest.approx(found[GAS_HEAT][2] * 0.9)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"conductance": 0.0}, "Conductance of the shell is 0 W/K"),
        ({"leakage_area": -0.01}, "Leakage area is -0.01"),
        ({"gains": -5.0}, "Gains"),
        ({"distribution_efficiency": 85.0}, "Distribution efficiency"),
        ({"baseload": math.nan}, "Baseload"),
    ],
)
def test_impossible_houses_are_refused(change, message):
    with pytest.raises(SavingsError, match=message):
        replace(HOUSE, **change)


def test_a_missing_hour_is_refused():
    hours = replace(SITE.hours, wind_speed=np.where(SITE.hours.wind_speed > 5, np.nan, 1.0))
    with pytest.raises(LeakageError, match="wind speed"):
        heating_need(HOUSE, replace(SITE, hours=hours))
