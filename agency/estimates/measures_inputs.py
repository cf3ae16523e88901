"""What an estimate of measures is made from, as plain data that can be stored and read back."""

from typing import Any, Literal

from pydantic import BaseModel, ConfigDict


class Data(BaseModel):
    """A frozen record; None is not measured or not entered."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


class Assumption(Data):
    """One figure nobody measured at this house, and where it comes from."""

    name: str
    value: str
    """With its unit, in words."""
    source: str
    provenance: str


class ShellPart(Data):
    """One part of the shell before the work."""

    name: str
    area: float
    """[m²]"""
    transmittance: float
    """[W/(m² K)]"""


class Leaks(Data):
    """Effective leakage areas before and after, and how sure they are."""

    before: float
    """[m²]"""
    after: float
    """[m²]"""
    u_before: float
    """Standard (k = 1), relative. [-]"""
    u_after: float
    shared: float
    exponent: float | None
    """Of the test before the work. [-]"""
    flow_50: float | None
    """Before the work. [m³/s]"""
    basis: str
    """Which tests, or a plan, in words."""


class HouseInput(Data):
    """The house before any work, in SI."""

    parts: list[ShellPart]
    storeys: float
    shelter_class: int
    elevation: float | None
    volume: float | None
    foundation: str
    flue: str
    exhaust: float | None
    """Fans that run all day. [m³/s]"""
    supply: float | None
    heating_setpoint: float
    """[°C]"""
    cooling_setpoint: float
    cooling_humidity: float
    gains: float
    """[W]"""
    cooling_gains: float
    heating_fuel: str
    heating_efficiency: float
    distribution_efficiency: float
    cooling_efficiency: float | None
    """None: no cooling."""
    water_fuel: str
    water_efficiency: float
    hot_water: float
    """[m³ a year]"""
    hot_water_rise: float
    """[K]"""
    baseload: float
    """[J a year]"""


class MeasureInput(Data):
    """One measure as the bridge needs it."""

    id: str
    kind: str
    name: str
    category: Literal["energy", "health_and_safety"]
    properties: dict[str, Any]
    material: float
    labour: float
    supervision: float
    repairs: float
    """Incidental repairs that belong to it. [$]"""
    lifetime: int
    """[a]"""
    lifetime_source: str


class Price(Data):
    """What one unit of a fuel costs, and how its price is taken to move."""

    fuel: str
    unit: str
    price: float
    """[$ per unit]"""
    effective_from: str
    source: str
    indices: dict[int, float]
    """Price of some years ahead over today's; linear between."""


class Billed(Data):
    """A year's billed energy of one end use."""

    end_use: str
    fuel: str
    units: float
    """In the unit the fuel is sold by."""
    source: str


class Economics(Data):
    """How lifetime savings are judged."""

    discount_rate: float
    required: float
    """Savings-to-investment ratio asked for. [-]"""
    price_swing: float
    """Relative, up and down, of the sensitivity chart. [-]"""
    low_rate: float
    high_rate: float
    calibration_lowest: float
    calibration_highest: float


class Uncertainties(Data):
    """Standard uncertainties (k = 1) the rule book sets."""

    infiltration_model: float
    weather_year: float
    setpoint: float
    """[K]"""
    heating_efficiency: float
    cooling_efficiency: float


class MeasuresInputs(Data):
    """All an estimate of measures rests on but the weather year itself."""

    house: HouseInput
    leaks: Leaks
    model: str
    """Of infiltration: basic, enhanced or enhanced_original."""
    n_factor_climate: float
    regain: dict[str, float]
    """Share of the ducts' loss that comes back, by where they run. [-]"""
    lighting_inside: float
    """Share of lamps' and appliances' heat that stays in heated rooms. [-]"""
    measures: list[MeasureInput]
    prices: list[Price]
    billed: list[Billed]
    economics: Economics
    spread: Uncertainties
    trials: int
    seed: int
    assumptions: list[Assumption]
