"""The house, its site and its uncertainties as the formulas want them."""

from collections.abc import Mapping

from agency.leakage.infiltration import BASIC_MODEL, basic_coefficients
from agency.leakage.infiltration_combining import Superposition
from agency.leakage.infiltration_enhanced import (
    ENHANCED_MODEL,
    Flue,
    Foundation,
    enhanced_coefficients,
)
from agency.savings.conduction import conductance
from agency.savings.equipment import water_heat
from agency.savings.fuels import heat_content, unit_of
from agency.savings.house_energy import (
    Cooling,
    EndUse,
    House,
    Plant,
    Site,
    Use,
    energy_bought,
)
from agency.savings.humidity import humidity_ratio_from_relative
from agency.savings.infiltration_energy import air_density_at
from agency.savings.natural_flow import EnhancedLeaks, Leaks
from agency.savings.stepped import Calibration, calibrate
from agency.savings.uncertainty import Spread

from ..evaluate import hours_of
from ..measures_inputs import Billed, HouseInput, MeasuresInputs
from ..weather_year import WeatherYear

SUPERPOSITIONS = {
    "enhanced": Superposition.QUADRATURE,
    "enhanced_original": Superposition.ORIGINAL,
}


def house_of(inputs: MeasuresInputs, weather: WeatherYear) -> House:
    """The house before any work."""
    given = inputs.house
    return House(
        conductance=float(
            conductance(
                transmittances=[part.transmittance for part in given.parts],
                areas=[part.area for part in given.parts],
            )
        ),
        leakage_area=inputs.leaks.before,
        setpoint=given.heating_setpoint,
        gains=given.gains,
        heating=Plant(fuel=given.heating_fuel, efficiency=given.heating_efficiency),
        distribution_efficiency=given.distribution_efficiency,
        cooling=_cooling(given, weather),
        hot_water=Plant(fuel=given.water_fuel, efficiency=given.water_efficiency),
        hot_water_heat=float(water_heat(volume=given.hot_water, rise=given.hot_water_rise)),
        baseload=given.baseload,
    )


def _cooling(given: HouseInput, weather: WeatherYear) -> Cooling | None:
    if given.cooling_efficiency is None:
        return None
    humidity = humidity_ratio_from_relative(
        temperature=given.cooling_setpoint,
        relative_humidity=given.cooling_humidity,
        pressure=float(weather.pressure.mean()),
    )
    return Cooling(
        setpoint=given.cooling_setpoint,
        gains=given.cooling_gains,
        indoor_humidity_ratio=float(humidity),
        efficiency=given.cooling_efficiency,
        distribution_efficiency=given.distribution_efficiency,
    )


def site_of(inputs: MeasuresInputs, weather: WeatherYear) -> Site:
    """The weather at the house, by the infiltration model chosen."""
    elevation = inputs.house.elevation
    return Site(
        hours=hours_of(weather),
        density=air_density_at(weather.elevation if elevation is None else elevation),
        coefficients=leaks_of(inputs),
    )


def leaks_of(inputs: MeasuresInputs) -> Leaks:
    """Coefficients of the model chosen for this house."""
    given = inputs.house
    if inputs.model not in SUPERPOSITIONS:
        return basic_coefficients(storeys=given.storeys, shelter_class=given.shelter_class)
    if inputs.leaks.exponent is None:
        raise LookupError("The enhanced model was chosen without an exponent of a fan test.")
    return EnhancedLeaks(
        coefficients=enhanced_coefficients(
            storeys=given.storeys,
            shelter_class=given.shelter_class,
            foundation=Foundation(given.foundation),
            flue=Flue(given.flue),
        ),
        exponent=inputs.leaks.exponent,
        superposition=SUPERPOSITIONS[inputs.model],
    )


def model_words(inputs: MeasuresInputs) -> dict[str, str]:
    """The infiltration model by name, edition and variant."""
    if inputs.model not in SUPERPOSITIONS:
        return {"method": BASIC_MODEL.method, "edition": BASIC_MODEL.edition, "variant": ""}
    return {
        "method": ENHANCED_MODEL.method,
        "edition": ENHANCED_MODEL.edition,
        "variant": f"{inputs.house.foundation}, {inputs.house.flue}; "
        f"{SUPERPOSITIONS[inputs.model]} superposition",
    }


def spread_of(inputs: MeasuresInputs) -> Spread:
    """Standard uncertainties of the tests and of the rule book."""
    leaks = inputs.leaks
    return Spread(
        before=leaks.u_before,
        after=leaks.u_after,
        shared=leaks.shared,
        **inputs.spread.model_dump(),
    )


def calibrations_of(inputs: MeasuresInputs, house: House, site: Site) -> dict[EndUse, Calibration]:
    """Billed over modelled energy of each end use that has a bill."""
    modelled = energy_bought(house, site)
    limits = inputs.economics
    found = {}
    for bill in inputs.billed:
        use = Use(EndUse(bill.end_use), bill.fuel)
        if use in modelled:
            found[use.end_use] = calibrate(
                modelled=float(modelled[use][0]),
                billed=billed_energy(bill),
                lowest=limits.calibration_lowest,
                highest=limits.calibration_highest,
            )
    return found


def billed_energy(bill: Billed) -> float:
    """[J]"""
    return bill.units * heat_content(fuel=bill.fuel, unit=unit_of(bill.fuel)).joules


def billed_uses(inputs: MeasuresInputs) -> Mapping[Use, float]:
    """Billed energy by end use and fuel. [J]"""
    return {Use(EndUse(bill.end_use), bill.fuel): billed_energy(bill) for bill in inputs.billed}
