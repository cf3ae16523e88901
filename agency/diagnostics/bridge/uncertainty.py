"""What the errors of gauge, fan, baseline and air make of one series."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray

from agency.leakage.air import (
    REFERENCE_DENSITY,
    REFERENCE_DENSITY_ISO,
    REFERENCE_TEMPERATURE,
    dynamic_viscosity,
)
from agency.leakage.envelope import at_reference
from agency.leakage.fan_flow import Direction
from agency.leakage.monte_carlo import Air, AirModel, MonteCarlo, simulate
from agency.leakage.monte_carlo import Readings as Drawn
from agency.leakage.power_law import ExponentSource, PowerLaw, log_flow_uncertainty
from agency.leakage.reading_errors import (
    CommonError,
    Shape,
    baseline_offset,
    effective_samples,
    flow_gain,
    from_fan_pressure,
    from_range,
    from_resolution,
    gauge_accuracy,
    of_average,
    rectangular,
)
from agency.leakage.uncertainty import (
    FlowUncertainty,
    air_parts,
    combine,
    random_part,
    systematic_parts,
)
from agency.leakage.units import kelvin_from_celsius
from agency.leakage.weighted import fit_york

from ..evaluation import Context, InstrumentFacts
from ..forms.envelope import EnvelopeDocument
from .air import AirState
from .book import Book
from .envelope import SeriesResult
from .readings import Readings

Numbers = NDArray[np.float64]
SEED = 20_260_101
"""Seed of every Monte Carlo run, so that a figure can be made again."""
CALIBRATION = "calibration"
PRESSURES = np.array([4.0, 50.0])
"""Where uncertainties are stated. [Pa]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Accuracy:
    """Half-widths of the instruments' errors: the register's, else the rule book's."""

    gauge_share: float
    gauge_pascal: float
    resolution: float
    fan_share: Mapping[str, float]
    """By serial number; empty serial for a flow read from the gauge. [-]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class SeriesUncertainty:
    """Standard uncertainties of one series at 4 and 50 Pa, and the estimates beside it."""

    flow: FlowUncertainty
    gauge: Numbers
    """Share of the pressure gauge. [-]"""
    fan: Numbers
    """Share of the fans' calibrations. [-]"""
    other: Numbers
    """Baseline, air and an assumed exponent. [-]"""
    york: PowerLaw | None
    """For air of the reference state."""
    monte_carlo: MonteCarlo | None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Errors:
    u_pressure: Numbers
    u_flow: Numbers
    common: list[CommonError]


def accuracy_of(document: EnvelopeDocument, context: Context, book: Book) -> Accuracy:
    """What the register says of the instruments, and the rule book where it is silent."""
    gauge = context.instruments.get(document.gauge.serial)
    named = gauge or InstrumentFacts(serial=document.gauge.serial)
    default = book.setting("uncertainty.flow-device") / 100
    shares = {"": default}
    for fan in document.fans:
        facts = context.instruments.get(fan.serial)
        percent = None if facts is None else facts.accuracy_percent
        shares[fan.serial] = default if percent is None else percent / 100
    share = named.accuracy_percent
    pascal, step = named.accuracy_pa, named.resolution_pa
    return Accuracy(
        gauge_share=(book.setting("uncertainty.gauge-percent") if share is None else share) / 100,
        gauge_pascal=book.setting("uncertainty.gauge-pressure") if pascal is None else pascal,
        resolution=book.setting("uncertainty.gauge-resolution") if step is None else step,
        fan_share=shares,
    )


def series_uncertainty(
    result: SeriesResult,
    *,
    accuracy: Accuracy,
    baseline_subtracted: bool,
    readings: Readings,
    state: AirState | None,
    book: Book,
) -> SeriesUncertainty:
    """GUM uncertainty, York's line and a Monte Carlo of one series."""
    errors = _errors(result, accuracy, baseline_subtracted, book)
    flow, parts = _gum(result, errors, readings, state, book)
    groups = _groups(parts)
    if result.exponent_source is not ExponentSource.FITTED or int(result.used.sum()) < 3:
        return SeriesUncertainty(flow=flow, **groups, york=None, monte_carlo=None)
    york = fit_york(
        pressure=result.induced,
        flow=result.flow,
        u_pressure=errors.u_pressure / result.induced,
        u_flow=errors.u_flow,
        used=result.used,
    )
    if state is not None:
        factor = state.reference_factor(result.series.direction, float(york.exponent))
        york = at_reference(york, factor)
    drawn = simulate(
        Drawn(
            pressure=result.induced,
            flow=result.flow,
            u_pressure=errors.u_pressure,
            u_flow=errors.u_flow,
            used=result.used,
        ),
        errors=errors.common,
        at=PRESSURES,
        trials=int(book.setting("setting.monte-carlo-trials")),
        seed=SEED,
        air=_air_model(state, readings, result.series.direction, book),
    )
    return SeriesUncertainty(flow=flow, **groups, york=york, monte_carlo=drawn)


