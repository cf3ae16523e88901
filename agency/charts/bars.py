"""Chart of readings held against limits: one bar an item, from zero to either side."""

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import ceil, isclose, isfinite
from typing import Any, NamedTuple

from .drawing import (
    DAMSON,
    GRID,
    HATCHED,
    INK,
    MUTED,
    NARROW,
    OCHRE,
    PAPER,
    WIDE,
    Spec,
    draw,
    text_size,
)
from .errors import ChartError
from .pen import LEADING, folded, text_width

LOOKS = {
    "met": {"fill": DAMSON, "stroke": DAMSON},
    "missed": {"fill": HATCHED, "stroke": OCHRE},
    "unjudged": {"fill": GRID, "stroke": MUTED},
}
"""Solid, hatched and pale: three looks that greyscale keeps apart."""
BAR = 16
"""Height of a bar. [px]"""
FRAME = 56
"""Height of the axis below the bars. [px]"""
NAMES = 190
"""Most room for the items' names beside the bars. [px]"""
PADDING = 18
"""Left and right of every chart together, see `drawing`. [px]"""
GAP = 6
"""Between the end of a bar and its figure. [px]"""
MOST_DECIMALS = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Measure:
    """One item: what was read (None = not measured), its limits, and how it was judged."""

    label: str
    value: float | None
    low: float | None = None
    high: float | None = None
    state: str = "unjudged"

    @property
    def limits(self) -> list[float]:
        """The limits there are, the lower first."""
        return [limit for limit in (self.low, self.high) if limit is not None]


class _Plot(NamedTuple):
    """What the layers share: the axis, its length in pixels, and where things stand in a row."""

    low: float
    high: float
    length: float
    size: int
    decimals: int
    shift: float

    @property
    def per_px(self) -> float:
        return (self.high - self.low) / self.length


def draw_bars(
    bars: Sequence[Measure], *, title: str, measure: str, unit: str, width: int = WIDE
) -> str:
    """The SVG of the bars; a missed limit is hatched ochre and says so at the bar's end.

    Refused: no item, nothing measured, an unknown state, a verdict without a value, and limits
    that contradict each other.
    """
    _refuse_what_cannot_be_drawn(bars)
    size = text_size(width)
    beside = width > NARROW
    widest = max(text_width(one.label, size=size) for one in bars)
    column = min(NAMES, ceil(widest) + 8) if beside else 0
    length = width - PADDING - column
    names = [folded(one.label, (column or length) - 8, size=size) for one in bars]
    text = max(map(len, names)) * size * LEADING
    below = 20 if any(one.limits for one in bars) else 4
    row = max(BAR + 14 + below, text + 12) if beside else text + BAR + 18 + below
    shift = -below / 2 if beside else (text - below) / 2
    plot = _plot(bars, unit, length=length, size=size, shift=shift)
    layers = [
        _zeros(bars, plot),
        *_bars(bars, plot),
        *_limits(bars, plot),
        *_figures(bars, unit, plot),
    ]
    if not beside:
        layers.append(_names(names, plot, row))
    spec: Spec = {
        "width": width,
        "height": round(row * len(bars)) + FRAME,
        "autosize": {"type": "fit", "contains": "padding"},
        "encoding": {
            "y": _rows(names, column, shift) if beside else {**_ranks(len(bars)), "axis": None},
            "x": _axis(plot, f"{measure}, {unit}"),
        },
        "layer": [layer for layer in layers if layer["data"]["values"]],
    }
    return draw(spec, title=title, description=_description(bars, unit, plot.decimals))


def _refuse_what_cannot_be_drawn(bars: Sequence[Measure]) -> None:
    if not bars:
        raise ChartError("There is no item to draw; give at least one.")
    for one in bars:
        if one.state not in LOOKS:
            raise ChartError(f"{one.label} is {one.state}; it must be one of {[*LOOKS]}.")
        if one.value is None and one.state != "unjudged":
            raise ChartError(f"{one.label} is {one.state} without a value; give its reading.")
        if not all(map(isfinite, (one.value or 0, *one.limits))):
            raise ChartError(f"{one.label} has a figure that is not a finite number.")
        if one.limits != sorted(one.limits):
            raise ChartError(
                f"{one.label} must be at least {one.low:g} and at most {one.high:g}; "
                "the lower limit must not exceed the upper."
            )
    if all(one.value is None for one in bars):
        raise ChartError("Nothing was measured; there is no bar to draw.")


