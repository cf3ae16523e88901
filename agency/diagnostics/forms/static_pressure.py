"""Form of an external static pressure test of an air handler."""

from typing import Annotated, ClassVar, Literal

from pydantic import Field

from agency.charts.hookup import ChannelHookup, HookupCard

from ..document_parts import Asked, Form, Number, Part, Positive, TestDocument, Word


class OutsidePart(Part):
    """A part outside the cabinet that lies beyond the plenum readings."""

    name: Annotated[Word, Asked(label="Part")]
    drop: Annotated[
        Number | None,
        Asked(label="Pressure drop", quantity="pressure", hint="Without a sign."),
    ] = None


class StaticPressureDocument(TestDocument):
    """Supply and return plenum against the house while the handler runs at its highest speed."""

    form: ClassVar[Form] = Form(
        title="External static pressure",
        purpose="What the blower works against outside its cabinet.",
        moves_air=False,
        hookups=(
            HookupCard(
                title="Supply and return plenum",
                channels=(
                    ChannelHookup(
                        name="A", input="supply plenum", reference="house", expected="above zero"
                    ),
                    ChannelHookup(
                        name="B", input="return plenum", reference="house", expected="below zero"
                    ),
                ),
            ),
        ),
    )

    kind: Literal["static_pressure"]
    method: Literal["plenums"]
    supply: Annotated[
        Number | None,
        Asked(
            label="Supply plenum to house",
            quantity="pressure",
            channel="A",
            hint="Between the cabinet and the first part outside it.",
            needed_by=("plenums",),
        ),
    ] = None
    return_plenum: Annotated[
        Number | None,
        Asked(
            label="Return plenum to house",
            quantity="pressure",
            channel="B",
            hint="Between the filter and the cabinet, where the filter is outside it.",
            needed_by=("plenums",),
        ),
    ] = None
    outside_parts: Annotated[
        list[OutsidePart],
        Field(max_length=8, title="Parts outside the cabinet, beyond the readings"),
    ] = Field(default_factory=list)
    nameplate_maximum: Annotated[
        Positive | None,
        Asked(
            label="Highest external static pressure on the nameplate",
            quantity="pressure",
            hint="Empty where it cannot be read.",
        ),
    ] = None
