"""What each kind of measure does to a house, from its properties in the trade's units."""

from collections.abc import Callable, Mapping
from typing import Any

from agency.leakage.units import (
    CUBIC_METRE_PER_SECOND_PER_CFM,
    KELVIN_PER_FAHRENHEIT,
    SECOND_PER_HOUR,
    SQUARE_METRE_PER_SQUARE_FOOT,
    WATT_PER_BTU_PER_HOUR,
    celsius_from_fahrenheit,
)
from agency.savings.changes import (
    Change,
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
from agency.savings.conduction import (
    RESISTANCE_PER_R,
    parallel_transmittance,
    transmittance_with_defects,
)
from agency.savings.ducts import DuctRun, delivery_effectiveness, leak_share, with_regain
from agency.savings.equipment import (
    CUBIC_METRE_PER_GALLON,
    HOURS_A_YEAR,
    appliance_saving,
    mean_setpoint,
    seasonal_efficiency,
    water_heat,
    wrap_heat,
    yearly_use,
)
from agency.savings.house_energy import Plant
from agency.savings.infiltration_energy import air_density_at

from ..measure_kinds import (
    KINDS,
    Appliance,
    CoolingPlant,
    DuctSealing,
    HeatingPlant,
    Insulation,
    Lighting,
    LowFlow,
    Openings,
    TankWrap,
    Thermostat,
    WaterHeater,
)
from ..measures_inputs import MeasureInput, MeasuresInputs

KILOWATT_HOUR = 3.6e6
"""[J]  Exact."""
DAYS_A_YEAR = 365


def changes_of(inputs: MeasuresInputs) -> list[Change]:
    """What the energy measures do, in the order of installation; a change's name is its id."""
    return [
        MAKERS[one.kind](one.id, KINDS[one.kind].model_validate(one.properties), inputs)
        for one in energy_measures(inputs)
    ]


def energy_measures(inputs: MeasuresInputs) -> list[MeasureInput]:
    """Those that save energy, in the order of installation."""
    return [one for one in inputs.measures if one.category == "energy"]


def _air_sealing(name: str, _: Any, inputs: MeasuresInputs) -> Change:
    return seal_leaks(name, saved=inputs.leaks.before - inputs.leaks.after)


def _insulation(name: str, told: Insulation, _: MeasuresInputs) -> Change:
    old, new = (_transmittance(told, r) for r in (told.r_before, told.r_after))
    new = float(
        transmittance_with_defects(sound=new, defective=old, defect_share=told.missed_share or 0.0)
    )
    return insulate(name, saved=(old - new) * told.area_sqft * SQUARE_METRE_PER_SQUARE_FOOT)


def _transmittance(told: Insulation, r: float) -> float:
    """[W/(m² K)]"""
    if told.framing_share is None or told.framing_r is None:
        return 1 / (r * RESISTANCE_PER_R)
    shares = [1 - told.framing_share, told.framing_share]
    resistances = [r * RESISTANCE_PER_R, told.framing_r * RESISTANCE_PER_R]
    return float(parallel_transmittance(shares=shares, resistances=resistances))


def _openings(name: str, told: Openings, _: MeasuresInputs) -> Change:
    per_area = (told.u_before - told.u_after) / RESISTANCE_PER_R
    return insulate(name, saved=per_area * told.area_sqft * SQUARE_METRE_PER_SQUARE_FOOT)


def _ducts(name: str, told: DuctSealing, inputs: MeasuresInputs) -> Change:
    """By leaks, the recorded efficiency improves as the worked-out one does."""
    if told.efficiency_after is not None:
        return mend_ducts(name, efficiency=told.efficiency_after)
    before = _distribution(told, told.leakage_before_cfm or 0.0, inputs)
    after = _distribution(told, told.leakage_after_cfm or 0.0, inputs)
    return mend_ducts(name, efficiency=inputs.house.distribution_efficiency * after / before)


def _distribution(told: DuctSealing, leakage_cfm: float, inputs: MeasuresInputs) -> float:
    """Half of the leaks on each side: the test tells them together. Common practice."""
    fan_flow = _given(told.fan_flow_cfm) * CUBIC_METRE_PER_SECOND_PER_CFM
    lost = leak_share(
        leakage_flow=leakage_cfm / 2 * CUBIC_METRE_PER_SECOND_PER_CFM, fan_flow=fan_flow
    )
    around = celsius_from_fahrenheit(_given(told.around_f))
    supply, returns = (
        DuctRun(
            area=_given(area) * SQUARE_METRE_PER_SQUARE_FOOT,
            resistance=_given(told.duct_r) * RESISTANCE_PER_R,
            leak_share=lost,
            surroundings=inputs.house.heating_setpoint - around,
        )
        for area in (told.supply_area_sqft, told.return_area_sqft)
    )
    delivery = delivery_effectiveness(
        supply=supply,
        returns=returns,
        fan_flow=fan_flow,
        capacity=_given(told.capacity_btuh) * WATT_PER_BTU_PER_HOUR,
        density=air_density_at(inputs.house.elevation or 0.0),
    )
    return float(with_regain(delivery=delivery, regain=inputs.regain[str(told.location)]))


def _heating(name: str, told: HeatingPlant, _: MeasuresInputs) -> Change:
    return replace_heating(
        name, plant=Plant(fuel=told.fuel_after, efficiency=told.efficiency_after)
    )


def _cooling(name: str, told: CoolingPlant, _: MeasuresInputs) -> Change:
    return replace_cooling(name, efficiency=float(seasonal_efficiency(told.seer_after)))


def _thermostat(name: str, told: Thermostat, inputs: MeasuresInputs) -> Change:
    kept = inputs.house.heating_setpoint
    setback = told.setback_f * KELVIN_PER_FAHRENHEIT
    mean = mean_setpoint(setpoint=kept, setback=setback, hours=told.hours_a_day)
    return lower_setpoint(name, by=kept - float(mean))


def _water_heater(name: str, told: WaterHeater, _: MeasuresInputs) -> Change:
    return replace_water_heater(
        name, plant=Plant(fuel=told.fuel_after, efficiency=told.efficiency_after)
    )


def _low_flow(name: str, told: LowFlow, inputs: MeasuresInputs) -> Change:
    drawn = told.gallons_a_day * CUBIC_METRE_PER_GALLON * DAYS_A_YEAR
    return save_hot_water(
        name, heat=float(water_heat(volume=drawn, rise=inputs.house.hot_water_rise))
    )


def _tank_wrap(name: str, told: TankWrap, _: MeasuresInputs) -> Change:
    area = told.area_sqft * SQUARE_METRE_PER_SQUARE_FOOT
    heat = wrap_heat(
        before=area / (told.r_before * RESISTANCE_PER_R),
        after=area / (told.r_after * RESISTANCE_PER_R),
        temperature_difference=told.warmer_f * KELVIN_PER_FAHRENHEIT,
        hours=HOURS_A_YEAR,
    )
    return save_hot_water(name, heat=float(heat))


def _lighting(name: str, told: Lighting, inputs: MeasuresInputs) -> Change:
    watts = told.lamps * (told.watts_before - told.watts_after)
    return _baseload(name, watts * told.hours_a_day * DAYS_A_YEAR * SECOND_PER_HOUR, inputs)


def _appliance(name: str, told: Appliance, inputs: MeasuresInputs) -> Change:
    before = yearly_use(metered=told.metered_kwh * KILOWATT_HOUR, hours=told.metered_hours)
    saved = appliance_saving(before=before, rated=told.rated_kwh * KILOWATT_HOUR)
    return _baseload(name, float(saved), inputs)


def _baseload(name: str, energy: float, inputs: MeasuresInputs) -> Change:
    lost = energy / (HOURS_A_YEAR * SECOND_PER_HOUR) * inputs.lighting_inside
    return save_baseload(name, energy=energy, gains=lost)


def _given(value: float | None) -> float:
    if value is None:
        raise LookupError("A duct figure is missing although its form asks for all of them.")
    return value


MAKERS: Mapping[str, Callable[[str, Any, MeasuresInputs], Change]] = {
    "air_sealing": _air_sealing,
    "insulation": _insulation,
    "openings": _openings,
    "duct_sealing": _ducts,
    "heating": _heating,
    "cooling": _cooling,
    "thermostat": _thermostat,
    "water_heater": _water_heater,
    "low_flow": _low_flow,
    "tank_wrap": _tank_wrap,
    "lighting": _lighting,
    "appliance": _appliance,
}
"""By kind; work without a saving changes nothing and is not among them."""
