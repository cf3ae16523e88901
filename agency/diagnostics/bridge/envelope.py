"""One series of a fan-pressurization test: from its readings to a power law of reference air."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from agency.leakage.air import REFERENCE_DENSITY
from agency.leakage.envelope import at_reference
from agency.leakage.fan_flow import indicated_flow, meter_density_factor
from agency.leakage.outliers import residuals
from agency.leakage.power_law import (
    ExponentSource,
    PowerLaw,
    fit_one_run,
    fit_with_exponent,
    flow_at,
    refuse_unfitted,
    two_point_law,
)

from .air import AirState
from .book import Book
from .inputs import Signs
from .readings import ReadPoint, ReadSeries

Numbers = NDArray[np.float64]
BAND_STEPS = 25


@dataclass(frozen=True, slots=True, kw_only=True)
class SeriesResult:
    """A series evaluated. Flows are those through the leaks, at the air of the test. [Pa, m³/s]"""

    series: ReadSeries
    method: str
    offset: float
    induced: Numbers
    flow: Numbers
    """NaN where a fan was read outside its range."""
    indicated: Numbers
    used: NDArray[np.bool_]
    law: PowerLaw
    """For air of the reference state; as the flows where the densities are not known."""
    measured_law: PowerLaw
    """For the air of the test."""
    reference_factor: float | None
    density_factor: float | None
    """Flow of reference air against indicated flow, mean of the used points."""
    factors: Numbers
    """Flow through the leaks against indicated flow, by point."""
    turned: bool
    """All readings had the sign of the other direction."""

    @property
    def used_induced(self) -> Numbers:
        """Induced pressures of the used points, the highest first. [Pa]"""
        return np.sort(self.induced[self.used])[::-1]

    @property
    def exponent(self) -> float:
        """[-]"""
        return float(self.law.exponent)

    @property
    def exponent_source(self) -> ExponentSource:
        """Where the exponent comes from."""
        return self.law.exponent_source

    def flow_at(self, pressure: float) -> float:
        """Flow of reference air at a pressure. [m³/s]"""
        return float(flow_at(self.law, pressure).value)


def evaluate_series(
    series: ReadSeries,
    *,
    method: str,
    offset: float,
    signs: Signs,
    state: AirState | None,
    density_corrected: bool,
    book: Book,
) -> SeriesResult:
    """Fit one series.

    Raises
    ------
    LeakageError
        Too few usable points, or pressures too close together.
    """
    induced = np.array(signs.induced)
    used = np.array([one.excluded is None and one.in_range for one in series.points])
    indicated = np.array([indicated_of(one) for one in series.points])
    factors = _flow_factors(series, state, density_corrected)
    flow = indicated * factors
    law = _law(method, induced, flow, used, book)
    reference = (
        None if state is None else state.reference_factor(series.direction, float(law.exponent))
    )
    whole = None if reference is None else float(np.mean(factors[used])) * reference
    return SeriesResult(
        series=series,
        method=method,
        offset=offset,
        induced=induced,
        flow=flow,
        indicated=indicated,
        used=used,
        law=law if reference is None else at_reference(law, reference),
        measured_law=law,
        reference_factor=reference,
        density_factor=whole,
        factors=factors,
        turned=signs.turned,
    )


def indicated_of(point: ReadPoint) -> float:
    """Sum over the fans at one point as their certificates have it; NaN out of range. [m³/s]"""
    if point.flow is not None:
        return point.flow
    if not point.in_range:
        return float("nan")
    total = 0.0
    for fan in point.fans:
        assert fan.equation is not None
        total += float(
            indicated_flow(
                coefficient=fan.equation.coefficient,
                exponent=fan.equation.exponent,
                fan_pressure=fan.pressure,
                lowest_pressure=fan.equation.lowest_pressure,
                highest_pressure=fan.equation.highest_pressure,
            )
        )
    return total


def stations(induced: Numbers, flow: Numbers, used: NDArray[np.bool_]) -> list[NDArray[np.bool_]]:
    """Points of the primary and of the secondary station of a two-point test."""
    pressures = induced[used]
    if pressures.size == 0:
        return [used, used]
    middle = float(np.sqrt(pressures.max() * pressures.min()))
    return [used & (induced >= middle), used & (induced < middle)]


def flow_points(result: SeriesResult) -> list[dict[str, Any]]:
    """Points as they are drawn, flows of reference air, with residuals of ln(flow)."""
    factor = 1.0 if result.reference_factor is None else result.reference_factor
    usable = np.isfinite(result.flow) & (result.flow > 0) & (result.induced > 0)
    error = residuals(result.measured_law, pressure=result.induced, flow=result.flow, used=usable)
    return [
        {
            "pressure": float(result.induced[index]),
            "flow": plain(result.flow[index] * factor),
            "used": bool(result.used[index]),
            "excluded": point.excluded,
            "residual": plain(error[index]),
        }
        for index, point in enumerate(result.series.points)
    ]


def band(result: SeriesResult) -> list[dict[str, float | None]]:
    """The line with its 95 % interval over the range of the used points."""
    pressures = result.used_induced
    low, high = float(pressures[-1]), float(pressures[0])
    grid = np.array([low]) if low == high else np.geomspace(low, high, BAND_STEPS)
    line = flow_at(result.law, grid)
    return [
        {
            "pressure": float(grid[index]),
            "flow": plain(line.value[index]),
            "low": plain(line.low[index]),
            "high": plain(line.high[index]),
        }
        for index in range(grid.size)
    ]


def _law(
    method: str, induced: Numbers, flow: Numbers, used: NDArray[np.bool_], book: Book
) -> PowerLaw:
    if method == "one_point":
        law = fit_with_exponent(
            pressure=induced,
            flow=flow,
            exponent=book.setting("setting.assumed-exponent"),
            u_exponent=book.setting("setting.assumed-exponent-uncertainty"),
            used=used,
        )
        refuse_unfitted(law, pressure=induced, flow=flow, used=used)
        return law
    if method == "two_point":
        return _two_stations(induced, flow, used)
    return fit_one_run(pressure=induced, flow=flow, used=used)


def _two_stations(induced: Numbers, flow: Numbers, used: NDArray[np.bool_]) -> PowerLaw:
    groups = stations(induced, flow, used)
    if not all(group.any() for group in groups):
        return fit_one_run(pressure=induced, flow=flow, used=used)
    spread = [
        float(np.std(flow[group], ddof=1) / np.mean(flow[group]) / np.sqrt(group.sum()))
        if group.sum() > 1
        else float("nan")
        for group in groups
    ]
    return two_point_law(
        pressure=[float(np.mean(induced[group])) for group in groups],
        flow=[float(np.mean(flow[group])) for group in groups],
        u_flow=spread,
    )


def _flow_factors(series: ReadSeries, state: AirState | None, density_corrected: bool) -> Numbers:
    """What turns each indicated flow into the flow through the leaks."""
    if state is None:
        return np.ones(len(series.points))
    fan_density, balance = state.balance(series.direction)
    factors = []
    for point in series.points:
        meter = 1.0 if density_corrected else _meter_factor(point, fan_density)
        factors.append(meter * balance)
    return np.array(factors)


def _meter_factor(point: ReadPoint, fan_density: float) -> float:
    """Mean over the fans of a point, each by its share of the flow."""
    if not point.fans or not point.in_range:
        # A flow as the gauge shows it is that of reference air.
        return float(
            meter_density_factor(calibration_density=REFERENCE_DENSITY, fan_density=fan_density)
        )
    shares, factors = [], []
    for fan in point.fans:
        assert fan.equation is not None
        shares.append(fan.equation.coefficient * fan.pressure**fan.equation.exponent)
        factors.append(
            float(
                meter_density_factor(
                    calibration_density=fan.equation.air_density, fan_density=fan_density
                )
            )
        )
    return float(np.average(factors, weights=shares))


def plain(value: float) -> float | None:
    """A float, or None where there is no number."""
    return float(value) if np.isfinite(value) else None
