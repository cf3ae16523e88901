"""Charts of bills and of what a grant realized, with the rows of their table twins."""

import json
from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import Any

from agency.charts.change_point import draw_change_point, fahrenheit, sides_from_figures
from agency.charts.drawing import NARROW, WIDE
from agency.charts.errors import ChartError
from agency.charts.realization import SavingMark, draw_realization
from agency.estimates.bill_sentences import UNIT_WORDS
from agency.estimates.bill_studies import BillAnalysis
from agency.wording import words

from .drawings import Drawing

SIDES = {"before": "Before the work", "after": "After the work"}


def bills_drawing(analysis: BillAnalysis) -> Drawing | None:
    """Use against outdoor temperature; None when nothing could be fitted."""
    figures = analysis.figures or {}
    drawn = {
        "unit": figures.get("unit"),
        **{
            side: {"points": one["points"], "line": one["line"]}
            for side in SIDES
            if (one := figures.get(side))
        },
    }
    if len(drawn) == 1:
        return None
    text, title = json.dumps(drawn), "Use against outdoor temperature"
    try:
        wide, narrow = _bills(text, title, WIDE), _bills(text, title, NARROW)
    except ChartError:
        return None
    return Drawing(
        title=title,
        wide=wide,
        narrow=narrow,
        caption="A mark is a bill at the mean temperature of its days; a line is what the model "
        "says of a day of that temperature. Days of one bill differ, so bills near the bend lie a "
        "little above the line.",
        columns=["Bill", "Side", "Mean temperature", "Use a day", "Model"],
        rows=_bill_rows(drawn),
    )


def realization_drawing(homes: Sequence[Mapping[str, Any]]) -> Drawing | None:
    """Measured against predicted savings; its table stands below it on the page."""
    if not homes:
        return None
    marks = tuple((one["predicted"], one["measured"], one["low"], one["high"]) for one in homes)
    return Drawing(
        title="Measured against predicted savings",
        wide=_realization(marks, WIDE),
        narrow=_realization(marks, NARROW),
        caption="A mark is one home's saving of one fuel; the stroke through it is the range of "
        "what was measured. On the slanted line both are equal.",
        columns=(),
        rows=(),
    )


def _bill_rows(drawn: Mapping[str, Any]) -> list[list[str]]:
    joules = drawn["unit"]["joules"]
    unit = f"{UNIT_WORDS[drawn['unit']['name']]}/day"
    return [
        [
            f"{one['start']} to {one['end']}",
            name,
            words.quantity(fahrenheit(one["temperature"]), "°F", 1),
            words.quantity(one["rate"] / joules, unit, 2),
            words.quantity(one["predicted"] / joules, unit, 2),
        ]
        for side, name in SIDES.items()
        if side in drawn
        for one in drawn[side]["points"]
    ]


@lru_cache(maxsize=128)
def _bills(text: str, title: str, width: int) -> str:
    """Drawing takes a tenth of a second, and a stored analysis never changes."""
    figures = json.loads(text)
    unit = UNIT_WORDS[figures["unit"]["name"]]
    return draw_change_point(sides_from_figures(figures), title=title, unit=unit, width=width)


@lru_cache(maxsize=32)
def _realization(marks: tuple[tuple[float, float, float, float], ...], width: int) -> str:
    homes = [
        SavingMark(predicted=predicted, measured=measured, low=low, high=high)
        for predicted, measured, low, high in marks
    ]
    title = "Measured against predicted savings"
    return draw_realization(homes, title=title, unit="MMBtu", width=width)
