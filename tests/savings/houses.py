"""A house, a site and measures that the tests of whole houses share."""

import numpy as np

from agency.leakage.infiltration import basic_coefficients
from agency.savings.changes import (
    insulate,
    lower_setpoint,
    mend_ducts,
    replace_cooling,
    replace_heating,
    replace_water_heater,
    save_baseload,
    save_hot_water,
    seal_leaks,
)
from agency.savings.house_energy import Cooling, EndUse, House, Plant, Site, Use
from agency.savings.infiltration_energy import Hours

GAS_HEAT = Use(EndUse.HEATING, "natural_gas")
GAS_WATER = Use(EndUse.HOT_WATER, "natural_gas")
COOLED = Use(EndUse.COOLING, "electricity")
LIGHTS = Use(EndUse.BASELOAD, "electricity")

SITE = Site(
    hours=Hours(
        temperature=np.linspace(-20.0, 36.0, 96),
        wind_speed=np.resize([1.0, 3.0, 6.0, 2.0], 96),
        humidity_ratio=np.linspace(0.001, 0.018, 96),
    ),
    density=1.15,
    coefficients=basic_coefficients(storeys=1.5, shelter_class=3),
)
HOUSE = House(
    conductance=300.0,
    leakage_area=0.09,
    setpoint=20.0,
    gains=600.0,
    heating=Plant(fuel="natural_gas", efficiency=0.72),
    distribution_efficiency=0.75,
    cooling=Cooling(
        setpoint=25.0, gains=700.0, indoor_humidity_ratio=0.010, efficiency=2.8,
        distribution_efficiency=0.75,
    ),
    hot_water=Plant(fuel="natural_gas", efficiency=0.58),
    hot_water_heat=9e9,
    baseload=2.5e10,
)  # fmt: skip
SEAL = seal_leaks("Air sealing", saved=0.03)
ATTIC = insulate("Attic insulation", saved=70.0)
WINDOWS = insulate("Storm windows", saved=25.0)
DUCTS = mend_ducts("Duct sealing", efficiency=0.88)
FURNACE = replace_heating("Furnace", plant=Plant(fuel="natural_gas", efficiency=0.95))
COOLER = replace_cooling("Cooling", efficiency=4.0)
SETBACK = lower_setpoint("Thermostat", by=1.0)
FITTINGS = save_hot_water("Low-flow fittings", heat=1.5e9)
HEATER = replace_water_heater("Water heater", plant=Plant(fuel="natural_gas", efficiency=0.64))
LAMPS = save_baseload("Lamps", energy=3e9, gains=80.0)

ALL = [SEAL, ATTIC, WINDOWS, DUCTS, FURNACE, COOLER, SETBACK, FITTINGS, HEATER, LAMPS]
HELPFUL_TO_HEATING = [SEAL, ATTIC, WINDOWS, DUCTS, FURNACE, SETBACK]
"""Each lowers the need, or the energy for a need; lamps raise it."""
