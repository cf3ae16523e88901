"""What one infiltration estimate is made from, and what comes out of it, as plain data."""

from dataclasses import asdict, dataclass, field
from typing import Any

from agency.estimates.weather_year import WeatherYear


@dataclass(frozen=True, slots=True, kw_only=True)
class LeakageInput:
    """One test's effective leakage area. None: not measured."""

    result: str
    """Which stored result it was read from."""
    leakage_area: float | None
    """At 4 Pa, discharge coefficient 1. [m²]"""
    relative_uncertainty: float | None
    """Standard (k = 1), all causes together. [-]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class PriceInput:
    """The price of one fuel on the day of the estimate."""

    fuel: str
    unit: str
    price: float
    """[$ per unit]"""
    effective_from: str
    """ISO date."""
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SpreadInput:
    """Standard uncertainties (k = 1) the rule book sets for every estimate."""

    infiltration_model: float
    weather_year: float
    setpoint: float
    """[K]"""
    heating_efficiency: float
    cooling_efficiency: float


@dataclass(frozen=True, slots=True, kw_only=True)
class EstimateInputs:
    """All an estimate rests on. None: not measured or not entered."""

    before: LeakageInput
    after: LeakageInput
    shared_uncertainty: float
    """Part of both tests' relative uncertainty that is common to them; 0 when no instrument is."""

    storeys: float | None
    shelter_class: int | None
    volume: float | None
    """[m³]"""
    elevation: float | None
    """Of the house. [m]"""

    heating_fuel: str
    """Empty: not entered."""
    heating_efficiency: float | None
    cooling_efficiency: float | None
    """None: no cooling equipment."""
    distribution_efficiency: float | None

    heating_setpoint: float
    """[°C]"""
    heating_balance_offset: float
    """Set point less the outdoor temperature at which the heating starts. [K]"""
    cooling_setpoint: float
    """[°C]"""
    cooling_humidity: float
    """Indoor relative humidity while cooling, fraction. [-]"""

    heating_price: PriceInput | None
    electricity_price: PriceInput | None
    spread: SpreadInput
    trials: int
    seed: int
    weather: WeatherYear | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Refusal:
    """A part of the estimate that could not be made, and how to make it possible."""

    part: str
    """estimate, heating, cooling, money or air_change."""
    field: str
    reason: str
    next_step: str

    def as_dict(self) -> dict[str, str]:
        """The same as plain data."""
        return asdict(self)


@dataclass(frozen=True, slots=True, kw_only=True)
class EstimateOutcome:
    """One estimate, ready to be stored as a row."""

    method: str
    edition: str
    maths_version: str
    weather: str
    """Station and the start of the file's SHA-256; empty without a weather year."""
    inputs: dict[str, Any]
    input_hash: str
    """SHA-256 over inputs, method, edition and maths version."""
    figures: dict[str, Any]
    """Empty when nothing could be estimated."""
    refusals: list[dict[str, str]] = field(default_factory=list)
