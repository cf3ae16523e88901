"""Chart of bills against outdoor temperature, before and after the work, with the fitted lines."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from .drawing import DAMSON, OCHRE, WIDE, Spec, draw, text_size
from .errors import ChartError

ROOM = 1.15
"""Height of the axis over the highest bill. [-]"""
LOOKS = {
    "before": {"color": OCHRE, "shape": "diamond", "dash": [7, 4], "name": "Before the work"},
    "after": {"color": DAMSON, "shape": "circle", "dash": [1, 0], "name": "After the work"},
}
FAHRENHEIT_STEP, ICE_POINT_F = 1.8, 32.0
"""Exact."""


@dataclass(frozen=True, slots=True, kw_only=True)
class UseAt:
    """Use a day at one mean outdoor temperature. [°F, unit a day]"""

    temperature: float
    use: float


@dataclass(frozen=True, slots=True, kw_only=True)
class UseSide:
    """Bills of one side of the work and the line through them."""

    side: str
    """before or after."""
    points: Sequence[UseAt]
    line: Sequence[UseAt]


def sides_from_figures(figures: Mapping[str, Any]) -> list[UseSide]:
    """The sides of a stored analysis, whose figures are in °C and J a day."""
    joules = figures["unit"]["joules"]
    return [
        UseSide(
            side=side,
            points=[_use(one, joules) for one in figures[side]["points"]],
            line=[_use(one, joules) for one in figures[side]["line"]],
        )
        for side in LOOKS
        if figures.get(side)
    ]


def fahrenheit(celsius: float) -> float:
    """A temperature in °F."""
    return celsius * FAHRENHEIT_STEP + ICE_POINT_F


def draw_change_point(sides: Sequence[UseSide], *, title: str, unit: str, width: int = WIDE) -> str:
    """The SVG of one account's bills; each side has a mark, a stroke and a name of its own."""
    if not any(one.points for one in sides):
        raise ChartError("There is no bill to draw; give at least one.")
    for one in sides:
        if one.side not in LOOKS:
            raise ChartError(f"The side is {one.side}; it must be one of {[*LOOKS]}.")
    axes = _axes(sides, unit)
    layers: list[Spec] = []
    # The name of the side with more use stands above its line, the other below.
    ranked = sorted(sides, key=_highest, reverse=True)
    for rank, one in enumerate(ranked):
        layers += _layers(one, axes, size=text_size(width), above=rank == 0)
    spec: Spec = {
        "width": width,
        "height": round(width * (0.56 if width >= WIDE else 0.95)),
        "autosize": {"type": "fit", "contains": "padding"},
        "layer": [layer for layer in layers if layer["data"]["values"]],
    }
    return draw(spec, title=title, description=_description(sides))


def _use(one: Mapping[str, float], joules: float) -> UseAt:
    return UseAt(temperature=fahrenheit(one["temperature"]), use=one["rate"] / joules)


def _axes(sides: Sequence[UseSide], unit: str) -> Spec:
    marks = [mark for one in sides for mark in (*one.points, *one.line)]
    uses = [mark.use for mark in marks]
    temperatures = [mark.temperature for mark in marks]
    lowest = min(0.0, *uses)
    highest = max(uses) * ROOM if max(uses) > 0 else 1.0
    return {
        "x": {
            "type": "quantitative",
            "scale": {"domain": [min(temperatures), max(temperatures)], "nice": True},
            "axis": {"title": "Mean outdoor temperature of the bill, °F", "tickCount": 6},
        },
        "y": {
            "type": "quantitative",
            "scale": {"domain": [lowest, highest], "nice": False},
            "axis": {"title": f"Use, {unit} a day", "tickCount": 5, "format": ",~r"},
        },
    }


def _layers(one: UseSide, axes: Spec, *, size: int, above: bool) -> list[Spec]:
    look = LOOKS[one.side]
    colour = look["color"]
    line = {"type": "line", "color": colour, "strokeWidth": 2, "strokeDash": look["dash"]}
    mark = {"type": "point", "shape": look["shape"], "size": 90, "filled": True, "opacity": 1}
    return [
        _layer(f"line_{one.side}", line, _values(one.line), axes),
        _layer(f"bills_{one.side}", mark | {"color": colour}, _values(one.points), axes),
        _name(one, axes, size=size, above=above),
    ]


def _values(marks: Sequence[UseAt]) -> list[Spec]:
    return [{"temperature": one.temperature, "use": one.use} for one in marks]


def _layer(name: str, mark: Spec, values: list[Spec], axes: Spec) -> Spec:
    encoding = {
        "x": {"field": "temperature", **axes["x"]},
        "y": {"field": "use", **axes["y"]},
    }
    return {"name": name, "data": {"values": values}, "mark": mark, "encoding": encoding}


def _name(one: UseSide, axes: Spec, *, size: int, above: bool) -> Spec:
    """Beside the steep part of the line, where a falling or rising line leaves room."""
    along = sorted(one.line or one.points, key=lambda at: at.temperature)
    falls = along[0].use > along[-1].use
    place = along[(len(along) - 1) // 4 if falls else 3 * (len(along) - 1) // 4 :][:1]
    is_right = falls is above
    mark = {
        "type": "text",
        "text": LOOKS[one.side]["name"],
        "align": "left" if is_right else "right",
        "dx": 26 if is_right else -26,
        "dy": -18 if above else 20,
        "fontSize": size,
        "fontWeight": 700,
    }
    return _layer(f"name_{one.side}", mark, _values(place), axes)


def _highest(one: UseSide) -> float:
    return max((at.use for at in one.line or one.points), default=0.0)


def _description(sides: Sequence[UseSide]) -> str:
    parts = [f"{LOOKS[one.side]['name']}: {len(one.points)} bills." for one in sides]
    return " ".join(parts) + " The lines are the fitted models; use starts at 0."