def _groups(parts: Mapping[str, Numbers]) -> dict[str, Numbers]:
    """Causes of error by what two tests may have in common."""
    fan = [part for name, part in parts.items() if name.startswith(CALIBRATION)]
    other = [
        part for name, part in parts.items() if name != "gauge" and not name.startswith(CALIBRATION)
    ]
    return {"gauge": _root([parts["gauge"]]), "fan": _root(fan), "other": _root(other)}


def _errors(
    result: SeriesResult, accuracy: Accuracy, baseline_subtracted: bool, book: Book
) -> _Errors:
    pressure = np.where(result.used, result.induced, 1.0)
    step = from_resolution(accuracy.resolution)
    flutter = _flutter(result, book)
    fan = np.array([_fan_resolution(one, float(step)) for one in result.series.points])
    return _Errors(
        u_pressure=np.hypot(np.full(pressure.shape, float(step)), flutter),
        u_flow=np.hypot(book.setting("uncertainty.flow-random"), fan),
        common=[
            baseline_offset(
                "gauge",
                gauge_accuracy(
                    reading=pressure,
                    relative=accuracy.gauge_share,
                    absolute=accuracy.gauge_pascal,
                ),
                shape=Shape.RECTANGULAR,
            ),
            baseline_offset(
                "baseline",
                _baseline_error(result, baseline_subtracted, book),
                shape=Shape.RECTANGULAR,
            ),
            *_calibrations(result, accuracy),
        ],
    )


def _flutter(result: SeriesResult, book: Book) -> Numbers:
    """Wind flutter left in the average of each point, judged from the baseline's. [Pa]"""
    known = [one.deviation for one in result.series.baselines if one.deviation is not None]
    deviation = max(known, default=0.0)
    lasting = book.setting("uncertainty.correlation-time")
    effective = [
        1.0
        if one.seconds is None
        else effective_samples(
            samples=max(1, int(one.seconds)), duration=one.seconds, correlation_time=lasting
        )
        for one in result.series.points
    ]
    return np.asarray(of_average(deviation=deviation, effective=effective))


def _fan_resolution(point: Any, step: float) -> float:
    """Relative error of a flow from the rounding of its fan pressures."""
    if not point.fans or not point.in_range:
        return 0.0
    parts, total = 0.0, 0.0
    for fan in point.fans:
        flow = fan.equation.coefficient * fan.pressure**fan.equation.exponent
        share = from_fan_pressure(
            exponent=fan.equation.exponent, u_pressure=step, pressure=fan.pressure
        )
        parts += float(flow * share) ** 2
        total += flow
    return float(np.sqrt(parts) / total)


def _baseline_error(result: SeriesResult, subtracted: bool, book: Book) -> float:
    """Standard uncertainty of the baseline, alike for all points. [Pa]"""
    baselines = result.series.baselines
    if subtracted:
        return float(rectangular(book.setting("uncertainty.baseline-subtracted")))
    if not baselines:
        return float(rectangular(book.setting("uncertainty.baseline-missing")))
    means = [one.mean for one in baselines]
    drift = float(from_range(lowest=min(means), highest=max(means)))
    noise = [
        float(of_average(deviation=one.deviation, effective=_effective(one.readings, time, book)))
        for one, time in zip(baselines, result.series.seconds, strict=True)
        if one.deviation is not None and one.readings is not None
    ]
    # The mean of both baselines is used, each with its own noise.
    return float(np.hypot(drift, np.linalg.norm(noise) / len(baselines)))


def _effective(readings: int, seconds: float | None, book: Book) -> float:
    """Independent readings in a baseline; one where its duration is not known."""
    if seconds is None:
        return 1.0
    lasting = book.setting("uncertainty.correlation-time")
    return effective_samples(samples=readings, duration=seconds, correlation_time=lasting)


