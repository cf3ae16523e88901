"""Chart of how much homes improved: a histogram of reductions with its counts written out."""

from collections.abc import Sequence
from dataclasses import dataclass

from .drawing import DAMSON, HATCHED, INK, NARROW, OCHRE, WIDE, Spec, draw, text_size
from .errors import ChartError

EDGES = (0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6)
"""Lower edges of the bins from "0 to 10 %" on, as fractions; a value on an edge counts above it."""
NAMES = (
    "below 0",
    "0 to 10",
    "10 to 20",
    "20 to 30",
    "30 to 40",
    "40 to 50",
    "50 to 60",
    "60 and up",
)

PERCENT_ROWS: Spec = {
    "title": None,
    "labelExpr": "replace(datum.value + ' %', 'and up %', '% and up')",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Bin:
    """One bar: its range in percent and how many homes fall in it."""

    name: str
    homes: int


def bins_of(reductions: Sequence[float]) -> list[Bin]:
    """Count reductions, given as fractions of the figure before; below zero means worse."""
    counts = [0] * len(NAMES)
    for reduction in reductions:
        counts[sum(reduction >= edge for edge in EDGES)] += 1
    return [Bin(name=name, homes=count) for name, count in zip(NAMES, counts, strict=True)]


def draw_distribution(
    reductions: Sequence[float], *, title: str, measure: str, width: int = WIDE
) -> str:
    """The SVG of the histogram; homes that got worse are hatched ochre."""
    if not reductions:
        raise ChartError("There is no reduction to draw; give at least one.")
    bins = bins_of(reductions)
    upright = width > NARROW
    ranges, homes = ("x", "y") if upright else ("y", "x")
    most = max(one.homes for one in bins)
    # A phone has no room for a title on its side: there the rows carry the sign themselves.
    ranges_axis: Spec = {"title": f"{measure}, %"} if upright else PERCENT_ROWS
    spec: Spec = {
        "width": width,
        "height": 320 if upright else 340,
        "autosize": {"type": "fit", "contains": "padding"},
        "data": {"values": [{"range": one.name, "homes": one.homes} for one in bins]},
        "encoding": {
            ranges: {
                "field": "range",
                "type": "ordinal",
                "sort": list(NAMES),
                "scale": {"paddingInner": 0.12, "paddingOuter": 0.06},
                "axis": {"labelAngle": 0, "ticks": False, **ranges_axis},
            },
            homes: {
                "field": "homes",
                "type": "quantitative",
                "scale": {"domain": [0, most * 1.12], "nice": False},
                "axis": {"title": "Homes", "tickMinStep": 1, "tickCount": 5, "format": ",.0f"},
            },
        },
        "layer": _layers(upright=upright, size=text_size(width)),
    }
    worse = bins[0].homes
    description = f"{len(reductions)} homes; {worse} got worse. Each bar carries its count."
    return draw(spec, title=title, description=description)


def _layers(*, upright: bool, size: int) -> list[Spec]:
    place = {"baseline": "bottom", "dy": -4} if upright else {"align": "left", "dx": 5}
    worse = f"datum.range === '{NAMES[0]}'"
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
