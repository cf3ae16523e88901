"""Form of an air-handler flow test: device in the filter slot, matched fan, or temperature rise."""

from typing import Annotated, ClassVar, Literal

from pydantic import Field

from agency.charts.hookup import ChannelHookup, HookupCard

from ..document_parts import Asked, FlowReading, Form, Fraction, Number, Positive, TestDocument

SUPPLY = ChannelHookup(name="A", input="supply plenum", reference="house", expected="above zero")
HOOKUPS = (
    HookupCard(
        title="Normal supply pressure, nothing in the way",
        channels=(SUPPLY, ChannelHookup(name="B")),
    ),
    HookupCard(
        title="Flow device in the filter slot",
        channels=(
            SUPPLY,
            ChannelHookup(
                name="B",
                input="upstream tap of the device",
                reference="downstream tap of the device",
                expected="above zero",
            ),
        ),
    ),
    HookupCard(
        title="Fan at the return, raised to the normal supply pressure",
        channels=(
            SUPPLY,
            ChannelHookup(
                name="B",
                input="fan flow tap",
                reference="air the fan draws in",
                expected="as the fan's certificate says",
            ),
        ),
    ),
)
STATIC = ("restriction", "pressure_matching")


class AirHandlerDocument(TestDocument):
    """Flow of the air handler in operation."""

    form: ClassVar[Form] = Form(
        title="Air-handler flow",
        purpose="How much air the handler moves, and how much per ton of cooling.",
        moves_air=False,
        hookups=HOOKUPS,
    )

    kind: Literal["air_handler"]
    method: Literal["restriction", "pressure_matching", "temperature_rise"]
    normal_static: Annotated[
        Number | None,
        Asked(
            label="Supply plenum to house, as it normally runs",
            quantity="pressure",
            channel="A",
            hint="Filter in, device out.",
            needed_by=STATIC,
        ),
    ] = None
    static_with_device: Annotated[
        Number | None,
        Asked(
            label="Supply plenum to house, with the device or fan",
            quantity="pressure",
            channel="A",
            needed_by=STATIC,
        ),
    ] = None
    flow: Annotated[FlowReading | None, Field(title="Flow device or fan")] = None
    heat_source: Annotated[
        Literal["burner", "electric"] | None,
        Asked(label="Heat comes from", needed_by=("temperature_rise",)),
    ] = None
    heat_input: Annotated[
        Positive | None,
        Asked(
            label="Burner input, or electric power",
            quantity="heat",
            hint="Clocked at the meter rather than read from the nameplate.",
            needed_by=("temperature_rise",),
        ),
    ] = None
    efficiency: Annotated[
        Fraction | None,
        Asked(
            label="Steady-state efficiency of the burner",
            quantity="share",
            hint="Electric heat needs none.",
        ),
    ] = None
    return_temperature: Annotated[
        Number | None,
        Asked(
            label="Air in the return",
            quantity="temperature",
            needed_by=("temperature_rise",),
            plausible="input.indoor-temperature",
        ),
    ] = None
    supply_temperature: Annotated[
        Number | None,
        Asked(
            label="Air in the supply",
            quantity="temperature",
            hint="Out of sight of the heater, past the first bend.",
            needed_by=("temperature_rise",),
        ),
    ] = None
    cooling_capacity: Annotated[
        Positive | None,
        Asked(label="Cooling capacity", quantity="capacity", hint="Empty where there is none."),
    ] = None
