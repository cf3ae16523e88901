"""Form of a house of several zones: its spaces, the leaks between them, and its states."""

from collections.abc import Iterator, Sequence
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
    Positive,
    TestDocument,
    Word,
)
from ..document_words import choices_words
from .zone import ZoneType
from .zone_parts import EXPECTED, Averaged, MeasuredOpening, card, fan_cards

HOUSE, OUTSIDE = "house", "outside"
"""Spaces that are always there."""

HOOKUPS = (
    *(
        card(
            f"Each zone against outside, {direction}",
            ("house", "outside", sign),
            ("zone", "outside", f"{sign}, at most as far as A"),
        )
        for direction, sign in EXPECTED.items()
    ),
    *fan_cards("Fan flow of each state"),
)


class NetworkZone(Part):
    """A space that is neither the house nor outside."""

    name: Annotated[Word, Asked(label="Zone")]
    zone_type: Annotated[ZoneType, Asked(label="Kind of zone")]


class NetworkPath(Part):
    """The leaks between two spaces, taken together."""

    name: Annotated[Word, Asked(label="Leak")]
    start: Annotated[Word, Asked(label="From", hint="A zone, house or outside.")]
    end: Annotated[Word, Asked(label="To", hint="A zone, house or outside.")]
    exponent: Annotated[
        Number | None, Asked(label="Exponent", hint="Left empty, the rule book's is used.")
    ] = None
    flow_50: Annotated[
        Positive | None,
        Asked(
            label="Flow with 50 Pa across it, where it is known",
            quantity="flow",
            hint="Left empty, it is looked for.",
            needed_by=("solve",),
        ),
    ] = None


class NetworkState(Part):
    """One state of the house: what is open in it stands under openings."""

    name: Annotated[Word, Asked(label="State", hint="As it is, garage door open.")]
    house: Annotated[
        Number,
        HOUSE_TO_OUTSIDE,
    ]
    baseline: Annotated[
        Number | None, Asked(label="Baseline of it", quantity="pressure", channel="A")
    ] = None
    fan: FlowReading | None = None


class NetworkReading(Averaged):
    """One zone in one state."""

    state: Annotated[Word, Asked(label="State")]
    zone: Annotated[Word, Asked(label="Zone")]
    pressure: Annotated[
        Number,
        Asked(
            label="Zone to outside",
            quantity="pressure",
            channel="B",
            plausible="input.building-pressure",
        ),
    ]
    baseline: Annotated[
        Number | None, Asked(label="Baseline of it", quantity="pressure", channel="B")
    ] = None


class NetworkOpening(MeasuredOpening):
    """What is open in a state that was made, or that could be made."""

    state: Annotated[Word, Asked(label="State")]
    start: Annotated[Word, Asked(label="From", hint="A zone, house or outside.")]
    end: Annotated[Word, Asked(label="To", hint="A zone, house or outside.")]


class Candidate(Part):
    """A state that was not made but could be."""

    name: Annotated[Word, Asked(label="State that could be made")]


class ZoneNetworkDocument(TestDocument):
    """Several zones at once, from readings of several states or from leaks that are known."""

    form: ClassVar[Form] = Form(
        title="Zone network",
        purpose="How much air each leak of a house of several zones lets through.",
        moves_air=True,
        hookups=HOOKUPS,
    )

    kind: Literal["zone_network"]
    method: Literal["estimate", "solve"]
    gauge: Gauge
    direction: Annotated[Direction, Asked(label="Direction")]
    zones: Annotated[list[NetworkZone], Field(min_length=1, max_length=8, title="Zones")]
    paths: Annotated[list[NetworkPath], Field(min_length=1, max_length=20, title="Leaks")]
    states: Annotated[list[NetworkState], Field(min_length=1, max_length=12, title="States")]
    pressures: Annotated[
        list[NetworkReading], Field(max_length=80, title="Zone pressures, state by state")
    ] = Field(default_factory=list)
    openings: Annotated[
        list[NetworkOpening], Field(max_length=40, title="What is open, state by state")
    ] = Field(default_factory=list)
    candidates: Annotated[
        list[Candidate], Field(max_length=12, title="States that could be made")
    ] = Field(default_factory=list)

    def contradictions(self) -> list[FieldReason]:
        """Names used twice, and names of nothing."""
        zones = [one.name for one in self.zones]
        states = [one.name for one in self.states]
        possible = [*states, *(one.name for one in self.candidates)]
        spaces = [HOUSE, OUTSIDE, *zones]
        return [
            *_twice("zones[{}].name", zones, taken=(HOUSE, OUTSIDE)),
            *_twice("paths[{}].name", [one.name for one in self.paths]),
            *_twice("states[{}].name", states),
            *_twice("candidates[{}].name", possible[len(states) :], taken=states),
            *_ends("paths", [(one.start, one.end) for one in self.paths], spaces),
            *_ends("openings", [(one.start, one.end) for one in self.openings], spaces),
            *_unknown("pressures[{}].zone", [one.zone for one in self.pressures], zones),
            *_unknown("pressures[{}].state", [one.state for one in self.pressures], states),
            *_unknown("openings[{}].state", [one.state for one in self.openings], possible),
            *_read_twice(self.pressures),
        ]


def _twice(path: str, names: Sequence[str], *, taken: Sequence[str] = ()) -> Iterator[FieldReason]:
    for at, name in enumerate(names):
        if name.casefold() in {one.casefold() for one in (*taken, *names[:at])}:
            yield FieldReason(
                field=path.format(at),
                code="name_twice",
                message=f"{name} is the name of something else too.",
                value=name,
                next_step="Give each its own name.",
            )


def _unknown(path: str, names: Sequence[str], known: Sequence[str]) -> Iterator[FieldReason]:
    for at, name in enumerate(names):
        if name not in known:
            yield FieldReason(
                field=path.format(at),
                code="name_unknown",
                message=f"There is no {name}.",
                value=name,
                limit=choices_words(known),
                next_step="Correct the name, or list what it names.",
            )


def _ends(
    field: str, joined: Sequence[tuple[str, str]], spaces: Sequence[str]
) -> Iterator[FieldReason]:
    yield from _unknown(f"{field}[{{}}].start", [start for start, _ in joined], spaces)
    yield from _unknown(f"{field}[{{}}].end", [end for _, end in joined], spaces)
    for at, (start, end) in enumerate(joined):
        if start == end:
            yield FieldReason(
                field=f"{field}[{at}].end",
                code="same_ends",
                message=f"It leads from {start} back to itself.",
                value=end,
                next_step="Name the two spaces it joins.",
            )


def _read_twice(readings: Sequence[NetworkReading]) -> Iterator[FieldReason]:
    pairs = [(one.state, one.zone) for one in readings]
    for at, (state, zone) in enumerate(pairs):
        if (state, zone) in pairs[:at]:
            yield FieldReason(
                field=f"pressures[{at}]",
                code="read_twice",
                message=f"{zone} was read twice in the state {state}.",
                value=zone,
                next_step="Keep one reading, or make the second a state of its own.",
            )
