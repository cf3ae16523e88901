"""What test-run documents of every kind are made of, and what a crew is asked for in each field."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Annotated, Any, ClassVar, Literal, Self
from uuid import UUID

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    StrictBool,
    StringConstraints,
    model_validator,
)
from pydantic.fields import FieldInfo

from agency.charts.hookup import HookupCard
from agency.errors import FieldReason

from .document_words import aware_time, finite_number, positive_number, refusal, uuid_text

Direction = Literal["depressurization", "pressurization"]
PressureUnit = Literal["Pa", "inH2O"]
FlowUnit = Literal["cfm", "m3/h", "L/s", "m3/s"]
TemperatureUnit = Literal["degF", "degC"]
LengthUnit = Literal["ft", "m"]
WindUnit = Literal["mph", "m/s", "km/h"]
BarometerUnit = Literal["Pa", "kPa", "inHg"]
OpeningUnit = Literal["in2", "cm2"]
HeatUnit = Literal["Btu/h", "W", "kW"]
CapacityUnit = Literal["ton", "kW"]

Number = Annotated[float, BeforeValidator(finite_number)]
Positive = Annotated[float, BeforeValidator(positive_number)]
Fraction = Annotated[float, BeforeValidator(finite_number), Field(ge=0, le=1)]
Key = Annotated[UUID, BeforeValidator(uuid_text)]
Moment = Annotated[datetime, BeforeValidator(aware_time)]
Word = Annotated[
    str, StringConstraints(strict=True, strip_whitespace=True, min_length=1, max_length=80)
]
Code = Annotated[str, StringConstraints(strict=True, min_length=1, max_length=40)]
Answer = Annotated[str, StringConstraints(strict=True, max_length=120)]
Note = Annotated[str, StringConstraints(strict=True, max_length=4000)]
Phase = Literal["before", "during", "after", "inspection"]

UNIT_OF: dict[str, str] = {
    "pressure": "pressure",
    "flow": "flow",
    "temperature": "temperature",
    "temperature_difference": "temperature",
    "length": "length",
    "floor_area": "length",
    "volume": "length",
    "wind_speed": "wind_speed",
    "barometer": "barometer",
    "opening_area": "opening",
    "heat": "heat",
    "capacity": "capacity",
}
"""Where a document names the unit of a quantity; every other quantity has one unit only."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What a crew is asked for in one field; the phone's form, units and limits come from here."""

    label: str
    quantity: str = ""
    """A key of `UNIT_OF`, or one with a fixed unit: seconds, minutes, share, percent, ppm."""
    hint: str = ""
    channel: str = ""
    """Channel of the gauge, A or B, whose sides may have been swapped."""
    needed_by: tuple[str, ...] = ()
    """Methods that cannot be worked out without it."""
    plausible: str = ""
    """Rule with the values a field instrument can meet, in SI."""


HOUSE_TO_OUTSIDE = Asked(
    label="House to outside",
    quantity="pressure",
    channel="A",
    plausible="input.building-pressure",
)
"""The reading nearly every test with a fan begins with."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Form:
    """What a kind of test is for, and how the gauge is hooked up for it."""

    title: str
    purpose: str
    moves_air: bool
    """A fan changes the pressures of the house: the cautions come first."""
    finds_hazards: bool = False
    """What it finds can stop the job, even where a reading makes the test invalid."""
    hookups: tuple[HookupCard, ...] = ()


class Part(BaseModel):
    """Any part of a document: nothing unknown is let in, nothing changes afterwards."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


class AppPreview(Part):
    """What the phone's own arithmetic showed the crew, in the document's flow unit."""

    version: Word
    maths_version: Word
    flow_50: Annotated[Number | None, Asked(label="Flow shown on the phone", quantity="flow")] = (
        None
    )


class Units(Part):
    """The unit of every quantity in the document; needed where the quantity is used."""

    pressure: PressureUnit
    flow: FlowUnit | None = None
    temperature: TemperatureUnit | None = None
    length: LengthUnit | None = None
    wind_speed: WindUnit | None = None
    barometer: BarometerUnit | None = None
    opening: OpeningUnit | None = None
    heat: HeatUnit | None = None
    capacity: CapacityUnit | None = None


class Gauge(Part):
    """The pressure gauge and what it had corrected by itself."""

    serial: Annotated[Code, Asked(label="Pressure gauge")]
    baseline_subtracted: Annotated[
        StrictBool, Asked(label="The gauge had taken the baseline off by itself")
    ]
    density_corrected: Annotated[
        StrictBool, Asked(label="The gauge had corrected for air density by itself")
    ]


class Equation(Part):
    """Flow = coefficient x fan pressure in Pa ^ exponent, for one configuration of a fan."""

    configuration: Code
    direction: Direction | None = None
    coefficient: Positive
    exponent: Positive
    lowest_pressure: Number
    highest_pressure: Positive
    flow_unit: FlowUnit
    air_density: Positive

    @model_validator(mode="after")
    def range_in_order(self) -> Self:
        if self.lowest_pressure < 0 or self.highest_pressure <= self.lowest_pressure:
            raise refusal(
                "range_order",
                f"{self.lowest_pressure:g} to {self.highest_pressure:g} Pa is not a range.",
                limit="0 <= lowest < highest",
                next_step="Copy both pressures again from the fan's certificate.",
            )
        return self


class Fan(Part):
    """One fan; the agency's own register of calibrations comes before `equations`."""

    serial: Annotated[Code, Asked(label="Fan")]
    equations: Annotated[list[Equation], Field(max_length=32)] = Field(default_factory=list)

    @model_validator(mode="after")
    def equations_once(self) -> Self:
        seen = [(one.configuration, one.direction) for one in self.equations]
        if len(set(seen)) < len(seen):
            raise refusal(
                "equation_twice",
                f"Fan {self.serial} has two equations for one configuration and direction.",
                next_step="Keep the equation of the current certificate only.",
            )
        return self


