"""Plant, hot water, lights and appliances against hand sums and their own laws."""

from datetime import date

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from agency.savings.equipment import (
    CUBIC_METRE_PER_GALLON,
    appliance_saving,
    fuel_switch,
    lighting_saving,
    mean_setpoint,
    saving_from_replacement,
    seasonal_efficiency,
    water_heat,
    wrap_heat,
    yearly_use,
)
from agency.savings.errors import SavingsError
from agency.savings.fuels import BTU
from agency.savings.money import PriceRow

KWH = 3.6e6
THERM = 1e5 * BTU
GAS = PriceRow(
    fuel="natural_gas", unit="therm", price=1.25, effective_from=date(2026, 1, 1), source="tariff"
)
POWER = PriceRow(
    fuel="electricity", unit="kWh", price=0.15, effective_from=date(2026, 1, 1), source="tariff"
)

energies = st.floats(min_value=0, max_value=1e12)
efficiencies = st.floats(min_value=0.3, max_value=6)


def test_a_seasonal_rating_over_3_412_is_heat_per_energy():
    """Btu/(W h); 3,412 Btu a kWh: US EIA (read). HSPF 8.53 is 2.5, SEER 13 is 3.81."""
    found = seasonal_efficiency([8.53, 13.0])
    assert found == pytest.approx([8.53 / 3.412, 13 / 3.412], rel=1e-4)


def test_a_new_furnace_by_hand():
    """800 therms at 65 % are 520 of heat; at 95 % they take 547.4: 252.6 saved."""
    found = saving_from_replacement(energy=800 * THERM, before=0.65, after=0.95)
    assert float(found) / THERM == pytest.approx(252.63, abs=0.005)


@given(energy=energies, old=efficiencies, new=efficiencies)
def test_a_replacement_saves_less_than_all_and_nothing_when_nothing_changes(energy, old, new):
    assert float(saving_from_replacement(energy=energy, before=old, after=old)) == 0
    saved = float(saving_from_replacement(energy=energy, before=old, after=new))
    assert saved <= energy
    assert np.sign(saved) == (np.sign(new - old) if energy else 0)


def test_a_fuel_switch_by_hand():
    """500 therms at 80 % are 40 million Btu; at COP 3, 13.33 million Btu or 3,907.6 kWh.

    500 x $1.25 less 3,907.6 x $0.15 is $38.86.
    """
    found = fuel_switch(
        energy=500 * THERM, before=0.8, after=3.0, price_before=GAS, price_after=POWER
    )
    assert float(found.energy_after) / KWH == pytest.approx(40e6 / 3 / 3412.14, rel=1e-5)
    assert float(found.money_saved) == pytest.approx(38.86, abs=0.01)


def test_hot_water_by_hand():
    """20 gal a day raised 70 °F: 20 x 365 x 8.33 x 70 = 4.257 million Btu.

    At a UEF of 0.92 that is 1,356 kWh.
    """
    drawn = water_heat(volume=20 * 365 * CUBIC_METRE_PER_GALLON, rise=70 / 1.8)
    assert float(drawn) / BTU == pytest.approx(4.2566e6, rel=1e-4)
    assert float(drawn) / 0.92 / KWH == pytest.approx(1356, abs=1)


def test_the_heat_of_water_is_that_of_a_steam_table_within_the_rounding_of_8_33():
    """Density 998.2 and 4,182 J/(kg K) at 20 °C, steam tables, from memory."""
    assert float(water_heat(volume=1.0, rise=1.0)) == pytest.approx(998.2 * 4182, rel=0.002)


def test_a_wrapped_tank_by_hand():
    """2.0 to 1.2 W/K, 30 K warmer than its room all year: 0.8 x 30 x 8.76 = 210.24 kWh."""
    found = wrap_heat(before=2.0, after=1.2, temperature_difference=30.0, hours=8760)
    assert float(found) / KWH == pytest.approx(210.24)


def test_lights_by_hand():
    """500 W for 1,000 h is 500 kWh; half of it heating at 0.8 x 0.9: 347.2 kWh of fuel."""
    found = lighting_saving(
        power_saved=500.0, hours=1000.0, heating_share=0.5, heating_efficiency=0.8,
        distribution_efficiency=0.9,
    )  # fmt: skip
    assert float(found.electricity) / KWH == pytest.approx(500)
    assert float(found.heating_penalty) / KWH == pytest.approx(347.22, abs=0.005)


def test_a_refrigerator_metered_for_two_days_by_hand():
    """6 kWh in 48 h is 1,095 a year; the new one is rated at 400."""
    old = yearly_use(metered=6 * KWH, hours=48.0)
    assert float(old) / KWH == pytest.approx(1095)
    assert float(appliance_saving(before=old, rated=400 * KWH)) / KWH == pytest.approx(695)


def test_a_thrifty_old_appliance_is_told_by_a_negative_saving():
    assert float(appliance_saving(before=300 * KWH, rated=400 * KWH)) / KWH == pytest.approx(-100)


def test_a_setback_by_hand():
    """20 °C, 3 K lower for 8 hours of 24: 19 °C; nothing for no hours."""
    assert float(mean_setpoint(setpoint=20.0, setback=3.0, hours=8.0)) == pytest.approx(19)
    assert float(mean_setpoint(setpoint=20.0, setback=3.0, hours=0.0)) == 20


@pytest.mark.parametrize(
    ("work", "message"),
    [
        (lambda: seasonal_efficiency(0.0), "Seasonal rating"),
        (lambda: saving_from_replacement(energy=1.0, before=80.0, after=0.95), "0.80 and not 80"),
        (lambda: water_heat(volume=-1.0, rise=30.0), "Hot water is -1 m³"),
        (lambda: yearly_use(metered=1.0, hours=0.0), "Hours metered"),
        (lambda: mean_setpoint(setpoint=20.0, setback=3.0, hours=25.0), "Share of the day"),
        (lambda: appliance_saving(before=float("nan"), rated=1.0), "Metered use is nan J"),
    ],
)
def test_impossible_figures_are_refused(work, message):
    with pytest.raises(SavingsError, match=message):
        work()