def _plot(bars: Sequence[Measure], unit: str, *, length: float, size: int, shift: float) -> _Plot:
    """An axis that spans zero, every figure, and the words at the ends of the bars."""
    figures = [0.0, *(x for one in bars for x in (one.value or 0.0, *one.limits))]
    low, high = min(figures), max(figures)
    if low == high:
        high = 1.0
    decimals = _decimals(bars)
    words = list(zip(bars, _words(bars, unit, decimals), strict=True))
    left, right = (
        max(
            (text_width(text, size=size) + GAP for one, text in words if _below(one) is side),
            default=4,
        )
        for side in (True, False)
    )
    per_px = (high - low) / (length - left - right)
    return _Plot(low - left * per_px, high + right * per_px, length, size, decimals, shift)


def _decimals(bars: Sequence[Measure]) -> int:
    """As few as keep every reading apart from its own limits and show its first two digits."""
    values = [one.value for one in bars if one.value is not None]
    largest = max(map(abs, values))
    enough = 0 if largest >= 100 or all(_same(value, round(value)) for value in values) else 1
    for decimals in range(enough, MOST_DECIMALS):
        if not any(
            round(one.value, decimals) == round(limit, decimals) and not _same(one.value, limit)
            for one in bars
            if one.value is not None
            for limit in one.limits
        ):
            return decimals
    return MOST_DECIMALS


def _same(one: float, other: float) -> bool:
    """Equal but for what a change of units leaves behind."""
    return isclose(one, other, rel_tol=1e-9, abs_tol=1e-9)


def _figure(value: float, decimals: int) -> str:
    return f"{value:z,.{decimals}f}".replace("-", "−")


def _limit_kind(one: Measure) -> str:
    if len(one.limits) == 2:
        return "between"
    return "at least" if one.high is None else "at most"


def _limit_figures(one: Measure) -> str:
    return " and ".join(f"{limit:z,.6g}".replace("-", "−") for limit in one.limits)


def _below(one: Measure) -> bool:
    return one.value is not None and one.value < 0


def _words(bars: Sequence[Measure], unit: str, decimals: int) -> list[str]:
    """What stands at the end of each bar; only the first measured one spells out the unit."""
    texts = []
    spelled = False
    for one in bars:
        if one.value is None:
            texts.append("not measured")
            continue
        figure = _figure(one.value, decimals) + ("" if spelled else f" {unit}")
        spelled = True
        texts.append(figure if one.state == "unjudged" else f"{figure}, {one.state}")
    return texts


def _ranks(count: int) -> Spec:
    scale = {"domain": list(range(count)), "paddingInner": 0, "paddingOuter": 0}
    return {"field": "rank", "type": "ordinal", "scale": scale}


def _rows(names: Sequence[list[str]], column: int, shift: float) -> Spec:
    """Names folded into the column beside the bars."""
    axis = {
        "title": None,
        "ticks": False,
        "domain": False,
        "labelExpr": f"{json.dumps(names)}[datum.value]",
        "labelLimit": 0,
        "labelOffset": shift,
        "minExtent": column,
        "maxExtent": column,
    }
    return {**_ranks(len(names)), "axis": axis}


def _axis(plot: _Plot, title: str) -> Spec:
    return {
        "field": "value",
        "type": "quantitative",
        "scale": {"domain": [plot.low, plot.high], "nice": False},
        "axis": {"title": title, "tickCount": 4, "format": ",~r", "grid": False},
    }


def _layer(name: str, values: list[Spec], mark: Spec, **encoding: Spec) -> Spec:
    return {"name": name, "data": {"values": values}, "mark": mark, "encoding": encoding}


def _zeros(bars: Sequence[Measure], plot: _Plot) -> Spec:
    """Where each bar starts."""
    values = [{"rank": rank, "value": 0} for rank in range(len(bars))]
    return _layer("zeros", values, _tick(plot, BAR + 10, thickness=1, color=MUTED))


