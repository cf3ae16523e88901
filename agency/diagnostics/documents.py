"""The test-run document a phone sends: its shape, and reading it from JSON."""

from datetime import datetime
from typing import Annotated, Any, Literal, Self, get_args
from uuid import UUID

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    StrictBool,
    StringConstraints,
    ValidationError,
    model_validator,
)

from agency.errors import DocumentRefused, FieldReason

from .document_json import check_plain_data, read_json
from .document_words import (
    aware_time,
    choices_words,
    finite_number,
    positive_number,
    reasons_from,
    refusal,
    uuid_text,
)

Direction = Literal["depressurization", "pressurization"]
PressureUnit = Literal["Pa", "inH2O"]
FlowUnit = Literal["cfm", "m3/h", "L/s", "m3/s"]
TemperatureUnit = Literal["degF", "degC"]
LengthUnit = Literal["ft", "m"]
WindUnit = Literal["mph", "m/s", "km/h"]
BarometerUnit = Literal["Pa", "kPa", "inHg"]

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


class Part(BaseModel):
    """Any part of a document: nothing unknown is let in, nothing changes afterwards."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


class AppPreview(Part):
    """What the phone's own arithmetic showed the crew, in the document's flow unit."""

    version: Word
    maths_version: Word
    flow_50: Number | None = None


class Units(Part):
    """The unit of every quantity in the document; needed where the quantity is used."""

    pressure: PressureUnit
    flow: FlowUnit | None = None
    temperature: TemperatureUnit | None = None
    length: LengthUnit | None = None
    wind_speed: WindUnit | None = None
    barometer: BarometerUnit | None = None


class Gauge(Part):
    """The pressure gauge and what it had corrected by itself."""

    serial: Code
    baseline_subtracted: StrictBool
    density_corrected: StrictBool


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

    serial: Code
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


class Conditions(Part):
    """Air inside and outside during the test; null means not measured."""

    indoor_temperature: Number | None = None
    outdoor_temperature: Number | None = None
    indoor_humidity: Fraction | None = None
    outdoor_humidity: Fraction | None = None
    barometric_pressure: Number | None = None
    elevation: Number | None = None
    wind_speed: Number | None = None


class Dimensions(Part):
    """Sizes of the dwelling in powers of the document's length unit; null means not measured."""

    floor_area: Positive | None = None
    volume: Positive | None = None
    height: Positive | None = None
    envelope_area: Positive | None = None


class Baseline(Part):
    """Building pressure with the fan off and sealed: samples, or the means the gauge kept."""

    samples: Annotated[list[Number], Field(min_length=1, max_length=3600)] | None = None
    mean: Number | None = None
    positive_mean: Number | None = None
    negative_mean: Number | None = None
    seconds: Positive | None = None

    @model_validator(mode="after")
    def samples_or_mean(self) -> Self:
        if (self.samples is None) == (self.mean is None):
            raise refusal(
                "samples_or_mean",
                "A baseline is either its samples or its mean, one of the two.",
                next_step="Send the samples, or the mean with the means of the positive and of the "
                "negative readings.",
            )
        if self.samples is not None and (self.positive_mean, self.negative_mean) != (None, None):
            raise refusal(
                "samples_or_mean",
                "Signed means are worked out from the samples and cannot be sent beside them.",
                next_step="Leave positive_mean and negative_mean out.",
            )
        return self


class FanReading(Part):
    """Pressure at one fan while the house was held at one pressure."""

    serial: Code
    configuration: Code
    fan_pressure: Number


class Point(Part):
    """One station of a series, with the fan pressures or the flow read there."""

    building_pressure: Number
    fans: Annotated[list[FanReading], Field(max_length=8)] = Field(default_factory=list)
    flow: Number | None = None
    seconds: Positive | None = None
    excluded: Note | None = None

    @model_validator(mode="after")
    def fans_or_flow(self) -> Self:
        if bool(self.fans) == (self.flow is not None):
            raise refusal(
                "fans_or_flow",
                "A point needs either the fan pressures or the flow, one of the two.",
                next_step="Send the raw fan pressures where the gauge shows them.",
            )
        if self.excluded is not None and not self.excluded.strip():
            raise refusal(
                "excluded_without_reason",
                "A point was left out without a reason.",
                next_step="Write why the point is left out, or put null.",
            )
        return self


class Series(Part):
    """All points in one direction, between two baselines."""

    direction: Direction
    baseline_before: Baseline | None = None
    baseline_after: Baseline | None = None
    points: Annotated[list[Point], Field(min_length=1, max_length=60)]


