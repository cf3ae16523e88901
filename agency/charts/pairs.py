"""Chart of homes before and after the work, two bars each, from zero."""

import json
from collections.abc import Sequence
from dataclasses import dataclass

from .drawing import DAMSON, HATCHED, INK, OCHRE, WIDE, Spec, draw, text_size
from .errors import ChartError

ROW = 46
"""Height of one home. [px]"""
FRAME = 56
"""Height of the axis below the homes. [px]"""
ROOM_FOR_LABELS = 1.28
"""Length of the axis over the longest bar, so that its figure fits. [-]"""
BOTH = ["before", "after"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PairedHome:
    """One home measured on both sides of the work, in the chart's unit."""

    label: str
    before: float
    after: float


def draw_pairs(
    homes: Sequence[PairedHome], *, title: str, measure: str, unit: str, width: int = WIDE
) -> str:
    """The SVG of paired homes; before is ochre and hatched, after damson and solid.

    Homes without one of the two figures belong in a list apart, not here.
    """
    if not homes:
        raise ChartError("There is no paired home to draw; give at least one.")
    for home in homes:
        if min(home.before, home.after) < 0:
            raise ChartError(f"{home.label} has a figure below 0 {unit}; bars start at 0.")
    longest = max(max(home.before, home.after) for home in homes)
    if longest == 0:
        raise ChartError("Every figure is 0; there is no bar to draw.")
    spec: Spec = {
        "width": width,
        "height": ROW * len(homes) + FRAME,
        "autosize": {"type": "fit", "contains": "padding"},
        "data": {"values": _rows(homes, unit)},
        "encoding": _encoding(homes, f"{measure}, {unit}", longest),
        "layer": [_bars("before"), _bars("after"), _labels(text_size(width))],
    }
    better = sum(home.after < home.before for home in homes)
    description = f"{len(homes)} homes, {better} lower after the work than before. Bars start at 0."
    return draw(spec, title=title, description=description)


def _rows(homes: Sequence[PairedHome], unit: str) -> list[Spec]:
    """One row a bar; only the first home spells out which bar is which."""
    rows = []
    for rank, home in enumerate(homes):
        for side, value in zip(BOTH, (home.before, home.after), strict=True):
            figure = f"{value:,.0f}"
            text = f"{figure} {unit} {side}" if rank == 0 else figure
            rows.append(
                {"home": home.label, "rank": rank, "side": side, "value": value, "text": text}
            )
    return rows


def _encoding(homes: Sequence[PairedHome], axis_title: str, longest: float) -> Spec:
    return {
        "y": {
            "field": "rank",
            "type": "ordinal",
            "scale": {"paddingInner": 0.24, "paddingOuter": 0.12},
            "axis": {
                "title": None,
                "ticks": False,
                "domain": False,
                "labelExpr": f"{json.dumps([home.label for home in homes])}[datum.value]",
                "labelLimit": 130,
            },
        },
        "yOffset": {"field": "side", "sort": BOTH},
        "x": {
            "field": "value",
            "type": "quantitative",
            "scale": {"domain": [0, longest * ROOM_FOR_LABELS], "nice": False},
            "axis": {"title": axis_title, "tickCount": 4, "format": ",.0f"},
        },
    }


def _bars(side: str) -> Spec:
    fill = HATCHED if side == "before" else DAMSON
    stroke = OCHRE if side == "before" else DAMSON
    return {
        "name": side,
        "transform": [{"filter": f"datum.side === '{side}'"}],
        "mark": {"type": "bar", "fill": fill, "stroke": stroke, "strokeWidth": 1},
    }


def _labels(size: int) -> Spec:
    return {
        "name": "figures",
        "mark": {"type": "text", "align": "left", "dx": 6, "fontSize": size, "color": INK},
        "encoding": {"text": {"field": "text"}},
    }
