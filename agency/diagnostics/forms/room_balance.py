"""Form of a room balance test: each closed room against the main body of the house."""

from typing import Annotated, ClassVar, Literal

from pydantic import Field

from agency.charts.hookup import ChannelHookup, HookupCard

from ..document_parts import Asked, Form, Number, Part, Positive, TestDocument, Word


class Room(Part):
    """One room with its door closed; null where it was not read."""

    name: Annotated[Word, Asked(label="Room")]
    pressure: Annotated[
        Number | None,
        Asked(
            label="Room to main body",
            quantity="pressure",
            channel="A",
            plausible="input.building-pressure",
        ),
    ] = None
    design_flow: Annotated[
        Positive | None,
        Asked(
            label="Design supply flow",
            quantity="flow",
            hint="Some limits are wider for rooms with much air; without it the strict one holds.",
        ),
    ] = None
    supply_flow: Annotated[
        Positive | None, Asked(label="Supply less return flow, measured", quantity="flow")
    ] = None
    open_area: Annotated[
        Positive | None,
        Asked(label="Open area to the main body", quantity="opening_area", hint="Undercut too."),
    ] = None


class RoomBalanceDocument(TestDocument):
    """Pressures of closed rooms while the air handler runs at its highest speed."""

    form: ClassVar[Form] = Form(
        title="Room balance",
        purpose="Whether closed rooms get their supply air back to the return.",
        moves_air=False,
        hookups=(
            HookupCard(
                title="Room balance, interior doors closed, air handler on high",
                channels=(
                    ChannelHookup(
                        name="A",
                        input="closed room, under its door",
                        reference="main body of the house",
                        expected="above zero where more is supplied than returned",
                    ),
                    ChannelHookup(name="B"),
                ),
            ),
        ),
    )

    kind: Literal["room_balance"]
    method: Literal["doors_closed"]
    rooms: Annotated[list[Room], Field(min_length=1, max_length=40, title="Rooms")]
