"""The figures of a test as they are stored: of one direction, or the mean of both."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from agency.leakage.air import REFERENCE_DENSITY, REFERENCE_DENSITY_ISO
from agency.leakage.envelope import REPORTED_PRESSURES, mean_of_directions, mode_difference
from agency.leakage.leakage_area import (
    air_changes,
    effective_leakage_area,
    equivalent_leakage_area,
    normalized_leakage_62_2,
    permeability,
    specific_leakage_area,
)
from agency.leakage.line import NORMAL_QUANTILE
from agency.leakage.power_law import (
    ExponentSource,
    coefficient_interval,
    exponent_interval,
    flow_at,
)
from agency.leakage.uncertainty import FlowUncertainty, u_of_mean

from ..forms.envelope import EnvelopeDocument
from .envelope import SeriesResult, band, flow_points, plain
from .readings import HouseSizes
from .uncertainty import PRESSURES, SeriesUncertainty

Figure = dict[str, float | None]
UNCERTAINTIES = ("flow_50", "systematic", "random", "flow_4", "gauge", "fan", "other")


@dataclass(frozen=True, slots=True, kw_only=True)
class Evaluated:
    """One direction: its result and its uncertainty."""

    result: SeriesResult
    uncertainty: SeriesUncertainty


def empty_figures(document: EnvelopeDocument) -> dict[str, Any]:
    """The keys of a test that could not be computed."""
    nothing: Figure = {"value": None, "low": None, "high": None}
    return {
        "flow_50": dict(nothing),
        "exponent": dict(nothing),
        "coefficient": dict(nothing),
        "exponent_source": None,
        "r_squared": None,
        "points_used": None,
        "flows": {f"{pressure:g}": dict(nothing) for pressure in REPORTED_PRESSURES},
        "ach50": None,
        "ela": None,
        "eqla": None,
        "nl": None,
        "sla": None,
        "permeability": None,
        "uncertainty": dict.fromkeys(UNCERTAINTIES),
        "engineering": None,
        "monte_carlo": None,
        "mode_difference": None,
        "series": [],
        "instruments": _instruments(document),
        "setup": dict(document.setup),
        "geometry": {},
        "density_factor": None,
    }


def figures_of(
    document: EnvelopeDocument,
    house: HouseSizes,
    parts: Sequence[Evaluated],
    *,
    volume_in_question: bool,
) -> dict[str, Any]:
    """Everything that is stored of a computed test."""
    figures = empty_figures(document)
    uncertainty = _uncertainty(parts)
    flows = {
        f"{pressure:g}": _mean_figure([_flow_figure(one, pressure) for one in parts])
        for pressure in REPORTED_PRESSURES
    }
    figures |= {
        "flow_50": flows["50"],
        "flows": flows,
        "exponent_source": str(parts[0].result.exponent_source),
        "points_used": sum(int(one.result.used.sum()) for one in parts),
        "uncertainty": uncertainty,
        "engineering": _engineering(parts),
        "monte_carlo": _monte_carlo(parts),
        "series": [_series(one) for one in parts],
        "geometry": asdict(house),
    }
    figures |= _house_figures(document, house, flows, volume_in_question)
    if len(parts) == 1:
        figures |= _one_law(parts[0].result)
    else:
        down, up = (one.result.flow_at(50.0) for one in parts)
        figures["mode_difference"] = float(mode_difference(down, up))
    return figures


def _one_law(result: SeriesResult) -> dict[str, Any]:
    """What belongs to one fit only: a coefficient's unit depends on its exponent."""
    return {
        "exponent": _interval(exponent_interval(result.law), result),
        "coefficient": _interval(coefficient_interval(result.law), result),
        "r_squared": plain(float(result.law.line.r_squared)),
        "density_factor": result.density_factor,
    }


def _interval(interval: Any, result: SeriesResult) -> Figure:
    figure = {name: plain(float(getattr(interval, name))) for name in ("value", "low", "high")}
    if result.exponent_source is ExponentSource.ASSUMED:
        return {**figure, "low": None, "high": None}
    return figure


def _flow_figure(one: Evaluated, pressure: float) -> Figure:
    """Flow at a pressure: the standard's interval of a fit, else that of the whole uncertainty."""
    interval = flow_at(one.result.law, pressure)
    value, low, high = (plain(float(end)) for end in (interval.value, interval.low, interval.high))
    if one.result.exponent_source is ExponentSource.FITTED:
        return {"value": value, "low": low, "high": high}
    if pressure not in PRESSURES or value is None:
        return {"value": value, "low": None, "high": None}
    total = float(one.uncertainty.flow.total[list(PRESSURES).index(pressure)])
    half = float(np.exp(NORMAL_QUANTILE * total))
    return {"value": value, "low": plain(value / half), "high": plain(value * half)}


def _mean_figure(figures: Sequence[Figure]) -> Figure:
    """Mean of the directions; their intervals are of fits that share no reading."""
    if len(figures) == 1:
        return figures[0]
    down, up = figures
    if down["value"] is None or up["value"] is None:
        return {"value": None, "low": None, "high": None}
    value = float(mean_of_directions(down["value"], up["value"]))
    ends: Figure = {}
    for name, sign in (("low", -1.0), ("high", 1.0)):
        a, b = down[name], up[name]
        both = None if a is None or b is None else np.hypot(a - down["value"], b - up["value"]) / 2
        ends[name] = None if both is None else float(value + sign * both)
    return {"value": value, **ends}


