"""Chart of measured points and one fitted line on linear axes, which may pass through zero."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite

from .drawing import DAMSON, MUTED, WIDE, Spec, draw, text_size
from .errors import ChartError
from .pen import folded

MARGIN = 0.06
"""Room left around everything drawn, as a share of the axis. [-]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class CurvePoint:
    """One measured point; `error` is the half-width of its uncertainty bar, None = no bar."""

    x: float
    y: float
    error: float | None = None
    used: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class CurveLine:
    """The fitted line, as the points it is drawn through."""

    x: Sequence[float]
    y: Sequence[float]


def draw_curve(
    *,
    points: Sequence[CurvePoint],
    line: CurveLine | None,
    title: str,
    x_title: str,
    y_title: str,
    width: int = WIDE,
) -> str:
    """The SVG of the points and their line; points left out are hollow and crossed.

    Refused: no point, a line of fewer than two places or of unequal lists, a figure that is not
    finite, and an uncertainty below zero.
    """
    _refuse_what_cannot_be_drawn(points, line)
    axes = _axes(points, line, x_title, y_title)
    layers = [
        *_zeros(axes),
        *_line(line, axes),
        *_points(points, axes),
    ]
    spec: Spec = {
        "width": width,
        "height": round(width * (0.62 if width >= WIDE else 0.95)),
        "autosize": {"type": "fit", "contains": "padding"},
        "title": _key(points, line, width=width),
        "layer": [layer for layer in layers if layer["data"]["values"]],
    }
    left_out = sum(not point.used for point in points)
    description = f"{len(points)} points, {left_out} left out. {x_title} across, {y_title} up."
    if line:
        description += (
            f" The fitted line runs from {_place(line.x[0], line.y[0])}"
            f" to {_place(line.x[-1], line.y[-1])}."
        )
    return draw(spec, title=title, description=description)


def _refuse_what_cannot_be_drawn(points: Sequence[CurvePoint], line: CurveLine | None) -> None:
    if not points:
        raise ChartError("There is no point to draw; give at least one.")
    for point in points:
        if not all(map(isfinite, (point.x, point.y, point.error or 0.0))):
            raise ChartError(f"The point {point.x:g}, {point.y:g} has a figure that is not finite.")
        if point.error is not None and point.error < 0:
            raise ChartError(
                f"The point {point.x:g}, {point.y:g} has an uncertainty of {point.error:g}; "
                "it must be 0 or more."
            )
    if line is None:
        return
    if len(line.x) != len(line.y):
        raise ChartError(f"The line has {len(line.x)} places across but {len(line.y)} up.")
    if len(line.x) < 2:
        raise ChartError("A line needs at least two places; leave it out.")
    if not all(map(isfinite, (*line.x, *line.y))):
        raise ChartError("The line has a figure that is not finite.")


def _place(x: float, y: float) -> str:
    return f"({x:z.3g}, {y:z.3g})".replace("-", "−")


def _axes(points: Sequence[CurvePoint], line: CurveLine | None, x_title: str, y_title: str) -> Spec:
    """Both axes, wide enough for every point with its bar and for the line."""
    across = [point.x for point in points]
    up = [point.y + sign * (point.error or 0.0) for point in points for sign in (-1, 1)]
    if line:
        across += line.x
        up += line.y
    return {"x": _axis(x_title, across), "y": _axis(y_title, up)}


def _axis(title: str, values: Sequence[float]) -> Spec:
    low, high = min(values), max(values)
    room = (high - low) * MARGIN or 1.0
    return {
        "type": "quantitative",
        "scale": {"domain": [low - room, high + room], "nice": False, "zero": False},
        "axis": {"title": title, "tickCount": 6, "format": ",~r"},
    }


def _layer(name: str, mark: Spec, values: list[Spec], axes: Spec, **more: Spec) -> Spec:
    encoding = {"x": {"field": "x", **axes["x"]}, "y": {"field": "y", **axes["y"]}, **more}
    return {"name": name, "data": {"values": values}, "mark": mark, "encoding": encoding}


def _zeros(axes: Spec) -> list[Spec]:
    """A stronger line where an axis passes through zero, for the sign is the finding."""
    (left, right), (bottom, top) = (axes[axis]["scale"]["domain"] for axis in "xy")
    rule = {"type": "rule", "color": MUTED}
    upright = [{"x": 0, "y": bottom, "end": top}] if left < 0 < right else []
    level = [{"x": left, "y": 0, "end": right}] if bottom < 0 < top else []
    return [
        _layer("zero_across", rule, upright, axes, y2={"field": "end"}),
        _layer("zero_up", rule, level, axes, x2={"field": "end"}),
    ]


def _line(line: CurveLine | None, axes: Spec) -> list[Spec]:
    if line is None:
        return []
    values = [
        {"x": x, "y": y, "rank": rank}
        for rank, (x, y) in enumerate(zip(line.x, line.y, strict=True))
    ]
    mark = {"type": "line", "color": DAMSON, "strokeWidth": 2}
    return [_layer("line", mark, values, axes, order={"field": "rank"})]


def _points(points: Sequence[CurvePoint], axes: Spec) -> list[Spec]:
    """Uncertainty bars with their caps, then the points, from back to front."""
    used, left_out = (
        [{"x": point.x, "y": point.y} for point in points if point.used is kept]
        for kept in (True, False)
    )
    bars = [
        {"x": point.x, "y": point.y - point.error, "end": point.y + point.error}
        for point in points
        if point.error is not None
    ]
    caps = [{"x": bar["x"], "y": bar[end]} for bar in bars for end in ("y", "end")]
    filled = {"type": "point", "size": 90, "filled": True, "color": DAMSON, "opacity": 1}
    hollow = {**filled, "filled": False, "strokeWidth": 1.5}
    cross = {"type": "point", "shape": "M-1,-1L1,1M-1,1L1,-1", "size": 130, "stroke": DAMSON}
    cap = {"type": "tick", "orient": "horizontal", "size": 9, "thickness": 1.5, "opacity": 1}
    rule = {"type": "rule", "color": DAMSON, "strokeWidth": 1.5}
    return [
        _layer("errors", rule, bars, axes, y2={"field": "end"}),
        _layer("caps", cap | {"color": DAMSON}, caps, axes),
        _layer("used", filled, used, axes),
        _layer("excluded", hollow, left_out, axes),
        _layer("crosses", cross | {"strokeWidth": 1.5}, left_out, axes),
    ]


def _key(points: Sequence[CurvePoint], line: CurveLine | None, *, width: int) -> Spec:
    """What each mark means, above the plot where nothing can run through it."""
    parts = ["Line: fitted."] if line else []
    if any(not point.used for point in points):
        parts.append("Crossed: left out.")
    if any(point.error is not None for point in points):
        parts.append("Upright bars: uncertainty.")
    size = text_size(width)
    return {
        "text": folded(" ".join(parts), width - 20, size=size),
        "anchor": "start",
        "frame": "bounds",
        "fontSize": size,
        "fontWeight": 400,
        "color": MUTED,
        "offset": 10,
    }
