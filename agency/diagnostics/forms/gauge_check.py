"""Form of the check a gauge and its hoses get on each visit, before the first test."""

from typing import Annotated, ClassVar, Literal

from pydantic import Field

from agency.charts.hookup import ChannelHookup, HookupCard
from agency.errors import FieldReason

from ..document_parts import Asked, Form, Gauge, Number, Part, Positive, TestDocument, Word

HOOKUPS = (
    HookupCard(
        title="Zero check",
        channels=tuple(
            ChannelHookup(
                name=name,
                input="a short hose to its own reference side",
                reference="the same short hose",
                expected="near zero",
            )
            for name in ("A", "B")
        ),
    ),
    HookupCard(
        title="Hose check, one hose at a time",
        channels=(
            ChannelHookup(
                name="A",
                input="the hose, its far end capped, raised gently with a small syringe",
                reference="left open to the room",
                expected="above zero and holding",
            ),
            ChannelHookup(name="B", input="not used", reference="not used", expected="not used"),
        ),
    ),
)


class ZeroCheck(Part):
    """Reading of one channel with its input side led to its reference side."""

    channel: Annotated[Literal["A", "B"], Asked(label="Channel")]
    reading: Annotated[Number | None, Asked(label="Reading, sides joined", quantity="pressure")] = (
        None
    )


class HoseCheck(Part):
    """Pressure held in one hose with its far end capped."""

    hose: Annotated[Word, Asked(label="Hose")]
    start: Annotated[
        Number | None,
        Asked(
            label="Pressure at the start",
            quantity="pressure",
            hint="Raise it gently with a small syringe; never blow into a hose.",
        ),
    ] = None
    end: Annotated[Number | None, Asked(label="Pressure at the end", quantity="pressure")] = None
    seconds: Annotated[Positive | None, Asked(label="Time between", quantity="seconds")] = None


class GaugeCheckDocument(TestDocument):
    """Zero of each channel and tightness of each hose, once a visit."""

    form: ClassVar[Form] = Form(
        title="Gauge and hose check",
        purpose="Whether the gauge reads zero at zero, and the hoses hold a pressure.",
        moves_air=False,
        hookups=HOOKUPS,
    )

    kind: Literal["gauge_check"]
    method: Literal["zero_and_hoses"]
    gauge: Gauge
    zeros: Annotated[list[ZeroCheck], Field(min_length=1, max_length=2, title="Zero")]
    hoses: Annotated[list[HoseCheck], Field(max_length=6, title="Hoses")]

    def contradictions(self) -> list[FieldReason]:
        """A check that belongs to no visit."""
        if self.visit is not None:
            return []
        return [
            FieldReason(
                field="visit",
                code="visit_missing",
                message="A gauge check belongs to a visit, and none is named.",
                next_step="Choose the visit the gauge was checked on.",
            )
        ]
