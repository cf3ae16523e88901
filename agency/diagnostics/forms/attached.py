"""Form of a guarded test: a dwelling beside another, without and with the neighbour guarded."""

from typing import Annotated, ClassVar, Literal

from pydantic import Field, StrictBool

from agency.errors import FieldReason

from ..document_parts import (
    HOUSE_TO_OUTSIDE,
    Asked,
    Direction,
    FlowReading,
    Form,
    Gauge,
    Number,
    Part,
    TestDocument,
    Word,
)
from .zone_parts import EXPECTED, Averaged, card, fan_cards

HOOKUPS = (
    *(
        card(
            f"Wall to the neighbour, guard {guard}, {direction}",
            ("house", "outside", sign),
            ("house", "neighbouring dwelling", reading),
        )
        for direction, sign in EXPECTED.items()
        for guard, reading in (("off", f"{sign}, at most as far as A"), ("on", "near zero"))
    ),
    *fan_cards("Fan of the dwelling, guard off and on"),
)


class WallBaseline(Part):
    """Both channels with all fans off and sealed."""

    house: Annotated[
        Number | None, Asked(label="House to outside", quantity="pressure", channel="A")
    ] = None
    wall: Annotated[
        Number | None, Asked(label="House to neighbour", quantity="pressure", channel="B")
    ] = None


class WallState(Averaged):
    """What was read with the guard off, or with it on."""

    guard: Annotated[
        Literal["off", "on"],
        Asked(label="Guard", hint="On: a second fan holds the neighbour at your pressure."),
    ]
    house: Annotated[
        Number,
        HOUSE_TO_OUTSIDE,
    ]
    wall: Annotated[
        Number,
        Asked(
            label="House to neighbour",
            quantity="pressure",
            channel="B",
            plausible="input.building-pressure",
        ),
    ]
    fan: FlowReading | None = None


class AttachedDocument(TestDocument):
    """Fan flow of a dwelling with and without a guard in the dwelling beside it."""

    form: ClassVar[Form] = Form(
        title="Attached dwelling, guarded test",
        purpose="How much of a dwelling's leakage goes outside, and how much to its neighbour.",
        moves_air=True,
        hookups=HOOKUPS,
    )

    kind: Literal["attached"]
    method: Literal["guarded"]
    gauge: Gauge
    neighbour: Annotated[Word, Asked(label="Dwelling next door")]
    neighbour_consent: Annotated[
        StrictBool | None,
        Asked(label="The neighbour has consented", hint="Before a fan stands in their door."),
    ] = None
    neighbour_combustion_check: Annotated[
        StrictBool | None,
        Asked(
            label="Combustion safety checked in the neighbour's dwelling",
            hint="The guard changes the pressures there too.",
        ),
    ] = None
    direction: Annotated[Direction, Asked(label="Direction")]
    states: Annotated[list[WallState], Field(min_length=1, max_length=2, title="Guard off and on")]
    baselines: Annotated[
        list[WallBaseline], Field(max_length=2, title="Baselines, fans off and sealed")
    ] = Field(default_factory=list)

    def contradictions(self) -> list[FieldReason]:
        """The same state twice."""
        guards = [one.guard for one in self.states]
        if len(set(guards)) == len(guards):
            return []
        return [
            FieldReason(
                field="states[1].guard",
                code="state_twice",
                message=f"Both states have the guard {guards[1]}.",
                value=guards[1],
                next_step="Send one state with the guard off and one with it on.",
            )
        ]
