"""A house in Greensboro and one measure of every kind, for the tests of the bridge."""

from agency.estimates.measures_inputs import (
    Economics,
    HouseInput,
    Leaks,
    MeasureInput,
    MeasuresInputs,
    Price,
    ShellPart,
    Uncertainties,
)

TODAY = {10: 1.0, 20: 1.0, 30: 1.0}


def measure(number, kind, cost, **properties):
    return MeasureInput(
        id=str(number), kind=kind, name=kind, category="energy", properties=properties,
        material=cost, labour=0, supervision=0, repairs=0, lifetime=20, lifetime_source="test",
    )  # fmt: skip


SEAL = measure(1, "air_sealing", 900)
CEILING = measure(
    2, "insulation", 1500, assembly="ceiling", area_sqft=1000, r_before=11, r_after=44
)
DUCTS = measure(3, "duct_sealing", 500, efficiency_after=0.88)
FURNACE = measure(4, "heating", 4500, fuel_after="natural_gas", efficiency_after=0.95)
LAMPS = measure(5, "lighting", 60, lamps=20, watts_before=43, watts_after=9, hours_a_day=3)
COOLER = measure(6, "cooling", 3000, seer_after=16)
SETBACK = measure(7, "thermostat", 140, setback_f=6, hours_a_day=8)
HEATER = measure(8, "water_heater", 900, fuel_after="electricity", efficiency_after=3.2)
FITTINGS = measure(9, "low_flow", 50, gallons_a_day=9)
WRAP = measure(10, "tank_wrap", 60, area_sqft=24, r_before=12, r_after=21, warmer_f=55)
WINDOWS = measure(11, "openings", 2000, area_sqft=100, u_before=1.0, u_after=0.3)
FRIDGE = measure(12, "appliance", 700, metered_kwh=3.4, metered_hours=24, rated_kwh=390)
ALL = [SEAL, CEILING, WINDOWS, DUCTS, FURNACE, COOLER, SETBACK, HEATER, FITTINGS, WRAP, LAMPS,
       FRIDGE]  # fmt: skip


def usual_inputs():
    """One storey over a basement in Greensboro, gas furnace and central cooling."""
    return MeasuresInputs(
        house=HouseInput(
            parts=[ShellPart(name="all", area=300.0, transmittance=1.1)],
            storeys=1.0, shelter_class=3, elevation=None, volume=300.0,
            foundation="basement or slab", flue="no flue", exhaust=None, supply=None,
            heating_setpoint=20.0, cooling_setpoint=25.0, cooling_humidity=0.5, gains=700.0,
            cooling_gains=900.0, heating_fuel="natural_gas", heating_efficiency=0.78,
            distribution_efficiency=0.75, cooling_efficiency=2.9, water_fuel="natural_gas",
            water_efficiency=0.58, hot_water=60.0, hot_water_rise=39.0, baseload=2.3e10,
        ),
        leaks=Leaks(before=0.11, after=0.075, u_before=0.05, u_after=0.05, shared=0.03,
                    exponent=0.67, flow_50=1.1, basis="test"),
        model="basic", n_factor_climate=17.0, regain={"attic": 0.1}, lighting_inside=0.7,
        measures=[SEAL, CEILING, DUCTS, FURNACE, LAMPS],
        prices=[
            Price(fuel="natural_gas", unit="therm", price=1.2, effective_from="2026-01-01",
                  source="test", indices=TODAY),
            Price(fuel="electricity", unit="kWh", price=0.15, effective_from="2026-01-01",
                  source="test", indices=TODAY),
        ],
        billed=[],
        economics=Economics(discount_rate=0.03, required=1.0, price_swing=0.25, low_rate=0.01,
                            high_rate=0.07, calibration_lowest=0.5, calibration_highest=1.5),
        spread=Uncertainties(infiltration_model=0.25, weather_year=0.07, setpoint=1.0,
                             heating_efficiency=0.06, cooling_efficiency=0.12),
        trials=200, seed=1, assumptions=[],
    )  # fmt: skip


def changed(inputs, **updates):
    return inputs.model_copy(update=updates)


def with_house(inputs, **updates):
    return changed(inputs, house=inputs.house.model_copy(update=updates))


def with_leaks(inputs, **updates):
    return changed(inputs, leaks=inputs.leaks.model_copy(update=updates))
