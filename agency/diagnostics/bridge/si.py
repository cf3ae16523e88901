"""Documents in SI units: every reading asked for turned by its quantity, swapped sides turned."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, TypeVar

from agency.leakage import units

from ..document_parts import UNIT_OF, Asked, Part, TestDocument, Units, asked_of

Document = TypeVar("Document", bound=TestDocument)
Shape = TypeVar("Shape", bound=Part)


@dataclass(frozen=True, slots=True, kw_only=True)
class Unit:
    """SI value = (reading + offset) x factor."""

    factor: float
    offset: float = 0.0

    def to_si(self, reading: float) -> float:
        """The reading in SI."""
        return (reading + self.offset) * self.factor


PRESSURE = {"Pa": 1.0, "inH2O": units.PASCAL_PER_INCH_OF_WATER}
FLOW = {
    "cfm": units.CUBIC_METRE_PER_SECOND_PER_CFM,
    "m3/h": units.CUBIC_METRE_PER_SECOND_PER_CUBIC_METRE_PER_HOUR,
    "L/s": units.CUBIC_METRE_PER_SECOND_PER_LITRE_PER_SECOND,
    "m3/s": 1.0,
}
LENGTH = {"ft": units.METRE_PER_FOOT, "m": 1.0}
WIND = {
    "mph": units.METRE_PER_SECOND_PER_MPH,
    "m/s": 1.0,
    "km/h": units.METRE_PER_SECOND_PER_KILOMETRE_PER_HOUR,
}
BAROMETER = {
    "Pa": 1.0,
    "kPa": units.PASCAL_PER_KILOPASCAL,
    "inHg": units.PASCAL_PER_INCH_OF_MERCURY,
}
OPENING = {
    "in2": units.SQUARE_METRE_PER_SQUARE_INCH,
    "cm2": units.SQUARE_METRE_PER_SQUARE_CENTIMETRE,
}
HEAT = {"Btu/h": units.WATT_PER_BTU_PER_HOUR, "W": 1.0, "kW": 1000.0}
CAPACITY = {"ton": units.WATT_PER_TON, "kW": 1000.0}
KELVIN = {"degF": units.KELVIN_PER_FAHRENHEIT, "degC": 1.0}


def _scales(factors: Mapping[str, float], *, power: int = 1) -> dict[str, Unit]:
    return {name: Unit(factor=factor**power) for name, factor in factors.items()}


CONVERSIONS: Mapping[str, Mapping[str, Unit]] = {
    "pressure": _scales(PRESSURE),
    "flow": _scales(FLOW),
    "temperature": {
        "degF": Unit(factor=units.KELVIN_PER_FAHRENHEIT, offset=-units.FREEZING_FAHRENHEIT),
        "degC": Unit(factor=1.0),
    },
    "temperature_difference": _scales(KELVIN),
    "length": _scales(LENGTH),
    "floor_area": _scales(LENGTH, power=2),
    "volume": _scales(LENGTH, power=3),
    "wind_speed": _scales(WIND),
    "barometer": _scales(BAROMETER),
    "opening_area": _scales(OPENING),
    "heat": _scales(HEAT),
    "capacity": _scales(CAPACITY),
}
"""By quantity and unit name: to Pa, m³/s, degC, K, m, m², m³, m/s, W."""
SI_UNITS = Units(
    pressure="Pa", flow="m3/s", temperature="degC", length="m", wind_speed="m/s", barometer="Pa",
    heat="W",
)  # fmt: skip


def in_si(document: Document) -> Document:
    """The document with every reading in SI units."""

    def to_si(value: float, asked: Asked) -> float:
        if asked.quantity not in UNIT_OF:
            return value
        named = getattr(document.units, UNIT_OF[asked.quantity])
        return CONVERSIONS[asked.quantity][named].to_si(value)

    return _changed(document, to_si).model_copy(update={"units": SI_UNITS})


def turned(document: Document, channels: frozenset[str]) -> Document:
    """The document with the readings of channels whose sides were swapped the other way round."""

    def turn(value: float, asked: Asked) -> float:
        return -value if asked.channel in channels else value

    return _changed(document, turn) if channels else document


def _changed(part: Shape, change: Callable[[float, Asked], float]) -> Shape:
    changes: dict[str, Any] = {}
    for name, field in type(part).model_fields.items():
        value, asked = getattr(part, name), asked_of(field)
        if asked is not None:
            changes[name] = _value(value, asked, change)
        elif isinstance(value, Part) and not isinstance(value, Units):
            changes[name] = _changed(value, change)
        elif isinstance(value, list):
            changes[name] = [
                _changed(one, change) if isinstance(one, Part) else one for one in value
            ]
    return part.model_copy(update=changes)


def _value(value: Any, asked: Asked, change: Callable[[float, Asked], float]) -> Any:
    if isinstance(value, list):
        return [_value(one, asked, change) for one in value]
    # A flag is an int to Python.
    if isinstance(value, int | float) and not isinstance(value, bool):
        return change(value, asked)
    return value
