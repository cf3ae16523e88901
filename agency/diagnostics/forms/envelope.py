"""Form of a fan-pressurization test of a whole dwelling."""

from typing import Annotated, ClassVar, Literal, Self

from pydantic import Field, model_validator

from agency.charts.hookup import ChannelHookup, HookupCard
from agency.errors import FieldReason

from ..document_parts import (
    HOUSE_TO_OUTSIDE,
    Asked,
    Conditions,
    Direction,
    FlowReading,
    Form,
    Gauge,
    Note,
    Number,
    Part,
    Positive,
    TestDocument,
)
from ..document_words import refusal

HOOKUPS = tuple(
    HookupCard(
        title=f"Building tightness, {direction}",
        channels=(
            ChannelHookup(name="A", input="house", reference="outside", expected=expected),
            ChannelHookup(
                name="B",
                input="fan flow tap",
                reference=f"air the fan draws in, {intake}",
                expected="as the fan's certificate says",
            ),
        ),
    )
    for direction, expected, intake in (
        ("depressurization", "below zero", "the house"),
        ("pressurization", "above zero", "outside"),
    )
)


class Baseline(Part):
    """Building pressure with the fan off and sealed: samples, or the means the gauge kept."""

    samples: Annotated[
        Annotated[list[Number], Field(min_length=1, max_length=3600)] | None,
        Asked(label="Samples", quantity="pressure", channel="A"),
    ] = None
    mean: Annotated[Number | None, Asked(label="Mean", quantity="pressure", channel="A")] = None
    positive_mean: Annotated[
        Number | None, Asked(label="Mean of the positive readings", quantity="pressure")
    ] = None
    negative_mean: Annotated[
        Number | None, Asked(label="Mean of the negative readings", quantity="pressure")
    ] = None
    seconds: Annotated[Positive | None, Asked(label="Time averaged", quantity="seconds")] = None

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


class Point(FlowReading):
    """One station of a series, with the fan pressures or the flow read there."""

    building_pressure: Annotated[
        Number,
        HOUSE_TO_OUTSIDE,
    ]
    seconds: Annotated[Positive | None, Asked(label="Time averaged", quantity="seconds")] = None
    excluded: Annotated[Note | None, Asked(label="Why it is left out")] = None

    @model_validator(mode="after")
    def excluded_with_reason(self) -> Self:
        if self.excluded is not None and not self.excluded.strip():
            raise refusal(
                "excluded_without_reason",
                "A point was left out without a reason.",
                next_step="Write why the point is left out, or put null.",
            )
        return self


class Series(Part):
    """All points in one direction, between two baselines."""

    direction: Annotated[Direction, Asked(label="Direction")]
    baseline_before: Baseline | None = None
    baseline_after: Baseline | None = None
    points: Annotated[list[Point], Field(min_length=1, max_length=60)]


class EnvelopeDocument(TestDocument):
    """One fan-pressurization test of a dwelling's envelope."""

    form: ClassVar[Form] = Form(
        title="Building tightness",
        purpose="How much air the envelope lets through at 50 Pa.",
        moves_air=True,
        hookups=HOOKUPS,
    )

    kind: Literal["envelope"]
    method: Literal["e779", "iso9972", "one_point", "two_point"]
    gauge: Gauge
    conditions: Conditions
    series: Annotated[list[Series], Field(min_length=1, max_length=2)]

    def contradictions(self) -> list[FieldReason]:
        """Both series in one direction."""
        directions = [series.direction for series in self.series]
        if len(set(directions)) == len(directions):
            return []
        return [
            FieldReason(
                field="series[1].direction",
                code="direction_twice",
                message="Both series have the same direction.",
                value=directions[1],
                next_step="Send one series a direction; a repeat is a test of its own.",
            )
        ]
