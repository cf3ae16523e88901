"""A measured saving in plain sentences; every figure comes in already rounded."""

from collections.abc import Mapping, Sequence
from typing import Any

from agency.estimates.sentences import UNIT_WORDS

MEASURED = (
    "This is measured: bills before and after the work, each put on the same normal year of "
    "weather. It holds all that changed in the house, not the work alone."
)


def bill_sentences(figures: Mapping[str, Any], refusals: Sequence[str]) -> list[str]:
    """What the bills say, most important first."""
    saving = figures["saving"]
    if saving is None:
        several = len(refusals) > 1
        listed = f"{len(refusals)} reasons are listed" if several else "the reason is listed"
        return [f"The bills tell no saving; {listed}."]
    unit = UNIT_WORDS[figures["unit"]["name"]]
    sentences = [_saving(saving["fuel_units"]["shown"], unit, saving["share"])]
    told = figures["fractional"]
    if told["bootstrap"] is not None:
        sentences.append(
            f"At {100 * told['confidence']:.0f} % confidence the saving is uncertain by "
            f"{100 * told['bootstrap']:.0f} % of itself by bootstrap"
            + (
                "."
                if told["simplified_2014"] is None
                else f", {100 * told['simplified_2014']:.0f} % by the simplified form."
            )
        )
    return [*sentences, MEASURED]


def _saving(shown: Mapping[str, float], unit: str, share: float) -> str:
    low, central, high = (shown[name] for name in ("low", "central", "high"))
    if high <= 0 and low < 0:
        return (
            f"In a normal year the house uses {_plain(-high)} to {_plain(-low)} {unit} more than "
            f"before, most likely about {_plain(-central)}."
        )
    if low < 0:
        return (
            "The bills cannot tell a saving from none: between "
            f"{_plain(-low)} {unit} a year more and {_plain(high)} {unit} a year less."
        )
    return (
        f"In a normal year the house uses {_plain(low)} to {_plain(high)} {unit} less than before, "
        f"most likely about {_plain(central)}, {100 * share:.0f} % of what it used."
    )


def _plain(value: float) -> str:
    return f"{value:,.10g}"
