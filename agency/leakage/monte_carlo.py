"""Monte Carlo of a whole fit: every reading redrawn within its error, the run fitted again."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.random import Generator
from numpy.typing import ArrayLike

from agency.leakage.errors import TooFewPoints
from agency.leakage.line import CONFIDENCE, Reason, as_runs
from agency.leakage.power_law import Interval, PowerLaw, fit_power_law, refuse_unfitted
from agency.leakage.ranges import Array
from agency.leakage.reading_errors import CommonError, Shape

FEWEST_TRIALS = 1000
"""Below it an end of the interval rests on fewer than 25 trials. [-]  Derived."""
TRIALS_AT_ONCE = 10_000
"""Trials fitted together; sets memory and, with the seed, the draws. [-]"""

Estimator = Callable[..., PowerLaw]
"""Fits pressure, flow and used, each (trials, N) or (N,), given by keyword."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Air:
    """What the air does to a fit, an entry a trial, or () for the air as recorded."""

    flow_factor: Array
    """Flow through the leaks over the flow given. [-]"""
    density_ratio: Array
    """Density of the air in the leaks over that at reference conditions. [-]"""
    viscosity_ratio: Array
    """The same of viscosity; 1 for a standard that leaves it out. [-]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class AirModel:
    """The air as recorded, and how to draw it within the error of its readings."""

    recorded: Air
    draw: Callable[[Generator, int], Air]
    """Takes the generator and the number of trials."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Readings:
    """One run and the random errors of its points; shape (N,)."""

    pressure: ArrayLike
    """Induced pressure. [Pa]"""
    flow: ArrayLike
    """[m³/s]"""
    u_pressure: ArrayLike
    """Random standard uncertainty of each pressure. [Pa]"""
    u_flow: ArrayLike
    """Relative random standard uncertainty of each flow. [-]"""
    used: ArrayLike | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class MonteCarlo:
    """Figures of a run with the middle 95 % of the trials."""

    flow: Interval
    """At the pressures asked for, shape (P,). [m³/s]"""
    u_flow: Array
    """Standard deviation of ln Q over the trials, shape (P,). [-]"""
    exponent: Interval
    """[-]"""
    coefficient: Interval
    """[m³/(s Pa^n)]"""
    trials: int
    dropped: int
    """Trials left out, as a used reading came out at 0 or less."""
    seed: int


