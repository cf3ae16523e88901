"""Chart of what moves a result most: a bar an assumption, from its low to its high."""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, isfinite
from typing import NamedTuple

from .drawing import DAMSON, GRID, HATCHED, INK, NARROW, OCHRE, WIDE, Spec, draw, text_size
from .errors import ChartError
from .pen import LEADING, folded, text_width

BAR = 18
"""Height of a bar. [px]"""
FRAME = 56
"""Height of the axis below the bars. [px]"""
NAMES = 200
"""Most room for the names beside the bars. [px]"""
PADDING = 18
"""Left and right of every chart together, see `drawing`. [px]"""
GAP = 6
"""Between the end of a bar and its words. [px]"""
AIR = 0.05
"""Empty share of the axis past the longest bar. [-]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Swing:
    """One assumption: the result at its low and at its high, and both in words."""

    name: str
    at_low: float
    at_high: float
    low_words: str
    high_words: str


class _Plot(NamedTuple):
    """The axis and the rows that the lines run through."""

    low: float
    high: float
    row: float
    shift: float
    rows: int


def draw_tornado(
    swings: Sequence[Swing], *, base: float, title: str, measure: str, width: int = WIDE
) -> str:
    """The SVG of the bars, in the order given, around the result as assumed.

    Results are in dollars. Hatched: at the assumption's low; solid: at its high; each end says
    the value assumed there. A line of its own marks where nothing is gained.
    """
    _refuse_what_cannot_be_drawn(swings, base)
    size = text_size(width)
    beside = width > NARROW
    column = _column(swings, size) if beside else 0
    names = [folded(one.name, (column or width - PADDING) - 8, size=size) for one in swings]
    text = max(map(len, names)) * size * LEADING
    row = max(BAR + 30, text + 10) if beside else text + BAR + 30
    shift = 0.0 if beside else text / 2 - 4
    low, high = _domain(swings, base, width - PADDING - column, size)
    plot = _Plot(low=low, high=high, row=row, shift=shift, rows=len(swings))
    assumed, *behind = _lines(base, plot)
    layers = [*behind, *_bars(swings, base, shift), assumed, *_ends(swings, size, shift)]
    if not beside:
        layers.append(_names(names, size, row))
    spec: Spec = {
        "width": width,
        "height": round(row * len(swings)) + FRAME,
        "autosize": {"type": "fit", "contains": "padding"},
        "encoding": {
            "y": _rows(names, column) if beside else {**_ranks(len(names)), "axis": None},
            "x": _axis(measure, plot),
        },
        "layer": [layer for layer in layers if layer["data"]["values"]],
    }
    return draw(spec, title=title, description=_description(swings, base))


def _axis(measure: str, plot: _Plot) -> Spec:
    return {
        "field": "value",
        "type": "quantitative",
        "scale": {"domain": [plot.low, plot.high], "nice": False, "zero": False},
        "axis": {
            "title": measure,
            "tickCount": 4,
            "format": "$,.0f",
            "grid": False,
            "labelBound": True,
        },
    }


def _refuse_what_cannot_be_drawn(swings: Sequence[Swing], base: float) -> None:
    if not swings:
        raise ChartError("There is no assumption to draw; give at least one.")
    if not isfinite(base) or not all(isfinite(x) for one in swings for x in _both(one)):
        raise ChartError("A result is not a finite number; there is no bar to draw.")


def _both(one: Swing) -> tuple[float, float]:
    return one.at_low, one.at_high


def _column(swings: Sequence[Swing], size: int) -> int:
    return min(NAMES, ceil(max(text_width(one.name, size=size) for one in swings)) + 10)


def _domain(swings: Sequence[Swing], base: float, length: float, size: int) -> tuple[float, float]:
    """An axis that spans every result and the words at both ends of the bars."""
    results = [base, *(x for one in swings for x in _both(one))]
    low, high = min(results), max(results)
    if low == high:
        low, high = low - 1, high + 1
    left, right = (
        max(text_width(words, size=size) for one in swings for words in (_words_at(one, side),))
        for side in (0, 1)
    )
    per_px = (high - low) / max(length - left - right - 2 * GAP, length / 4)
    air = AIR * (high - low)
    return low - (left + GAP) * per_px - air, high + (right + GAP) * per_px + air


def _words_at(one: Swing, side: int) -> str:
    """What is assumed at the left or the right end of a bar."""
    low_is_left = one.at_low <= one.at_high
    return one.low_words if low_is_left == (side == 0) else one.high_words


def _ranks(count: int) -> Spec:
    scale = {"domain": list(range(count)), "paddingInner": 0, "paddingOuter": 0}
    return {"field": "rank", "type": "ordinal", "scale": scale}


def _rows(names: Sequence[list[str]], column: int) -> Spec:
    axis = {
        "title": None,
        "ticks": False,
        "domain": False,
        "labelExpr": f"{json.dumps(names)}[datum.value]",
        "labelLimit": 0,
        "minExtent": column,
        "maxExtent": column,
    }
    return {**_ranks(len(names)), "axis": axis}


def _layer(name: str, values: list[Spec], mark: Spec, **encoding: Spec) -> Spec:
    return {"name": name, "data": {"values": values}, "mark": mark, "encoding": encoding}


def _bars(swings: Sequence[Swing], base: float, shift: float) -> list[Spec]:
    """Two layers: from the base to the result at the low, and to that at the high."""
    layers = []
    for name, fill, stroke in (("at_low", HATCHED, OCHRE), ("at_high", DAMSON, DAMSON)):
        values = [
            {"rank": rank, "value": base, "end": getattr(one, name)}
            for rank, one in enumerate(swings)
        ]
        mark = {
            "type": "bar",
            "height": BAR,
            "yOffset": shift,
            "fill": fill,
            "stroke": stroke,
            "strokeWidth": 1.5,
        }
        layers.append(_layer(name, values, mark, x2={"field": "end"}))
    return layers


def _lines(base: float, plot: _Plot) -> list[Spec]:
    """Nought where the axis holds it, pale through all rows; the result as assumed, at the bars."""
    lines = [_line("base", base, plot, color=INK, size=BAR + 10)]
    if plot.low < 0 < plot.high:
        lines.append(_line("nought", 0, plot, color=GRID, size=plot.row))
    return lines


def _line(name: str, at: float, plot: _Plot, *, color: str, size: float) -> Spec:
    values = [{"rank": rank, "value": at} for rank in range(plot.rows)]
    mark = {"type": "tick", "orient": "vertical", "size": size, "thickness": 2, "color": color,
            "opacity": 1, "yOffset": plot.shift if size < plot.row else 0}  # fmt: skip
    return _layer(name, values, mark)


def _ends(swings: Sequence[Swing], size: int, shift: float) -> list[Spec]:
    """What is assumed at each end of each bar."""
    layers = []
    for side, align, offset in ((0, "right", -GAP), (1, "left", GAP)):
        ends = [(min, max)[side](_both(one)) for one in swings]
        values = [
            {"rank": rank, "value": end, "text": _words_at(one, side)}
            for rank, (one, end) in enumerate(zip(swings, ends, strict=True))
        ]
        mark = {"type": "text", "align": align, "dx": offset, "dy": shift, "fontSize": size,
                "color": INK}  # fmt: skip
        layers.append(_layer(f"words_{align}", values, mark, text={"field": "text"}))
    return layers


def _names(names: Sequence[list[str]], size: int, row: float) -> Spec:
    values = [{"rank": rank, "text": lines} for rank, lines in enumerate(names)]
    mark = {
        "type": "text",
        "align": "left",
        "baseline": "top",
        "dy": 6 - row / 2,
        "fontSize": size,
        "lineHeight": size * LEADING,
    }
    return _layer("names", values, mark, text={"field": "text"}, x={"value": 0})


def _description(swings: Sequence[Swing], base: float) -> str:
    parts = [f"As assumed: {_dollars(base)}."]
    parts += [
        f"{one.name}: {_dollars(one.at_low)} at {one.low_words}, "
        f"{_dollars(one.at_high)} at {one.high_words}."
        for one in swings
    ]
    return " ".join(parts)


def _dollars(value: float) -> str:
    return f"{'−' if round(value) < 0 else ''}${abs(value):,.0f}"