class EnvelopeDocument(Part):
    """One fan-pressurization test of a dwelling's envelope."""

    kind: Literal["envelope"]
    client_key: Key
    job: Key | None = None
    visit: Key | None = None
    phase: Literal["before", "during", "after", "inspection"]
    method: Literal["e779", "iso9972", "one_point", "two_point"]
    taken_at: Moment
    operator: Annotated[str, StringConstraints(strict=True, max_length=160)] = ""
    app: AppPreview | None = None
    units: Units
    gauge: Gauge
    fans: Annotated[list[Fan], Field(max_length=8)] = Field(default_factory=list)
    conditions: Conditions
    house: Dimensions | None = None
    setup: Annotated[dict[Code, Answer], Field(max_length=40)] = Field(default_factory=dict)
    series: Annotated[list[Series], Field(min_length=1, max_length=2)]
    note: Note = ""


KINDS: dict[str, type[EnvelopeDocument]] = {"envelope": EnvelopeDocument}
"""Document kinds by their `kind`; a further kind of test is one more entry."""


def parse(data: object) -> EnvelopeDocument:
    """The document in `data`, or DocumentRefused with every reason found."""
    check_plain_data(data)
    if not isinstance(data, dict):
        raise DocumentRefused(
            [
                FieldReason(
                    field="",
                    code="not_an_object",
                    message=f"The document is a {type(data).__name__}, not an object.",
                    next_step="Send one test as one JSON object.",
                )
            ]
        )
    model = KINDS.get(data["kind"]) if isinstance(data.get("kind"), str) else None
    if model is None:
        raise DocumentRefused([_unknown_kind(data)])
    try:
        document = model.model_validate(data)
    except ValidationError as error:
        raise DocumentRefused(reasons_from(error)) from None
    reasons = [*_missing_units(document), *_dangling_names(document)]
    if reasons:
        raise DocumentRefused(reasons)
    return document


def parse_json(text: str | bytes) -> EnvelopeDocument:
    """The document in JSON `text`, or DocumentRefused."""
    return parse(read_json(text))


def _unknown_kind(data: dict[str, Any]) -> FieldReason:
    given = data.get("kind")
    return FieldReason(
        field="kind",
        code="unknown_kind",
        message="The kind of test is missing." if given is None else "This kind is not known.",
        value=given if isinstance(given, str) else None,
        limit=choices_words(KINDS),
        next_step="Name the kind of test.",
    )


def _missing_units(document: EnvelopeDocument) -> list[FieldReason]:
    air, house = document.conditions, document.house
    sizes = house.model_dump().values() if house else ()
    flows = [point.flow for series in document.series for point in series.points]
    preview = document.app.flow_50 if document.app else None
    used: list[tuple[str, Any, list[float | None]]] = [
        ("flow", FlowUnit, [*flows, preview]),
        ("temperature", TemperatureUnit, [air.indoor_temperature, air.outdoor_temperature]),
        ("length", LengthUnit, [*sizes, air.elevation]),
        ("wind_speed", WindUnit, [air.wind_speed]),
        ("barometer", BarometerUnit, [air.barometric_pressure]),
    ]
    return [
        FieldReason(
            field=f"units.{name}",
            code="unit_missing",
            message=f"The document holds a {name.replace('_', ' ')} value but not its unit.",
            limit=choices_words(get_args(choices)),
            next_step="Name the unit the value was read in; no unit is assumed.",
        )
        for name, choices, values in used
        if getattr(document.units, name) is None and any(value is not None for value in values)
    ]


def _dangling_names(document: EnvelopeDocument) -> list[FieldReason]:
    """Fans named twice, fans read but not listed, and directions given twice."""
    serials = [fan.serial for fan in document.fans]
    reasons = [
        FieldReason(
            field=f"fans[{number}].serial",
            code="fan_twice",
            message="This fan is listed twice.",
            value=serial,
            next_step="List each fan once.",
        )
        for number, serial in enumerate(serials)
        if serial in serials[:number]
    ]
    directions = [series.direction for series in document.series]
    if len(set(directions)) < len(directions):
        reasons.append(
            FieldReason(
                field="series[1].direction",
                code="direction_twice",
                message="Both series have the same direction.",
                value=directions[1],
                next_step="Send one series a direction; a repeat is a test of its own.",
            )
        )
    for s, series in enumerate(document.series):
        for p, point in enumerate(series.points):
            reasons += [
                FieldReason(
                    field=f"series[{s}].points[{p}].fans[{f}].serial",
                    code="fan_not_listed",
                    message="This fan was read but is not listed under fans.",
                    value=reading.serial,
                    limit=choices_words(serials),
                    next_step="List the fan under fans, or correct the serial number.",
                )
                for f, reading in enumerate(point.fans)
                if reading.serial not in serials
            ]
    return reasons
