"""Form of a local exhaust test: each kitchen and bathroom fan of the dwelling in turn."""

from typing import Annotated, ClassVar, Literal

from pydantic import Field

from agency.charts.hookup import ChannelHookup, HookupCard
from agency.errors import FieldReason

from ..document_parts import Asked, Form, Number, Part, Positive, TestDocument, Word
from ..document_words import choices_words

Edition = Literal["2010", "2013", "2016", "2019", "2022"]
HOOKUPS = (
    HookupCard(
        title="Local exhaust, orifice box",
        channels=(
            ChannelHookup(name="A"),
            ChannelHookup(
                name="B", input="box over the grille", reference="room", expected="below zero"
            ),
        ),
    ),
    HookupCard(
        title="Local exhaust, powered hood",
        channels=(
            ChannelHookup(
                name="A", input="hood over the grille", reference="room", expected="zero, balanced"
            ),
            ChannelHookup(
                name="B",
                input="flow tap of the hood's fan",
                reference="air the fan draws in",
                expected="as the flow device's certificate says",
            ),
        ),
    ),
)


class Exhaust(Part):
    """The fan of one room and how its flow was measured; null where it was not."""

    room: Annotated[Word, Asked(label="Room")]
    sort: Annotated[
        Literal["bathroom", "kitchen_hood", "kitchen_other", "kitchen_enclosed"],
        Asked(
            label="Kind of room",
            hint="Kitchen: with a hood, with another fan, or enclosed without a hood.",
        ),
    ]
    operation: Annotated[Literal["on_demand", "continuous"], Asked(label="Operation")]
    measured_by: Annotated[
        Literal["orifice_box", "powered_hood", "not_measured", "no_fan"],
        Asked(label="Measured by"),
    ]
    hole_area: Annotated[
        Positive | None,
        Asked(label="Hole of the box", quantity="opening_area", needed_by=("orifice_box",)),
    ] = None
    discharge: Annotated[
        Positive | None,
        Asked(
            label="Discharge coefficient of the hole",
            quantity="ratio",
            hint="From the box's certificate; empty: the rule book's.",
        ),
    ] = None
    box_pressure: Annotated[
        Number | None,
        Asked(
            label="Box to room",
            quantity="pressure",
            channel="B",
            needed_by=("orifice_box",),
            plausible="input.building-pressure",
        ),
    ] = None
    hood_flow: Annotated[
        Number | None,
        Asked(label="Flow of the hood", quantity="flow", needed_by=("powered_hood",)),
    ] = None
    hood_pressure: Annotated[
        Number | None,
        Asked(
            label="Hood to room when the flow was read",
            quantity="pressure",
            channel="A",
            needed_by=("powered_hood",),
            plausible="input.building-pressure",
        ),
    ] = None
    volume: Annotated[
        Positive | None,
        Asked(
            label="Volume of the kitchen",
            quantity="volume",
            hint="Where the edition asks for air changes.",
        ),
    ] = None
    window: Annotated[
        Literal["opens", "does_not_open", "none"] | None, Asked(label="Window of the room")
    ] = None


class ExhaustFansDocument(TestDocument):
    """Flow of each fan against what one edition of the ventilation standard asks for."""

    form: ClassVar[Form] = Form(
        title="Local exhaust",
        purpose="Whether kitchen and bathroom fans move the air the ventilation standard asks for.",
        moves_air=False,
        hookups=HOOKUPS,
    )

    kind: Literal["exhaust_fans"]
    method: Literal["each_fan"]
    edition: Annotated[Edition, Asked(label="Edition of ASHRAE 62.2")]
    exhausts: Annotated[list[Exhaust], Field(max_length=20, title="Kitchen and bathroom fans")] = (
        Field(default_factory=list)
    )

    def contradictions(self) -> list[FieldReason]:
        """Two rooms of one name, which later tests could not tell apart."""
        names = [one.room for one in self.exhausts]
        return [
            FieldReason(
                field=f"exhausts[{number}].room",
                code="room_twice",
                message="Two rooms have this name.",
                value=name,
                limit=choices_words(names[:number]),
                next_step="Name them apart, by their floor or what lies beside them.",
            )
            for number, name in enumerate(names)
            if name in names[:number]
        ]