def simulate(
    readings: Readings,
    *,
    errors: Sequence[CommonError],
    at: ArrayLike,
    trials: int,
    seed: int,
    air: AirModel | None = None,
    estimator: Estimator = fit_power_law,
) -> MonteCarlo:
    r"""Propagate the distributions of all errors through the fit.

    Parameters
    ----------
    readings : Readings
        One run of N points; independent errors are normal.
    errors : sequence of CommonError
        Drawn once a trial, alike for all points.
    at : array_like
        Pressures, shape (P,). [Pa]
    trials : int
        Number of trials; JCGM 101 advises 1e6 for a 95 % interval to two digits, 1e5 serves here.
    seed : int
        Seed of the generator; the same seed and trials give the same figures.
    air : AirModel, optional
        Density corrections, drawn once a trial. Left out, the flow given is that through the
        leaks, and figures are at its conditions.
    estimator : callable, optional
        The fit; left out, ordinary least squares.

    Returns
    -------
    MonteCarlo
        Values are those of the readings as given, ends the percentiles of the trials.

    Raises
    ------
    LeakageError
        The run itself cannot be fitted, or there are too few trials.

    References
    ----------
    .. [1] JCGM 101:2008, 7 (from memory).
    """
    if trials < FEWEST_TRIALS:
        raise TooFewPoints(
            quantity="Number of trials",
            value=trials,
            limit=f"at least {FEWEST_TRIALS}",
            next_step="Ask for 100000.",
        )
    central = _central(readings, None if air is None else air.recorded, estimator)
    rng = np.random.default_rng(seed)
    blocks = [TRIALS_AT_ONCE] * (trials // TRIALS_AT_ONCE) + [trials % TRIALS_AT_ONCE]
    drawn = [
        _trials(rng, count, readings, errors=errors, air=air, estimator=estimator)
        for count in blocks
        if count
    ]
    intercepts, exponents = np.concatenate(drawn, axis=-1)
    kept = intercepts.size
    if kept < FEWEST_TRIALS:
        raise TooFewPoints(
            quantity="Number of trials that could be fitted",
            value=kept,
            limit=f"at least {FEWEST_TRIALS}",
            next_step="Exclude the points at the lowest pressures, or measure them again.",
        )
    x = np.log(np.asarray(at, np.float64))
    heights = intercepts[:, None] + exponents[:, None] * x
    return MonteCarlo(
        flow=_exponential(_middle(central[0] + central[1] * x, heights)),
        u_flow=np.std(heights, axis=0, ddof=1),
        exponent=_middle(central[1], exponents),
        coefficient=_exponential(_middle(central[0], intercepts)),
        trials=trials,
        dropped=trials - kept,
        seed=seed,
    )


def _central(readings: Readings, air: Air | None, estimator: Estimator) -> Array:
    (pressure, flow), mask = as_runs(readings.pressure, readings.flow, used=readings.used)
    through_leaks = flow if air is None else flow * air.flow_factor
    law = estimator(pressure=pressure, flow=through_leaks, used=mask)
    refuse_unfitted(law, pressure=pressure, flow=through_leaks, used=mask)
    return _at_reference(law, air)


def _trials(
    rng: Generator,
    count: int,
    readings: Readings,
    *,
    errors: Sequence[CommonError],
    air: AirModel | None,
    estimator: Estimator,
) -> Array:
    """ln C and n of the trials that could be fitted, shape (2, kept)."""
    (pressure, flow, u_pressure, u_flow), mask = as_runs(
        readings.pressure, readings.flow, readings.u_pressure, readings.u_flow, used=readings.used
    )
    shape = (count, pressure.size)
    gain, flow_factor = np.ones(shape), 1 + u_flow * rng.standard_normal(shape)
    offset = u_pressure * rng.standard_normal(shape)
    for error in errors:
        z = _standard(rng, count, error.shape)[:, None]
        gain = gain + error.pressure_gain * z
        offset = offset + error.pressure_offset * z
        flow_factor = flow_factor + error.flow_gain * z
    drawn = None if air is None else air.draw(rng, count)
    factor = 1.0 if drawn is None else drawn.flow_factor[:, None]
    law = estimator(
        pressure=pressure * gain + offset,
        flow=flow * flow_factor * factor,
        used=np.broadcast_to(mask, shape),
    )
    return _at_reference(law, drawn)[:, law.line.reason == Reason.FITTED]


def _at_reference(law: PowerLaw, air: Air | None) -> Array:
    """ln C and n, the former as of air at reference conditions, shape (2, ...)."""
    n = law.exponent
    if air is None:
        return np.stack([law.line.intercept, n])
    correction = (2 * n - 1) * np.log(air.viscosity_ratio) + (1 - n) * np.log(air.density_ratio)
    return np.stack([law.line.intercept + correction, n])


def _standard(rng: Generator, count: int, shape: Shape) -> Array:
    """Draws of mean 0 and standard deviation 1."""
    if shape is Shape.RECTANGULAR:
        return rng.uniform(-np.sqrt(3), np.sqrt(3), count)
    return rng.standard_normal(count)


def _middle(value: Array, trials: Array) -> Interval:
    tail = (1 - CONFIDENCE) / 2
    low, high = np.quantile(trials, [tail, 1 - tail], axis=0)
    return Interval(value=value, low=low, high=high)


def _exponential(interval: Interval) -> Interval:
    return Interval(
        value=np.exp(interval.value), low=np.exp(interval.low), high=np.exp(interval.high)
    )