def _uncertainty(parts: Sequence[Evaluated]) -> Figure:
    """Relative standard uncertainties at 50 Pa, what they are made of, and the whole at 4 Pa."""
    at_4, at_50 = (
        {name: _mean_part(parts, index, name) for name in ("random", "gauge", "fan", "other")}
        for index in range(len(PRESSURES))
    )
    systematic = [at_50[name] for name in ("gauge", "fan", "other")]
    return {
        "flow_50": plain(float(np.linalg.norm(list(at_50.values())))),
        "systematic": plain(float(np.linalg.norm(systematic))),
        "flow_4": plain(float(np.linalg.norm(list(at_4.values())))),
        **{name: plain(value) for name, value in at_50.items()},
    }


def _mean_part(parts: Sequence[Evaluated], index: int, name: str) -> float:
    """One kind of error in the mean of the directions; the gauge is common to both."""
    sizes = [
        float(
            one.uncertainty.flow.random[index]
            if name == "random"
            else getattr(one.uncertainty, name)[index]
        )
        for one in parts
    ]
    if len(parts) == 1:
        return sizes[0]
    alike = _configurations(parts[0].result) == _configurations(parts[1].result)
    correlation = {"gauge": 1.0, "fan": float(alike)}.get(name, 0.0)
    flows = [one.result.flow_at(float(PRESSURES[index])) for one in parts]
    alone = [
        FlowUncertainty(random=np.zeros(()), systematic=np.asarray(size), total=np.asarray(size))
        for size in sizes
    ]
    mean = u_of_mean(
        depressurization=flows[0],
        pressurization=flows[1],
        u_depressurization=alone[0],
        u_pressurization=alone[1],
        correlation=correlation,
    )
    return float(mean.total)


def _configurations(result: SeriesResult) -> set[tuple[str, str]]:
    return {(fan.serial, fan.configuration) for one in result.series.points for fan in one.fans}


def _engineering(parts: Sequence[Evaluated]) -> dict[str, Any] | None:
    """York's line beside the standard's own; None where nothing was fitted."""
    laws = [one.uncertainty.york for one in parts]
    if any(law is None or not np.isfinite(law.exponent) for law in laws):
        return None
    known = [law for law in laws if law is not None]
    flows = []
    for law in known:
        interval = flow_at(law, 50.0)
        flows.append(
            {name: plain(float(getattr(interval, name))) for name in ("value", "low", "high")}
        )
    exponent = _interval(exponent_interval(known[0]), parts[0].result) if len(known) == 1 else None
    return {"flow_50": _mean_figure(flows), "exponent": exponent, "estimator": "york"}


def _monte_carlo(parts: Sequence[Evaluated]) -> dict[str, Any] | None:
    """Middle 95 % of the trials; for both directions the mean of the ends, which errs wide."""
    runs = [one.uncertainty.monte_carlo for one in parts]
    known = [run for run in runs if run is not None]
    if len(known) < len(runs):
        return None
    return {
        "flow_50": {
            "low": float(np.mean([run.flow.low[1] for run in known])),
            "high": float(np.mean([run.flow.high[1] for run in known])),
        },
        "trials": known[0].trials,
        "seed": known[0].seed,
        "dropped": sum(run.dropped for run in known),
    }


def _house_figures(
    document: EnvelopeDocument,
    house: HouseSizes,
    flows: dict[str, Figure],
    volume_in_question: bool,
) -> dict[str, float | None]:
    density = REFERENCE_DENSITY_ISO if document.method == "iso9972" else REFERENCE_DENSITY
    flow_50, flow_4, flow_10 = (flows[name]["value"] for name in ("50", "4", "10"))
    if flow_50 is None or flow_4 is None or flow_10 is None:
        return {}
    area = float(effective_leakage_area(flow_4, density=density))
    found: dict[str, float | None] = {
        "ela": area,
        "eqla": float(equivalent_leakage_area(flow_10, density=density)),
    }
    if house.volume is not None and not volume_in_question:
        found["ach50"] = float(air_changes(flow=flow_50, volume=house.volume))
    if house.envelope_area is not None:
        found["permeability"] = float(permeability(flow=flow_50, envelope_area=house.envelope_area))
    if house.floor_area is not None:
        shape = {"leakage_area": area, "floor_area": house.floor_area}
        found["sla"] = float(specific_leakage_area(**shape))
        if house.height is not None:
            found["nl"] = float(normalized_leakage_62_2(**shape, height=house.height))
    return found


def _series(one: Evaluated) -> dict[str, Any]:
    result = one.result
    return {
        "direction": str(result.series.direction),
        "coefficient": plain(float(result.law.coefficient)),
        "exponent": plain(result.exponent),
        "r_squared": plain(float(result.law.line.r_squared)),
        "flow_50": _flow_figure(one, 50.0),
        "density_factor": result.density_factor,
        "baseline": result.offset,
        "points": flow_points(result),
        "band": band(result),
    }


def _instruments(document: EnvelopeDocument) -> dict[str, Any]:
    read = [fan for series in document.series for point in series.points for fan in point.fans]
    return {
        "gauge": document.gauge.serial,
        "fans": sorted({fan.serial for fan in document.fans}),
        "configurations": sorted({fan.configuration for fan in read}),
    }
