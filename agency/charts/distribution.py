"""Chart of how much homes improved: a histogram of reductions with its counts written out."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

from .drawing import DAMSON, HATCHED, INK, NARROW, OCHRE, WIDE, Spec, draw, text_size
from .errors import ChartError

TICKS = 5
"""Marks on the axis of homes, about. Own choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """One bar: its range in words, how many homes fall in it, and whether they got worse."""

    name: str
    homes: int
    worse: bool = False


def draw_distribution(bars: Sequence[Bar], *, title: str, measure: str, width: int = WIDE) -> str:
    """The SVG of the histogram; homes that got worse are hatched ochre."""
    most = max((one.homes for one in bars), default=0)
    if not most:
        raise ChartError("There is no reduction to draw; give at least one.")
    upright = width > NARROW
    ranges, homes = ("x", "y") if upright else ("y", "x")
    # A phone has no room for a title on its side.
    ranges_axis: Spec = {"title": measure if upright else None}
    spec: Spec = {
        "width": width,
        "height": 320 if upright else 340,
        "autosize": {"type": "fit", "contains": "padding"},
        "data": {
            "values": [{"range": one.name, "homes": one.homes, "worse": one.worse} for one in bars]
        },
        "encoding": {
            ranges: {
                "field": "range",
                "type": "ordinal",
                "sort": [one.name for one in bars],
                "scale": {"paddingInner": 0.12, "paddingOuter": 0.06},
                "axis": {"labelAngle": 0, "ticks": False, **ranges_axis},
            },
            homes: {
                "field": "homes",
                "type": "quantitative",
                "scale": {"domain": [0, most * 1.12], "nice": False},
                "axis": {"title": "Homes", "values": _whole_ticks(most), "format": ",.0f"},
            },
        },
        "layer": _layers(upright=upright, size=text_size(width)),
    }
    homes_in_all = sum(one.homes for one in bars)
    worse = sum(one.homes for one in bars if one.worse)
    description = f"{homes_in_all} homes; {worse} got worse. Each bar carries its count."
    return draw(spec, title=title, description=description)


def _whole_ticks(most: int) -> list[int]:
    """Whole numbers from 0, about five of them: half a home is not counted."""
    return list(range(0, most + 1, max(1, ceil(most / TICKS))))


def _layers(*, upright: bool, size: int) -> list[Spec]:
    place = {"baseline": "bottom", "dy": -4} if upright else {"align": "left", "dx": 5}
    worse = "datum.worse"
    return [
        {
            "name": "worse",
            "transform": [{"filter": worse}],
            "mark": {"type": "bar", "fill": HATCHED, "stroke": OCHRE},
        },
        {
            "name": "better",
            "transform": [{"filter": f"!({worse})"}],
            "mark": {"type": "bar", "fill": DAMSON},
        },
        {
            "name": "counts",
            "mark": {"type": "text", "fontSize": size, "fontWeight": 700, "color": INK, **place},
            "encoding": {"text": {"field": "homes", "format": ",.0f"}},
        },
    ]
