"""The house before any work, from its record, its energy description and the rule book."""

from collections.abc import Sequence

from agency.houses.models import House
from agency.programs.models import Fuel
from agency.wording import words

from .assumptions import Gathered
from .descriptions import EnergyDescription
from .measure_kinds import Insulation, Openings, Properties
from .measures_inputs import HouseInput, ShellPart

SQUARE_FOOT = words.FOOT**2
RESISTANCE = 0.3048**2 * (5 / 9) / (1055.05585262 / 3600)
"""The trade's R, °F ft² h/Btu. [(m² K/W)/R]  0.176110.  Exact, derived."""
GALLON = 231 * words.INCH**3
"""US gallon. [m³]  Exact."""
DAYS_A_YEAR = 365
KILOWATT_HOUR = 3.6e6
"""[J]  Exact."""
ON_HOUSE = "on the house record"
ON_DESCRIPTION = "on the energy description of the house"
BURNED = {Fuel.GAS, Fuel.PROPANE, Fuel.OIL, Fuel.KEROSENE}


def describe_house(
    house: House, description: EnergyDescription, treated: Sequence[Properties], gathered: Gathered
) -> HouseInput | None:
    """The house in SI; None where something is missing, which `gathered` then names."""
    _refuse_what_is_missing(house, gathered)
    if gathered.refusals:
        return None
    parts = _shell(house, description, treated, gathered)
    if gathered.refusals:
        return None
    return HouseInput(
        parts=parts,
        storeys=_given(house.storeys),
        shelter_class=int(_given(house.shelter)),
        elevation=None if house.elevation_ft is None else house.elevation_ft * words.FOOT,
        volume=None if house.volume_cuft is None else house.volume_cuft * words.FOOT**3,
        foundation=description.foundation,
        flue=description.flue,
        exhaust=_flow(description.exhaust_cfm),
        supply=_flow(description.supply_cfm),
        heating_setpoint=_setpoint(description.heating_setpoint_f, "heating", gathered),
        cooling_setpoint=_setpoint(description.cooling_setpoint_f, "cooling", gathered),
        cooling_humidity=gathered.rules.setting("estimate.cooling_humidity"),
        gains=gathered.or_rule(description.gains_w, "Gains while heating", "house.gains"),
        cooling_gains=gathered.rule("Gains while cooling", "house.cooling_gains"),
        heating_fuel=house.heating_fuel,
        heating_efficiency=_given(house.heating_efficiency),
        distribution_efficiency=_given(house.distribution_efficiency),
        cooling_efficiency=house.cooling_efficiency,
        water_fuel=(fuel := _water_fuel(house, description, gathered)),
        water_efficiency=gathered.or_rule(
            description.water_efficiency,
            "Efficiency of the water heater",
            f"house.water_efficiency.{'burner' if fuel in BURNED else 'electric'}",
        ),
        hot_water=_hot_water(house, description, gathered),
        hot_water_rise=gathered.rule("Rise of hot water", "house.hot_water_rise"),
        baseload=KILOWATT_HOUR
        * gathered.or_rule(description.baseload_kwh, "Lights and appliances", "house.baseload"),
    )


def _given(value: float | None) -> float:
    """A value that was found present before; None here is a slip of the program."""
    if value is None:
        raise LookupError("A house was described although a field it needs is missing.")
    return value


def _refuse_what_is_missing(house: House, gathered: Gathered) -> None:
    for name, reason, what in (
        ("storeys", "The number of storeys is not known.", "the storeys above grade"),
        ("floor_area_sqft", "The floor area is not known.", "the floor area"),
        ("shelter", "The shelter from wind is not known.", "the shelter"),
        ("heating_fuel", "The heating fuel is not known.", "the heating fuel"),
        ("heating_efficiency", "The efficiency of the heating is not known.", "it, such as 0.80,"),
        (
            "distribution_efficiency",
            "What the ducts or pipes lose on the way is not known.",
            "the distribution efficiency, 1.00 without any,",
        ),
    ):
        gathered.needed(getattr(house, name), name, (reason, f"Enter {what} {ON_HOUSE}."))


def _shell(
    house: House, description: EnergyDescription, treated: Sequence[Properties], gathered: Gathered
) -> list[ShellPart]:
    """Each part of the shell: what measures describe as they say, the rest as known or assumed."""
    areas = _areas(house, description, gathered)
    if gathered.refusals:
        return []
    parts = []
    for name, area in areas.items():
        described = _described(treated, name)
        rest = area - sum(part.area for part in described)
        if rest < -1e-6:
            gathered.missing(
                f"{name}_area",
                f"The measures treat {_feet(area - rest)} of {name}, but the house has "
                f"{_feet(area)}.",
                f"Correct the area of the measures, or enter the area of the {name} "
                f"{ON_DESCRIPTION}.",
            )
            continue
        parts += described
        if rest > 0:
            parts.append(_rest(name, rest, house, description, gathered))
    return [*parts, *_described(treated, "foundation_wall")]


