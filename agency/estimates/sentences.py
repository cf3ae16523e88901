"""The estimate in plain sentences for the client; every figure comes in already rounded."""

from collections.abc import Mapping
from typing import Any

MODELLED = "This is worked out from the two fan tests and a typical weather year, not from bills."
UNIT_WORDS = {
    "therm": "therms",
    "kWh": "kWh",
    "gal": "gallons",
    "cord": "cords",
}


def estimate_sentences(figures: Mapping[str, Any]) -> list[str]:
    """What the estimate says, most important first."""
    sentences = []
    money = figures["total"]["dollars"]
    if money is not None:
        sentences.append(_money_sentence(money["shown"]))
    if figures["heating"] is not None:
        sentences.append(_energy_sentence("Heating", figures["heating"]))
    if figures["cooling"] is not None:
        sentences.append(_energy_sentence("Cooling", figures["cooling"]))
    sentences.append(MODELLED)
    hours_left_out = figures["hours_left_out"]
    if hours_left_out:
        sentences.append(
            f"{hours_left_out:,} hours of the weather year are missing and were left out, so the "
            "figures are a little low."
        )
    return sentences


def _money_sentence(shown: Mapping[str, float]) -> str:
    low, central, high = (shown[name] for name in ("low", "central", "high"))
    if high <= 0 and low < 0:
        return (
            f"The house leaks more than before. Energy may cost ${-high:,.0f} to ${-low:,.0f} more "
            f"a year, most likely about ${-central:,.0f}."
        )
    if low < 0:
        return (
            "The tests cannot tell a saving from none: between "
            f"${-low:,.0f} a year more and ${high:,.0f} a year less to pay."
        )
    if high == 0:
        return "No saving is expected: the tests found no less leakage."
    return (
        f"Less air leakage should save ${low:,.0f} to ${high:,.0f} a year, most likely about "
        f"${central:,.0f}."
    )


def _energy_sentence(part: str, figures: Mapping[str, Any]) -> str:
    shown = figures["fuel_units"]["shown"]
    unit = UNIT_WORDS[figures["unit"]]
    low, central, high = (shown[name] for name in ("low", "central", "high"))
    if high <= 0 and low < 0:
        return (
            f"{part}: {_plain(-high)} to {_plain(-low)} {unit} more a year, most likely about "
            f"{_plain(-central)}."
        )
    if low < 0:
        return f"{part}: between {_plain(-low)} {unit} more and {_plain(high)} {unit} less a year."
    return (
        f"{part}: {_plain(low)} to {_plain(high)} {unit} less a year, most likely about "
        f"{_plain(central)}."
    )


def _plain(value: float) -> str:
    """Thousands commas and only the digits the rounding left."""
    return f"{value:,.10g}"