def _tick(plot: _Plot, size: int, **look: Any) -> Spec:
    place = {"orient": "vertical", "size": size, "yOffset": plot.shift, "opacity": 1}
    return {"type": "tick", **place, **look}


def _bars(bars: Sequence[Measure], plot: _Plot) -> Iterable[Spec]:
    """One layer a state."""
    for state, look in LOOKS.items():
        values = [
            {"rank": rank, "value": one.value}
            for rank, one in enumerate(bars)
            if one.state == state and one.value is not None
        ]
        mark = {"type": "bar", "height": BAR, "yOffset": plot.shift, "strokeWidth": 1.5, **look}
        yield _layer(state, values, mark)


def _limits(bars: Sequence[Measure], plot: _Plot) -> Iterable[Spec]:
    """A tick at each limit and its figure below, in words where the kind of limit changes."""
    ticks = [{"rank": rank, "value": at} for rank, one in enumerate(bars) for at in one.limits]
    # Paper on both sides keeps a tick visible on a solid bar.
    yield _layer("limit_edges", ticks, _tick(plot, BAR, thickness=4.5, color=PAPER))
    yield _layer("limits", ticks, _tick(plot, BAR + 10, thickness=2.5, color=INK))
    texts = []
    kind = ""
    for rank, one in enumerate(bars):
        if not one.limits:
            continue
        text = _limit_figures(one)
        if kind != _limit_kind(one):
            kind = _limit_kind(one)
            text = f"{kind} {text}"
        half = text_width(text, size=plot.size) / 2 * plot.per_px
        centre = sum(one.limits) / len(one.limits)
        centre = min(max(centre, plot.low + half), plot.high - half)
        texts.append({"rank": rank, "value": centre, "text": text})
    words = {"type": "text", "fontSize": plot.size, "color": MUTED, "dy": plot.shift + 22}
    yield _layer("limit_words", texts, words, text={"field": "text"})


def _figures(bars: Sequence[Measure], unit: str, plot: _Plot) -> Iterable[Spec]:
    """The figure and verdict past the end of each bar, clear of its own limits."""
    ends: dict[str, list[Spec]] = {"figures": [], "figures_below_zero": [], "not_measured": []}
    for rank, (one, text) in enumerate(zip(bars, _words(bars, unit, plot.decimals), strict=True)):
        side = "figures_below_zero" if _below(one) else "figures"
        sign = -1 if _below(one) else 1
        at = sign * (one.value or 0.0)
        for limit in sorted(sign * limit for limit in one.limits):
            if at <= limit <= at + (text_width(text, size=plot.size) + 2 * GAP) * plot.per_px:
                at = limit
        name = "not_measured" if one.value is None else side
        ends[name].append({"rank": rank, "value": sign * at, "text": text})
    for name, values in ends.items():
        below = name == "figures_below_zero"
        mark = {
            "type": "text",
            "align": "right" if below else "left",
            "dx": -GAP if below else GAP,
            "dy": plot.shift,
            "fontSize": plot.size,
            "color": MUTED if name == "not_measured" else INK,
        }
        yield _layer(name, values, mark, text={"field": "text"})


def _names(names: Sequence[list[str]], plot: _Plot, row: float) -> Spec:
    """The items' names over their bars, where a phone has no room beside them."""
    values = [{"rank": rank, "text": lines} for rank, lines in enumerate(names)]
    mark = {
        "type": "text",
        "align": "left",
        "baseline": "top",
        "dy": 6 - row / 2,
        "fontSize": plot.size,
        "lineHeight": plot.size * LEADING,
    }
    return _layer("names", values, mark, text={"field": "text"}, x={"value": 0})


def _description(bars: Sequence[Measure], unit: str, decimals: int) -> str:
    """Every item with its reading, limit and verdict, for a listener."""
    parts = []
    for one in bars:
        said = ["not measured"] if one.value is None else [f"{_figure(one.value, decimals)} {unit}"]
        if one.limits:
            said.append(f"{_limit_kind(one)} {_limit_figures(one)}")
        if one.state != "unjudged":
            said.append(one.state)
        parts.append(f"{one.label}: {', '.join(said)}.")
    return " ".join(parts)
