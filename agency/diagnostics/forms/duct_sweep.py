"""Form of a sweep of house pressures with the air handler off and on at each."""

from typing import Annotated, ClassVar, Literal

from pydantic import Field

from agency.charts.hookup import ChannelHookup, HookupCard

from ..document_parts import Asked, Direction, FlowReading, Form, Number, Part, TestDocument

FAN = ChannelHookup(
    name="B",
    input="door fan flow tap",
    reference="air the door fan draws in",
    expected="as the fan's certificate says",
)
HOOKUPS = (
    *(
        HookupCard(
            title=f"Sweep with the air handler off, then on, {direction}",
            channels=(
                ChannelHookup(name="A", input="house", reference="outside", expected=expected),
                FAN,
            ),
        )
        for direction, expected in (
            ("depressurization", "below zero"),
            ("pressurization", "above zero"),
        )
    ),
    HookupCard(
        title="Plenum pressures, air handler on",
        channels=(
            ChannelHookup(
                name="A", input="supply plenum", reference="house", expected="above zero"
            ),
            ChannelHookup(
                name="B", input="return plenum", reference="house", expected="below zero"
            ),
        ),
    ),
)


class OffState(FlowReading):
    """One station with the air handler off."""

    house_pressure: Annotated[
        Number,
        Asked(
            label="House to outside, air handler off",
            quantity="pressure",
            channel="A",
            plausible="input.building-pressure",
        ),
    ]
    flow: Annotated[Number | None, Asked(label="Fan flow, air handler off", quantity="flow")] = None


class OnState(FlowReading):
    """The same station with the air handler on."""

    house_pressure: Annotated[
        Number,
        Asked(
            label="House to outside, air handler on",
            quantity="pressure",
            channel="A",
            plausible="input.building-pressure",
        ),
    ]
    flow: Annotated[Number | None, Asked(label="Fan flow, air handler on", quantity="flow")] = None


class Station(Part):
    """One house pressure, read with the air handler off and on."""

    direction: Annotated[Direction, Asked(label="Direction of the door fan")]
    off: OffState
    on: OnState


class DuctSweepDocument(TestDocument):
    """Flows of the door fan over a range of house pressures, and the plenum pressures."""

    form: ClassVar[Form] = Form(
        title="Duct leakage at operating pressures",
        purpose="How much supply and return leak to outside while the air handler runs.",
        moves_air=True,
        hookups=HOOKUPS,
    )

    kind: Literal["duct_sweep"]
    method: Literal["on_off_sweep"]
    baseline: Annotated[
        Number | None,
        Asked(
            label="House to outside, fan sealed and air handler off",
            quantity="pressure",
            channel="A",
            hint="Taken off every station unless the gauge has done so.",
            plausible="input.building-pressure",
        ),
    ] = None
    supply_plenum: Annotated[
        Number | None,
        Asked(
            label="Supply plenum to house",
            quantity="pressure",
            hint="With both plenums the leakages are told about twice as well.",
        ),
    ] = None
    return_plenum: Annotated[
        Number | None, Asked(label="Return plenum to house", quantity="pressure")
    ] = None
    stations: Annotated[list[Station], Field(min_length=2, max_length=60, title="Stations")]
