"""Form of a duct leakage test: total, to outside, or by subtraction at the door fan."""

from typing import Annotated, ClassVar, Literal

from pydantic import Field

from agency.charts.hookup import ChannelHookup, HookupCard

from ..document_parts import (
    HOUSE_TO_OUTSIDE,
    Asked,
    Direction,
    FlowReading,
    Form,
    Number,
    TestDocument,
)

FAN = "as the fan's certificate says"


def _cards(direction: Direction, towards: str, against: str) -> tuple[HookupCard, ...]:
    duct_fan = ChannelHookup(
        name="B", input="duct fan flow tap", reference="air the duct fan draws in", expected=FAN
    )
    door_fan = ChannelHookup(
        name="B", input="door fan flow tap", reference="air the door fan draws in", expected=FAN
    )
    house = {"input": "house", "reference": "outside", "expected": f"{towards} zero"}
    return (
        HookupCard(
            title=f"Total duct leakage, {direction}",
            channels=(
                ChannelHookup(
                    name="A",
                    input="duct",
                    reference="house, a door open to the air",
                    expected=f"{towards} zero",
                ),
                duct_fan,
            ),
        ),
        HookupCard(
            title=f"Duct leakage to outside, {direction}",
            channels=(
                ChannelHookup(name="A", input="duct", reference="house", expected="zero"),
                ChannelHookup(name="B", **house),
            ),
        ),
        HookupCard(
            title=f"Subtraction, registers open, {direction}",
            channels=(ChannelHookup(name="A", **house), door_fan),
        ),
        HookupCard(
            title=f"Subtraction, registers sealed, {direction}",
            channels=(
                ChannelHookup(name="A", **house),
                ChannelHookup(
                    name="B", input="duct", reference="house", expected=f"{against} zero"
                ),
            ),
        ),
    )


class DoorFanState(FlowReading):
    """House pressure and flow of the door fan in one state of the registers."""

    house_pressure: Annotated[
        Number,
        HOUSE_TO_OUTSIDE,
    ]


class SealedState(DoorFanState):
    """The same with the registers sealed, and where that leaves the ducts."""

    duct_to_house: Annotated[
        Number | None,
        Asked(
            label="Sealed duct to house",
            quantity="pressure",
            channel="B",
            hint="Without it the result is always too low.",
            needed_by=("subtraction",),
        ),
    ] = None


class DuctLeakageDocument(TestDocument):
    """Flow of a fan on the ducts at one pressure, or of the door fan with registers open and
    sealed."""

    form: ClassVar[Form] = Form(
        title="Duct leakage",
        purpose="How much air the ducts lose at 25 Pa, altogether or to outside.",
        moves_air=True,
        hookups=(
            *_cards("depressurization", "below", "above"),
            *_cards("pressurization", "above", "below"),
        ),
    )

    kind: Literal["duct_leakage"]
    method: Literal["total", "to_outside", "subtraction"]
    direction: Annotated[Direction, Asked(label="Direction")]
    stage: Annotated[
        Literal[
            "rough_in_with_handler", "rough_in_without_handler", "post_construction", "existing"
        ],
        Asked(label="Stage of the building", hint="Limits differ by stage."),
    ]
    location: Annotated[
        Literal["some_outside", "all_inside"] | None,
        Asked(label="Ducts within the thermal envelope", hint="Some codes allow more inside."),
    ] = None
    held_against: Annotated[
        Literal["none", "programme", "iecc_2009", "iecc_2015", "iecc_2021", "iecc_2024",
                "energy_star"],
        Asked(
            label="Limit it is held against",
            hint="An existing home is not held to a code for new ones: name none, or the "
            "programme's own limit.",
        ),
    ]  # fmt: skip
    duct_to_house: Annotated[
        Number | None,
        Asked(
            label="Duct to house",
            quantity="pressure",
            channel="A",
            needed_by=("total", "to_outside"),
            plausible="input.building-pressure",
        ),
    ] = None
    house_pressure: Annotated[
        Number | None,
        Asked(
            label="House to outside",
            quantity="pressure",
            channel="B",
            hint="Near zero in a total test, where a door is open.",
            needed_by=("to_outside",),
            plausible="input.building-pressure",
        ),
    ] = None
    flow: Annotated[FlowReading | None, Field(title="Duct fan")] = None
    registers_open: Annotated[DoorFanState | None, Field(title="Registers open")] = None
    registers_sealed: Annotated[SealedState | None, Field(title="Registers sealed")] = None