def _calibrations(result: SeriesResult, accuracy: Accuracy) -> list[CommonError]:
    """One error for each fan and configuration, weighed by its share of each point's flow."""
    shares: dict[tuple[str, str], Numbers] = {}
    points = result.series.points
    for index, point in enumerate(points):
        if not point.in_range:
            continue
        flows = {
            (fan.serial, fan.configuration): fan.equation.coefficient
            * fan.pressure**fan.equation.exponent
            for fan in point.fans
            if fan.equation is not None
        } or {("", ""): 1.0}
        total = sum(flows.values())
        for key, flow in flows.items():
            shares.setdefault(key, np.zeros(len(points)))[index] = flow / total
    return [
        flow_gain(
            f"{CALIBRATION} {serial} {configuration}".strip(),
            share * float(rectangular(accuracy.fan_share.get(serial, accuracy.fan_share[""]))),
            shape=Shape.RECTANGULAR,
        )
        for (serial, configuration), share in sorted(shares.items())
    ]


def _gum(
    result: SeriesResult, errors: _Errors, readings: Readings, state: AirState | None, book: Book
) -> tuple[FlowUncertainty, dict[str, Numbers]]:
    weights = np.ones(result.induced.shape)
    shared: dict[str, Any] = {
        "law": result.law,
        "pressure": result.induced,
        "at": PRESSURES,
        "used": result.used,
        "weights": weights,
    }
    stated = random_part(
        u_pressure=errors.u_pressure / np.where(result.used, result.induced, 1.0),
        u_flow=errors.u_flow,
        **shared,
    )
    fitted = result.exponent_source is ExponentSource.FITTED
    seen = log_flow_uncertainty(result.law, PRESSURES) if fitted else np.full(2, np.nan)
    parts = systematic_parts(errors=errors.common, **shared)
    parts |= _air(result, readings, state, book)
    # The scatter of the points counts where it is larger than what the instruments explain.
    return combine(random=np.fmax(stated, seen), parts=parts), parts


def _root(parts: list[Numbers]) -> Numbers:
    """Root of the sum of squares at each pressure; 0 where there is no part."""
    square = np.zeros(PRESSURES.shape)
    for part in parts:
        square = square + np.asarray(part, np.float64) ** 2
    return np.sqrt(square)


def _air(
    result: SeriesResult, readings: Readings, state: AirState | None, book: Book
) -> dict[str, Numbers]:
    if state is None:
        return {}
    down = result.series.direction is Direction.DEPRESSURIZATION
    inside = kelvin_from_celsius(state.indoor_temperature)
    outside = kelvin_from_celsius(state.outdoor_temperature)
    return air_parts(
        exponent=result.exponent,
        fan_temperature=inside if down else outside,
        envelope_temperature=outside if down else inside,
        u_temperature=float(rectangular(book.setting("uncertainty.thermometer"))),
        relative_u_pressure=_relative_pressure(readings, book),
    )


def _relative_pressure(readings: Readings, book: Book) -> float:
    measured = readings.air.station_pressure
    code = "uncertainty.station-pressure" if measured else "uncertainty.pressure-by-elevation"
    return float(rectangular(book.setting(code))) / (measured or 100_000.0)


def _air_model(
    state: AirState | None, readings: Readings, direction: Direction, book: Book
) -> AirModel | None:
    """The air of the test, drawn within the errors of thermometer and barometer."""
    if state is None:
        return None
    down = direction is Direction.DEPRESSURIZATION
    inside = state.indoor, kelvin_from_celsius(state.indoor_temperature)
    outside = state.outdoor, kelvin_from_celsius(state.outdoor_temperature)
    fan, leaks = (inside, outside) if down else (outside, inside)
    half_width = book.setting("uncertainty.thermometer")
    relative = _relative_pressure(readings, book)
    base = REFERENCE_DENSITY_ISO if state.is_moist else REFERENCE_DENSITY

    def air(fan_shift: Numbers, leak_shift: Numbers, pressure: Numbers) -> Air:
        fan_ratio = pressure * fan[1] / (fan[1] + fan_shift)
        leak_ratio = pressure * leaks[1] / (leaks[1] + leak_shift)
        celsius = leaks[1] + leak_shift - kelvin_from_celsius(0.0)
        thickness = dynamic_viscosity(celsius) / dynamic_viscosity(REFERENCE_TEMPERATURE)
        return Air(
            flow_factor=np.sqrt(fan_ratio) / leak_ratio,
            density_ratio=leaks[0] * leak_ratio / base,
            viscosity_ratio=np.ones_like(thickness) if state.is_moist else thickness,
        )

    def draw(rng: Generator, count: int) -> Air:
        shifts = rng.uniform(-half_width, half_width, (2, count))
        return air(shifts[0], shifts[1], 1 + relative * rng.standard_normal(count))

    nothing = np.zeros(())
    return AirModel(recorded=air(nothing, nothing, np.ones(())), draw=draw)
