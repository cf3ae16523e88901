"""Chart of measured against predicted savings, a home a mark, with the line of equal savings."""

from collections.abc import Sequence
from dataclasses import dataclass

from .drawing import DAMSON, MUTED, OCHRE, WIDE, Spec, draw, text_size
from .errors import ChartError

ROOM = 0.06
"""Room beyond the outermost mark, as a share of the axis. [-]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class SavingMark:
    """One home: what was predicted, what was measured, and the range of the latter."""

    predicted: float
    measured: float
    low: float
    high: float


def draw_realization(
    homes: Sequence[SavingMark], *, title: str, unit: str, width: int = WIDE
) -> str:
    """The SVG of a group of homes; upright strokes are the ranges of what was measured."""
    if not homes:
        raise ChartError("There is no home to draw; give at least one.")
    values: list[Spec] = [
        {"predicted": one.predicted, "measured": one.measured, "low": one.low, "high": one.high}
        for one in homes
    ]
    bottom = min(0.0, *(one.low for one in homes))
    top = max(0.0, *(one.high for one in homes), *(one.predicted for one in homes))
    room = ROOM * (top - bottom or 1.0)
    right = max(one.predicted for one in homes) * (1 + ROOM)
    axes = _axes(bottom - room, top + room, right, unit)
    equal = min(right, top + room)
    size = text_size(width)
    spec: Spec = {
        "width": width,
        "height": round(width * (0.62 if width >= WIDE else 1.0)),
        "autosize": {"type": "fit", "contains": "padding"},
        "layer": [
            _line("zero", [(0.0, 0.0), (right, 0.0)], axes, {"color": MUTED, "strokeWidth": 1}),
            _line(
                "equal",
                [(0.0, 0.0), (equal, equal)],
                axes,
                {"color": OCHRE, "strokeWidth": 2, "strokeDash": [7, 4]},
            ),
            _ranges(values, axes),
            _marks(values, axes),
            _word(equal, axes, size),
        ],
    }
    return draw(spec, title=title, description=_description(homes))


def _axes(bottom: float, top: float, right: float, unit: str) -> Spec:
    def axis(title: str, low: float, high: float) -> Spec:
        return {
            "type": "quantitative",
            "scale": {"domain": [low, high], "nice": False},
            "axis": {"title": f"{title}, {unit} a year", "tickCount": 5, "format": ",~r"},
        }

    return {
        "x": axis("Predicted saving", 0.0, right),
        "y": axis("Measured saving", bottom, top),
    }


def _line(name: str, ends: Sequence[tuple[float, float]], axes: Spec, look: Spec) -> Spec:
    return {
        "name": name,
        "data": {"values": [{"predicted": x, "measured": y} for x, y in ends]},
        "mark": {"type": "line", **look},
        "encoding": {
            "x": {"field": "predicted", **axes["x"]},
            "y": {"field": "measured", **axes["y"]},
        },
    }


def _ranges(values: list[Spec], axes: Spec) -> Spec:
    return {
        "name": "ranges",
        "data": {"values": values},
        "mark": {"type": "rule", "color": DAMSON, "opacity": 0.45, "strokeWidth": 1.5},
        "encoding": {
            "x": {"field": "predicted", **axes["x"]},
            "y": {"field": "low", **axes["y"]},
            "y2": {"field": "high"},
        },
    }


def _marks(values: list[Spec], axes: Spec) -> Spec:
    return {
        "name": "homes",
        "data": {"values": values},
        "mark": {"type": "point", "shape": "circle", "size": 80, "filled": True, "opacity": 1,
                 "color": DAMSON},
        "encoding": {
            "x": {"field": "predicted", **axes["x"]},
            "y": {"field": "measured", **axes["y"]},
        },
    }  # fmt: skip


def _word(at: float, axes: Spec, size: int) -> Spec:
    """What the slanted line means, beside its upper end."""
    mark = {"type": "text", "text": "as predicted", "align": "right", "dx": -12, "dy": 4,
            "fontSize": size, "fontWeight": 700}  # fmt: skip
    return {
        "name": "word",
        "data": {"values": [{"predicted": at, "measured": at}]},
        "mark": mark,
        "encoding": {
            "x": {"field": "predicted", **axes["x"]},
            "y": {"field": "measured", **axes["y"]},
        },
    }


def _description(homes: Sequence[SavingMark]) -> str:
    above = sum(one.measured >= one.predicted for one in homes)
    return (
        f"{len(homes)} homes, {above} on or above the line on which the measured saving equals "
        "the predicted one. Upright strokes are the ranges of the measured savings."
    )