def _areas(house: House, description: EnergyDescription, gathered: Gathered) -> dict[str, float]:
    floor_area, storeys = _given(house.floor_area_sqft), _given(house.storeys)
    footprint = floor_area / storeys
    ceiling, windows = description.ceiling_area_sqft, description.window_area_sqft
    if ceiling is None:
        ceiling = footprint
        gathered.derived("Ceiling area", _square(ceiling), "Floor area over storeys")
    if windows is None:
        windows = floor_area * gathered.rule("Windows over floor area", "house.window_share")
    walls = description.wall_area_sqft
    if walls is None and house.envelope_area_sqft is not None:
        walls = house.envelope_area_sqft - 2 * footprint - windows
        gathered.derived("Wall area", _square(walls), "Envelope less ceiling, floor and windows")
    if walls is None or walls <= 0:
        gathered.missing(
            "wall_area_sqft",
            "The wall area is not known, and the envelope area does not give it.",
            f"Enter the wall area {ON_DESCRIPTION}, or the envelope area {ON_HOUSE}.",
        )
        return {}
    gathered.derived("Floor area above ground or crawl space", _square(footprint),
                     "Floor area over storeys")  # fmt: skip
    feet = {"wall": walls, "ceiling": ceiling, "floor": footprint, "windows": windows}
    return {name: area * SQUARE_FOOT for name, area in feet.items()}


def _described(treated: Sequence[Properties], name: str) -> list[ShellPart]:
    """Parts whose state before the work a measure tells."""
    found = []
    for one in treated:
        if isinstance(one, Insulation) and one.assembly == name:
            share = one.framing_share or 0.0
            framing = share / one.framing_r if one.framing_r else 0.0
            u = ((1 - share) / one.r_before + framing) / RESISTANCE
            found.append(ShellPart(name=name, area=one.area_sqft * SQUARE_FOOT, transmittance=u))
        if isinstance(one, Openings) and name == "windows":
            u = one.u_before / RESISTANCE
            found.append(ShellPart(name=name, area=one.area_sqft * SQUARE_FOOT, transmittance=u))
    return found


def _rest(
    name: str, area: float, house: House, description: EnergyDescription, gathered: Gathered
) -> ShellPart:
    if name == "windows":
        u = gathered.or_rule(description.window_u, "U of the other windows", "house.window_u")
        return ShellPart(name=name, area=area, transmittance=u / RESISTANCE)
    r = gathered.or_rule(
        getattr(description, f"{name}_r"),
        f"R of the {name} that is not treated",
        f"house.{name}_r.{_age(house, gathered)}",
    )
    return ShellPart(name=name, area=area, transmittance=1 / (r * RESISTANCE))


def _age(house: House, gathered: Gathered) -> str:
    if house.year_built is None:
        note = "Year built is not recorded: taken as the oldest group"
        if not any(one.source == note for one in gathered.assumptions):
            gathered.derived("Age of the house", "the oldest group", note)
        return "old"
    if house.year_built < gathered.rules.setting("house.split.first"):
        return "old"
    return "middle" if house.year_built < gathered.rules.setting("house.split.second") else "new"


def _setpoint(fahrenheit: float | None, part: str, gathered: Gathered) -> float:
    if fahrenheit is not None:
        return (fahrenheit - words.ICE_POINT_F) / words.KELVIN_STEP
    return gathered.rule(f"Set point for {part}", f"estimate.{part}_setpoint")


def _water_fuel(house: House, description: EnergyDescription, gathered: Gathered) -> str:
    if description.water_fuel:
        return description.water_fuel
    fuel = Fuel.GAS if house.heating_fuel == Fuel.GAS else Fuel.ELECTRICITY
    gathered.derived(
        "Fuel of the water heater",
        fuel.label,
        "Natural gas where the house is heated with it, else electricity: not recorded",
    )
    return fuel


def _hot_water(house: House, description: EnergyDescription, gathered: Gathered) -> float:
    """[m³ a year]"""
    a_day = description.hot_water_gal_a_day
    if a_day is None:
        people = gathered.or_rule(house.occupants, "People living there", "house.people")
        a_day = people * gathered.rule("Hot water a person a day", "house.hot_water_person")
    return a_day * GALLON * DAYS_A_YEAR


def _flow(cfm: float | None) -> float | None:
    return None if cfm is None else cfm * words.CFM


def _feet(square_metres: float) -> str:
    return words.floor_area(square_metres)


def _square(square_feet: float) -> str:
    return words.quantity(square_feet, "ft²")
