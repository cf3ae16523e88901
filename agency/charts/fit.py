"""Chart of a fan test: readings, fitted line and its 95 % band on logarithmic axes."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from .drawing import DAMSON, MUTED, OCHRE, WIDE, Spec, draw, text_size
from .errors import ChartError
from .ticks import log_ticks

CFM = 0.3048**3 / 60
"""One cubic foot a minute. [m³/s]  Exact, derived from the foot."""
MARGIN = 1.12
"""Room left around the readings, as a factor, since the axes are logarithmic. [-]"""
REFERENCE = 50.0
"""Pressure at which results are stated. [Pa]  ASTM E779-19, from memory."""
LOOKS = {
    "depressurization": {"color": DAMSON, "shape": "circle", "dash": [1, 0]},
    "pressurization": {"color": OCHRE, "shape": "diamond", "dash": [7, 4]},
}


@dataclass(frozen=True, slots=True, kw_only=True)
class FitPoint:
    """One reading; `pressure` in Pa, either sign."""

    pressure: float
    flow_cfm: float
    used: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class BandPoint:
    """The fitted line at one pressure, with its 95 % bounds."""

    pressure: float
    flow_cfm: float
    low_cfm: float
    high_cfm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class FitSeries:
    """The readings of one direction and the line through them; the band may be empty."""

    direction: str
    points: Sequence[FitPoint]
    band: Sequence[BandPoint] = ()


def series_from_figures(figures: Mapping[str, Any]) -> list[FitSeries]:
    """The series of a stored result, whose flows are in m³/s."""
    return [
        FitSeries(
            direction=one["direction"],
            points=[
                FitPoint(
                    pressure=point["pressure"], flow_cfm=point["flow"] / CFM, used=point["used"]
                )
                for point in one["points"]
            ],
            band=[
                BandPoint(
                    pressure=at["pressure"],
                    flow_cfm=at["flow"] / CFM,
                    low_cfm=at["low"] / CFM,
                    high_cfm=at["high"] / CFM,
                )
                for at in one.get("band") or []
            ],
        )
        for one in figures["series"]
    ]


def draw_fit(series: Sequence[FitSeries], *, title: str, width: int = WIDE) -> str:
    """The SVG of one fan test, with a mark of its own for each direction.

    Excluded readings are hollow and crossed, and a key says so. Refused: no reading at all, and a
    reading that a logarithmic axis cannot show.
    """
    _refuse_what_cannot_be_drawn(series)
    axes = _axes(series)
    layers = [_reference(axes)]
    # The line that runs higher is named above its end, the other below its start.
    ranked = sorted(series, key=_top_flow, reverse=True)
    for rank, one in enumerate(ranked):
        layers += _layers(one, axes, size=text_size(width), above=rank == 0)
    if any(not point.used for one in series for point in one.points):
        layers.append(_key(axes, size=text_size(width)))
    spec: Spec = {
        "width": width,
        "height": round(width * (0.62 if width >= WIDE else 0.95)),
        "autosize": {"type": "fit", "contains": "padding"},
        "layer": [layer for layer in layers if layer["data"]["values"]],
    }
    return draw(spec, title=title, description=_description(series))


def _refuse_what_cannot_be_drawn(series: Sequence[FitSeries]) -> None:
    if not any(one.points for one in series):
        raise ChartError("There is no reading to draw; give at least one.")
    for one in series:
        if one.direction not in LOOKS:
            raise ChartError(f"The direction is {one.direction}; it must be one of {[*LOOKS]}.")
        for point in one.points:
            if point.pressure == 0 or point.flow_cfm <= 0:
                raise ChartError(
                    f"A reading of {point.pressure} Pa and {point.flow_cfm} cfm cannot stand on "
                    "logarithmic axes; leave it out and list it in the table."
                )
        if any(at.pressure == 0 or at.low_cfm <= 0 for at in one.band):
            raise ChartError("The band must stay above 0 Pa and 0 cfm.")


def _axes(series: Sequence[FitSeries]) -> Spec:
    """Both axes, wide enough for every reading and band."""
    pressures = [abs(point.pressure) for one in series for point in one.points]
    pressures += [abs(at.pressure) for one in series for at in one.band]
    flows = [point.flow_cfm for one in series for point in one.points]
    flows += [flow for one in series for at in one.band for flow in (at.low_cfm, at.high_cfm)]
    return {
        "x": _axis("Pressure difference, Pa", pressures),
        "y": _axis("Air flow, cfm", flows),
    }


def _axis(title: str, values: Sequence[float]) -> Spec:
    low, high = min(values) / MARGIN, max(values) * MARGIN
    return {
        "type": "quantitative",
        "scale": {"type": "log", "domain": [low, high], "nice": False},
        "axis": {"title": title, "values": log_ticks(low, high), "format": ",~r"},
    }


def _top_flow(one: FitSeries) -> float:
    """The flow where the line, or the cloud of readings, ends."""
    if one.band:
        return one.band[-1].flow_cfm
    return max((point.flow_cfm for point in one.points), default=0.0)


def _layer(
    name: str, mark: Spec, values: list[Spec], axes: Spec, *, y: str = "flow", **more: Spec
) -> Spec:
    """One layer of marks on the shared axes."""
    encoding = {
        "x": {"field": "pressure", **axes["x"]},
        "y": {"field": y, **axes["y"]},
        **more,
    }
    return {"name": name, "data": {"values": values}, "mark": mark, "encoding": encoding}


def _reference(axes: Spec) -> Spec:
    """A hairline over the pressure for which results are stated, if it is on the axis."""
    low, high = axes["x"]["scale"]["domain"]
    bottom, top = axes["y"]["scale"]["domain"]
    values = [{"pressure": REFERENCE, "flow": bottom, "top": top}] if low < REFERENCE < high else []
    mark = {"type": "rule", "color": MUTED, "strokeDash": [2, 3]}
    return _layer("reference", mark, values, axes, y2={"field": "top"})


def _layers(one: FitSeries, axes: Spec, *, size: int, above: bool) -> list[Spec]:
    """Band, line, readings and name of one direction, from back to front."""
    look = LOOKS[one.direction]
    colour, shape = look["color"], look["shape"]
    band = [
        {"pressure": abs(at.pressure), "flow": at.flow_cfm, "low": at.low_cfm, "high": at.high_cfm}
        for at in one.band
    ]
    used, left_out = (
        [
            {"pressure": abs(point.pressure), "flow": point.flow_cfm}
            for point in one.points
            if point.used is kept
        ]
        for kept in (True, False)
    )
    filled = {"type": "point", "shape": shape, "size": 90, "filled": True, "color": colour}
    hollow = {**filled, "filled": False, "strokeWidth": 1.5, "opacity": 1}
    cross = {"type": "point", "shape": "M-1,-1L1,1M-1,1L1,-1", "size": 130, "stroke": colour}
    line = {"type": "line", "color": colour, "strokeWidth": 2, "strokeDash": look["dash"]}
    shade = {"type": "area", "color": colour, "opacity": 0.16}
    return [
        _layer(f"band_{one.direction}", shade, band, axes, y="low", y2={"field": "high"}),
        _layer(f"line_{one.direction}", line, band, axes),
        _layer(f"used_{one.direction}", filled | {"opacity": 1}, used, axes),
        _layer(f"excluded_{one.direction}", hollow, left_out, axes),
        _layer(f"crosses_{one.direction}", cross | {"strokeWidth": 1.5}, left_out, axes),
        _name(one, band or used, axes, size=size, above=above),
    ]


def _name(one: FitSeries, along: list[Spec], axes: Spec, *, size: int, above: bool) -> Spec:
    """The direction written beside its own line, where the slope leaves room."""
    ordered = sorted(along, key=lambda at: at["pressure"])
    end = ordered[-1:] if above else ordered[:1]
    mark = {
        "type": "text",
        "text": one.direction.capitalize(),
        "align": "right" if above else "left",
        "dx": -6 if above else 8,
        "dy": -16 if above else 20,
        "fontSize": size,
        "fontWeight": 700,
    }
    return _layer(f"name_{one.direction}", mark, end, axes)


def _key(axes: Spec, *, size: int) -> Spec:
    """What a crossed mark means, in the corner that a rising line leaves free."""
    corner = {"pressure": axes["x"]["scale"]["domain"][1], "flow": axes["y"]["scale"]["domain"][0]}
    mark = {"type": "text", "text": "Crossed: excluded", "align": "right", "dx": -6, "dy": -12}
    return _layer("key", mark | {"fontSize": size, "color": MUTED}, [corner], axes)


def _description(series: Sequence[FitSeries]) -> str:
    """What a listener needs: how many readings, in which directions, how many left out."""
    parts = []
    for one in series:
        left_out = sum(not point.used for point in one.points)
        parts.append(
            f"{one.direction.capitalize()}: {len(one.points)} readings, {left_out} excluded."
        )
    return " ".join(parts) + " Both axes are logarithmic; the shaded band is the 95 % interval."
