"""Form of a pressure pan test: one register after another, the house held at a pressure."""

from typing import Annotated, ClassVar, Literal

from pydantic import Field

from agency.charts.hookup import ChannelHookup, HookupCard

from ..document_parts import Asked, Direction, Form, Number, Part, TestDocument, Word


def _cards(direction: Direction, towards: str, against: str) -> tuple[HookupCard, HookupCard]:
    pan = ChannelHookup(
        name="B", input="duct, under the pan", reference="room", expected=f"{against} zero"
    )
    return (
        HookupCard(
            title=f"Pressure pan, {direction}",
            channels=(
                ChannelHookup(
                    name="A", input="house", reference="outside", expected=f"{towards} zero"
                ),
                pan,
            ),
        ),
        HookupCard(
            title=f"House to duct space, {direction}",
            channels=(
                ChannelHookup(
                    name="A",
                    input="house",
                    reference="zone the ducts run through",
                    expected=f"{towards} zero",
                ),
                ChannelHookup(name="B"),
            ),
        ),
    )


class Register(Part):
    """One register under the pan; null where it could not be read."""

    name: Annotated[Word, Asked(label="Register")]
    side: Annotated[Literal["supply", "return"], Asked(label="Side")]
    reading: Annotated[
        Number | None,
        Asked(
            label="Duct under the pan to room",
            quantity="pressure",
            channel="B",
            plausible="input.building-pressure",
        ),
    ] = None


class PressurePanDocument(TestDocument):
    """Readings of all registers with the air handler off and the filter out."""

    form: ClassVar[Form] = Form(
        title="Pressure pan",
        purpose="Which registers lie near duct leaks to outside.",
        moves_air=True,
        hookups=(
            *_cards("depressurization", "below", "above"),
            *_cards("pressurization", "above", "below"),
        ),
    )

    kind: Literal["pressure_pan"]
    method: Literal["pan"]
    direction: Annotated[Direction, Asked(label="Direction")]
    held_against: Annotated[
        Literal["none", "each_register", "sum_of_registers"],
        Asked(label="Limit of the programme", hint="On each register, on their sum, or none."),
    ]
    house_pressure: Annotated[
        Number | None,
        Asked(
            label="House to outside",
            quantity="pressure",
            channel="A",
            needed_by=("pan",),
            plausible="input.building-pressure",
        ),
    ] = None
    house_to_zone: Annotated[
        Number | None,
        Asked(
            label="House to the space the ducts run through",
            quantity="pressure",
            channel="A",
            hint="Attic or crawl space; without it no register can meet a limit.",
            plausible="input.building-pressure",
        ),
    ] = None
    registers: Annotated[list[Register], Field(min_length=1, max_length=60, title="Registers")]
