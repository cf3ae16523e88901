"""What the forms of zones, networks and attached dwellings have in common."""

from collections.abc import Iterable
from typing import Annotated

from agency.charts.hookup import ChannelHookup, HookupCard

from ..document_parts import Asked, Fraction, Number, Part, Positive

EXPECTED = {"depressurization": "below zero", "pressurization": "above zero"}
"""Sign of a reading whose input side lies nearer to the fan's house than its reference side."""
INTAKES = {"depressurization": "the house", "pressurization": "outside"}


class Averaged(Part):
    """How long a state was averaged, and how much wind moved it."""

    seconds: Annotated[Positive | None, Asked(label="Time averaged", quantity="seconds")] = None
    deviation: Annotated[
        Number | None,
        Asked(
            label="Standard deviation of channel B",
            quantity="pressure",
            hint="As the gauge shows it while it averages.",
        ),
    ] = None


class MeasuredOpening(Part):
    """An opening of known size."""

    area: Annotated[
        Positive | None,
        Asked(
            label="Free area of the opening",
            quantity="opening_area",
            hint="Measured, not taken from a label.",
            needed_by=("add_hole", "estimate", "solve"),
        ),
    ] = None
    discharge: Annotated[
        Fraction | None,
        Asked(
            label="Discharge coefficient",
            hint="Left empty, the rule book's is used, and the result says so.",
        ),
    ] = None


def card(title: str, *channels: tuple[str, str, str]) -> HookupCard:
    """A card of input side, reference side and expected reading, channel A first."""
    return HookupCard(
        title=title,
        channels=tuple(
            ChannelHookup(name=name, input=taken, reference=other, expected=expected)
            for name, (taken, other, expected) in zip("AB", channels, strict=False)
        ),
    )


def fan_cards(title: str) -> Iterable[HookupCard]:
    """The same test while the fan is read, in both directions."""
    for direction, expected in EXPECTED.items():
        yield card(
            f"{title}, {direction}",
            ("house", "outside", expected),
            (
                "fan flow tap",
                f"air the fan draws in, {INTAKES[direction]}",
                "as the fan's certificate says",
            ),
        )
