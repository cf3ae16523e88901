"""Form of a zone pressure test: one zone between house and outside, in one or two states."""

from typing import Annotated, ClassVar, Literal

from pydantic import Field

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
from .zone_parts import EXPECTED, Averaged, MeasuredOpening, card, fan_cards

ZoneType = Literal["vented_attic", "attached_garage", "basement", "crawl", "other"]
BoundaryName = Literal["house_zone", "zone_outside"]
OPENED: dict[str, BoundaryName] = {"open_door": "house_zone", "vent_outside": "zone_outside"}
"""Boundary that a method opens by its own meaning."""
TWO_STATES = ("add_hole", "open_door", "vent_outside")
WITH_FAN = ("open_door", "vent_outside")

HOOKUPS = (
    *(
        card(f"{title}, {direction}", ("house", "outside", sign), (*sides, f"{sign}, {span}"))
        for title, sides, span in (
            ("Zone against outside", ("zone", "outside"), "at most as far as A"),
            ("House against zone", ("house", "zone"), "at most as far as A"),
        )
        for direction, sign in EXPECTED.items()
    ),
    *fan_cards("Fan flow with the door shut and open, or the zone shut and vented"),
)


class ZoneBaseline(Part):
    """All channels with the fan off and sealed."""

    house: Annotated[
        Number | None, Asked(label="House to outside", quantity="pressure", channel="A")
    ] = None
    zone: Annotated[
        Number | None, Asked(label="Zone, as in the states", quantity="pressure", channel="B")
    ] = None


class ZoneState(Averaged):
    """What was read in one state; the first is before anything is opened."""

    house: Annotated[
        Number,
        HOUSE_TO_OUTSIDE,
    ]
    zone: Annotated[
        Number,
        Asked(
            label="Zone",
            quantity="pressure",
            channel="B",
            hint="Across the boundary named below.",
            plausible="input.building-pressure",
        ),
    ]
    third: Annotated[
        Number | None,
        Asked(
            label="Across the zone's other boundary",
            quantity="pressure",
            hint="Read once more with the hoses moved: the three must add up.",
            plausible="input.building-pressure",
        ),
    ] = None
    fan: FlowReading | None = None


class ZoneOpening(MeasuredOpening):
    """What was opened for the second state."""

    boundary: Annotated[
        BoundaryName | None,
        Asked(
            label="Boundary that was opened",
            hint="House to zone, or zone to outside.",
            needed_by=("add_hole",),
        ),
    ] = None


class ZoneDocument(TestDocument):
    """Pressures of one zone, and the flow of the fan where the method rests on it."""

    form: ClassVar[Form] = Form(
        title="Zone pressures",
        purpose="How a zone's two boundaries compare, and how much air leaks through the zone.",
        moves_air=True,
        hookups=HOOKUPS,
    )

    kind: Literal["zone"]
    method: Literal["pressure_only", "add_hole", "open_door", "vent_outside"]
    gauge: Gauge
    zone: Annotated[Word, Asked(label="Zone")]
    zone_type: Annotated[
        ZoneType, Asked(label="Kind of zone", hint="Decides which reading is wanted.")
    ]
    air_barrier: Annotated[
        BoundaryName | None,
        Asked(
            label="Boundary meant to be the air barrier",
            hint="For a basement or a crawl space: ask the programme before scoring.",
        ),
    ] = None
    shares_with: Annotated[
        Annotated[list[Word], Field(max_length=6)] | None,
        Asked(
            label="Other zones it shares a boundary with",
            hint="An empty list says there is none.",
        ),
    ] = None
    direction: Annotated[Direction, Asked(label="Direction")]
    across: Annotated[
        BoundaryName,
        Asked(label="Channel B is led across", hint="Zone to outside, or house to zone."),
    ]
    states: Annotated[list[ZoneState], Field(min_length=1, max_length=2, title="States")]
    baselines: Annotated[
        list[ZoneBaseline], Field(max_length=2, title="Baselines, fan off and sealed")
    ] = Field(default_factory=list)
    opening: ZoneOpening | None = None
    zone_temperature: Annotated[
        Number | None,
        Asked(
            label="Temperature in the zone",
            quantity="temperature",
            hint="Gives the density of the air in a hole.",
        ),
    ] = None

    def contradictions(self) -> list[FieldReason]:
        """A method that opens one boundary by its meaning, and an opening in the other."""
        said = None if self.opening is None else self.opening.boundary
        meant = OPENED.get(self.method)
        if said is None or meant is None or said == meant:
            return []
        return [
            FieldReason(
                field="opening.boundary",
                code="other_boundary",
                message=f"The method {self.method} opens {meant}, not {said}.",
                value=said,
                limit=meant,
                next_step="Correct the method or the boundary that was opened.",
            )
        ]
