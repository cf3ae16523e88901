"""Form of a leakage test of one window, door or other component."""

from typing import Annotated, ClassVar, Literal

from pydantic import Field

from agency.charts.hookup import ChannelHookup, HookupCard

from ..document_parts import (
    Asked,
    Direction,
    FlowReading,
    Form,
    Number,
    Positive,
    TestDocument,
    Word,
)

HOOKUPS = tuple(
    HookupCard(
        title=f"Component leakage, {direction}",
        channels=(
            ChannelHookup(
                name="A",
                input="chamber at the component",
                reference="other side of the component",
                expected=expected,
            ),
            ChannelHookup(
                name="B",
                input="flow tap of the chamber's fan",
                reference="air the fan draws in",
                expected="as the flow device's certificate says",
            ),
        ),
    )
    for direction, expected in (
        ("depressurization", "below zero"),
        ("pressurization", "above zero"),
    )
)


class ComponentDocument(TestDocument):
    """Flow with the component open to the air and with it sealed, both at one pressure."""

    form: ClassVar[Form] = Form(
        title="Component leakage",
        purpose="How much air one window or door lets through, per area and length of crack.",
        moves_air=True,
        hookups=HOOKUPS,
    )

    kind: Literal["component"]
    method: Literal["chamber"]
    component: Annotated[Word, Asked(label="Component")]
    construction: Annotated[
        Literal["window", "swinging_door", "other"],
        Asked(label="Kind of component", hint="Decides which limit is held against it."),
    ]
    direction: Annotated[Direction, Asked(label="Direction")]
    pressure: Annotated[
        Number,
        Asked(
            label="Chamber to other side",
            quantity="pressure",
            channel="A",
            plausible="input.building-pressure",
        ),
    ]
    total: Annotated[FlowReading, Field(title="Flow with the component open")]
    extraneous: Annotated[FlowReading, Field(title="Flow with the component sealed")]
    meter_temperature: Annotated[
        Number | None,
        Asked(
            label="Air temperature at the flow device",
            quantity="temperature",
            needed_by=("chamber",),
            plausible="input.indoor-temperature",
        ),
    ] = None
    area: Annotated[
        Positive | None, Asked(label="Overall area of the component", quantity="floor_area")
    ] = None
    crack_length: Annotated[
        Positive | None,
        Asked(
            label="Length of its moving joints",
            quantity="length",
            hint="A fixed light has none: leave it empty.",
        ),
    ] = None
