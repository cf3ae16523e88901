"""The sensitivity chart of an estimate, with the same figures as a table."""

import json
from collections.abc import Mapping
from functools import lru_cache
from typing import Any

from agency.charts.drawing import NARROW, WIDE
from agency.charts.tornado import Swing, draw_tornado
from agency.wording import words

from .drawings import Drawing

TITLE = "What moves the result most"
MEASURE = "Net present value of the measures"
NAMES = {
    "prices": "Energy prices",
    "discount_rate": "Discount rate, real",
    "setpoint": "Thermostat of the household",
    "heating_efficiency": "Efficiency of the heating found",
    "leakage": "Leakage saved, of what is expected",
}


def tornado_drawing(figures: Mapping[str, Any] | None) -> Drawing | None:
    """None while there is no money to draw."""
    if not figures or not figures["bars"]:
        return None
    text = json.dumps(figures)
    return Drawing(
        title=TITLE,
        wide=_drawn(text, WIDE),
        narrow=_drawn(text, NARROW),
        caption="One assumption at a time, the rest as assumed; the bars must not be added up. "
        "Hatched: at its low. Solid: at its high.",
        columns=["Assumption", "Low", "Value there", "High", "Value there"],
        rows=[
            [
                NAMES[bar["name"]],
                assumed_words(bar["name"], bar["low"]),
                words.money(bar["at_low"]),
                assumed_words(bar["name"], bar["high"]),
                words.money(bar["at_high"]),
            ]
            for bar in figures["bars"]
        ],
    )


def assumed_words(name: str, value: float) -> str:
    """One end of an assumption's range in its own unit."""
    if name == "discount_rate":
        return words.percent(value, 1)
    if name == "setpoint":
        size = words.quantity(abs(value) * words.KELVIN_STEP, "°F", 1)
        return f"{size} {'lower' if value < 0 else 'higher'}"
    if name == "leakage":
        return words.percent(value)
    return f"{words.percent(abs(value - 1))} {'lower' if value < 1 else 'higher'}"


@lru_cache(maxsize=64)
def _drawn(text: str, width: int) -> str:
    """Drawing takes a tenth of a second, and a stored estimate never changes."""
    figures = json.loads(text)
    swings = [
        Swing(
            name=NAMES[bar["name"]],
            at_low=bar["at_low"],
            at_high=bar["at_high"],
            low_words=assumed_words(bar["name"], bar["low"]),
            high_words=assumed_words(bar["name"], bar["high"]),
        )
        for bar in figures["bars"]
    ]
    return draw_tornado(
        swings, base=figures["base"]["npv"], title=TITLE, measure=MEASURE, width=width
    )
