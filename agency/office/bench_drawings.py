"""Drawings of bench tests, from what their results keep in SI to pictures in the trade's units."""

import json
from collections.abc import Mapping
from functools import lru_cache
from typing import Any

from agency.charts.bars import Measure, draw_bars
from agency.charts.curve import CurveLine, CurvePoint, draw_curve
from agency.charts.drawing import NARROW, WIDE
from agency.charts.errors import ChartError
from agency.charts.schema import AirPath, Space, draw_schema
from agency.diagnostics.models import Result
from agency.wording import words

from .drawings import Drawing

Spec = Mapping[str, Any]


def bench_drawing(result: Result | None, title: str) -> Drawing | None:
    """The drawing a result asks for; None when it asks for none, or nothing can be drawn."""
    spec = None if result is None else result.figures.get("drawing")
    if not spec:
        return None
    try:
        wide, narrow = (
            _drawn(json.dumps(spec, sort_keys=True), title, at) for at in (WIDE, NARROW)
        )
    except ChartError:
        return None
    columns, rows = TABLES[spec["type"]](spec)
    return Drawing(
        title=spec.get("title") or title,
        wide=wide,
        narrow=narrow,
        caption=spec.get("caption") or "",
        columns=columns,
        rows=rows,
    )


@lru_cache(maxsize=256)
def _drawn(spec: str, title: str, width: int) -> str:
    """Drawing takes a moment, and a stored result never changes."""
    data = json.loads(spec)
    return DRAWERS[data["type"]](data, data.get("title") or title, width)


def _bars(spec: Spec, title: str, width: int) -> str:
    measure = words.QUANTITIES[spec["quantity"]]
    bars = [
        Measure(
            label=one["label"],
            value=_scaled(one["value"], measure),
            low=_scaled(one.get("low"), measure),
            high=_scaled(one.get("high"), measure),
            state="unjudged" if one["value"] is None else one["state"],
        )
        for one in spec["bars"]
    ]
    return draw_bars(bars, title=title, measure=spec["measure"], unit=measure.unit, width=width)


def _curve(spec: Spec, title: str, width: int) -> str:
    across, up = (words.QUANTITIES[spec[name]] for name in ("x_quantity", "y_quantity"))
    points = [
        CurvePoint(
            x=one["x"] / across.one_unit,
            y=one["y"] / up.one_unit,
            error=_scaled(one.get("u"), up),
            used=one.get("used", True),
        )
        for one in spec["points"]
    ]
    line = CurveLine(
        x=[x / across.one_unit for x, _ in spec["line"]],
        y=[y / up.one_unit for _, y in spec["line"]],
    )
    return draw_curve(
        points=points,
        line=line if line.x else None,
        title=title,
        x_title=f"{spec['x_title']}, {across.unit}",
        y_title=f"{spec['y_title']}, {up.unit}",
        width=width,
    )


def _schema(spec: Spec, title: str, width: int) -> str:
    spaces = [
        Space(name=one["name"], pressure=words.pressure(one["pressure"]), kind=one["kind"])
        for one in spec["spaces"]
    ]
    most = max((abs(one["flow"]) for one in spec["paths"] if one["flow"] is not None), default=0.0)
    paths = [
        AirPath(
            start=one["start"],
            end=one["end"],
            label=_path_text(one),
            weight=abs(one["flow"]) / most if one["flow"] and most else 0.0,
            state="undetermined" if one["flow"] is None else "determined",
        )
        for one in spec["paths"]
    ]
    return draw_schema(spaces, paths, title=title, width=width)


def _path_text(path: Spec) -> str:
    if path["flow"] is None:
        return str(path.get("text") or "not determined")
    return words.flow(path["flow"])


def _bars_table(spec: Spec) -> tuple[list[str], list[list[str]]]:
    columns = ["Item", spec["measure"], "At least", "At most", "Verdict"]
    return columns, [
        [
            one["label"],
            words.figure(spec["quantity"], {"value": one["value"]}),
            _limit(spec["quantity"], one.get("low")),
            _limit(spec["quantity"], one.get("high")),
            VERDICTS[one["state"]] if one["value"] is not None else "not tested",
        ]
        for one in spec["bars"]
    ]


def _curve_table(spec: Spec) -> tuple[list[str], list[list[str]]]:
    columns = [spec["x_title"], spec["y_title"], "Used in the fit"]
    return columns, [
        [
            words.figure(spec["x_quantity"], {"value": one["x"]}),
            words.figure(spec["y_quantity"], {"value": one["y"]}),
            "yes" if one.get("used", True) else "no",
        ]
        for one in spec["points"]
    ]


def _schema_table(spec: Spec) -> tuple[list[str], list[list[str]]]:
    columns = ["From", "To", "Flow"]
    return columns, [[one["start"], one["end"], _path_text(one)] for one in spec["paths"]]


def _scaled(value: float | None, measure: words.Measure) -> float | None:
    return None if value is None else value / measure.one_unit


def _limit(quantity: str, value: float | None) -> str:
    return "none" if value is None else words.figure(quantity, {"value": value})


VERDICTS = {"met": "met", "missed": "not met", "unjudged": "no limit"}
DRAWERS = {"bars": _bars, "curve": _curve, "schema": _schema}
TABLES = {"bars": _bars_table, "curve": _curve_table, "schema": _schema_table}