class FanReading(Part):
    """Pressure at one fan while the spaces were held at one state."""

    serial: Annotated[Code, Asked(label="Fan")]
    configuration: Annotated[Code, Asked(label="Configuration of the fan")]
    fan_pressure: Annotated[
        Number,
        Asked(label="Fan pressure", quantity="pressure", hint="As the fan's certificate takes it."),
    ]


class FlowReading(Part):
    """A flow, as the pressures at the fans or as the gauge showed it: one of the two."""

    fans: Annotated[list[FanReading], Field(max_length=8)] = Field(default_factory=list)
    flow: Annotated[Number | None, Asked(label="Flow", quantity="flow")] = None

    @model_validator(mode="after")
    def fans_or_flow(self) -> Self:
        if bool(self.fans) == (self.flow is not None):
            raise refusal(
                "fans_or_flow",
                "A point needs either the fan pressures or the flow, one of the two.",
                next_step="Send the raw fan pressures where the gauge shows them.",
            )
        return self


class Conditions(Part):
    """Air inside and outside during the test; null means not measured."""

    indoor_temperature: Annotated[
        Number | None,
        Asked(
            label="Temperature inside",
            quantity="temperature",
            plausible="input.indoor-temperature",
        ),
    ] = None
    outdoor_temperature: Annotated[
        Number | None,
        Asked(
            label="Temperature outside",
            quantity="temperature",
            plausible="input.outdoor-temperature",
        ),
    ] = None
    indoor_humidity: Annotated[
        Fraction | None, Asked(label="Relative humidity inside", quantity="share")
    ] = None
    outdoor_humidity: Annotated[
        Fraction | None, Asked(label="Relative humidity outside", quantity="share")
    ] = None
    barometric_pressure: Annotated[
        Number | None,
        Asked(
            label="Barometer, at the station",
            quantity="barometer",
            hint="Not reduced to sea level.",
            plausible="input.barometric-pressure",
        ),
    ] = None
    elevation: Annotated[
        Number | None,
        Asked(label="Elevation", quantity="length", plausible="input.elevation"),
    ] = None
    wind_speed: Annotated[
        Number | None,
        Asked(label="Wind speed", quantity="wind_speed", plausible="input.wind-speed"),
    ] = None


class Dimensions(Part):
    """Sizes of the dwelling in powers of the document's length unit; null means not measured."""

    floor_area: Annotated[
        Positive | None,
        Asked(label="Floor area", quantity="floor_area", plausible="input.floor-area"),
    ] = None
    volume: Annotated[
        Positive | None, Asked(label="Volume", quantity="volume", plausible="input.volume")
    ] = None
    height: Annotated[
        Positive | None, Asked(label="Height", quantity="length", plausible="input.height")
    ] = None
    envelope_area: Annotated[
        Positive | None,
        Asked(label="Envelope area", quantity="floor_area", plausible="input.envelope-area"),
    ] = None


class Swap(Part):
    """Input and reference side of a channel changed over, so that its readings changed sign."""

    channel: Literal["A", "B"]
    at: Moment
    reason: Annotated[str, StringConstraints(strict=True, min_length=1, max_length=240)]


class TestDocument(Part):
    """What every kind of test says of itself."""

    __test__ = False
    form: ClassVar[Form]

    kind: str
    client_key: Key
    job: Key | None = None
    visit: Key | None = None
    phase: Phase
    method: str
    taken_at: Moment
    operator: Annotated[str, StringConstraints(strict=True, max_length=160)] = ""
    app: AppPreview | None = None
    units: Units
    gauge: Gauge | None = None
    fans: Annotated[list[Fan], Field(max_length=8)] = Field(default_factory=list)
    conditions: Conditions = Conditions()
    house: Dimensions | None = None
    setup: Annotated[dict[Code, Answer], Field(max_length=40)] = Field(default_factory=dict)
    cautions: Annotated[
        dict[Code, Literal["clear", "present", "not_here"]], Field(max_length=40)
    ] = Field(default_factory=dict)
    swaps: Annotated[list[Swap], Field(max_length=20)] = Field(default_factory=list)
    note: Note = ""

    @property
    def serials(self) -> list[tuple[str, str]]:
        """Every instrument named: the path in the document, and the serial number."""
        named = [] if self.gauge is None else [("gauge.serial", self.gauge.serial)]
        return named + [(f"fans[{at}].serial", fan.serial) for at, fan in enumerate(self.fans)]

    def contradictions(self) -> list[FieldReason]:
        """What two fields of the document say against each other."""
        return []


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One field of a document that was asked for, with its path and what was sent."""

    path: str
    asked: Asked
    value: Any


def asked_of(field: FieldInfo) -> Asked | None:
    """What is asked for in a field; None for one that holds other fields."""
    return next((one for one in field.metadata if isinstance(one, Asked)), None)


def readings_in(part: Part, path: str = "") -> Iterator[Reading]:
    """Every field asked for, parts and lists of parts included, in the order of the document."""
    for name, field in type(part).model_fields.items():
        value, here = getattr(part, name), f"{path}.{name}".removeprefix(".")
        asked = asked_of(field)
        if asked is not None:
            yield Reading(path=here, asked=asked, value=value)
        elif isinstance(value, Part):
            yield from readings_in(value, here)
        elif isinstance(value, list):
            for number, one in enumerate(value):
                if isinstance(one, Part):
                    yield from readings_in(one, f"{here}[{number}]")
