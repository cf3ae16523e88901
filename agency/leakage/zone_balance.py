"""From two states of a zone to the leakage of its boundaries, whatever the opening, with errors.

An entry that cannot be worked out holds NaN and an `Outcome` that says why.
"""

from collections.abc import Callable
from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray

from agency.leakage.line import NORMAL_QUANTILE, Mask
from agency.leakage.power_law import Interval
from agency.leakage.ranges import Array, within
from agency.leakage.zones import Boundary, ZoneReading, drops_of, exponents

Complex = NDArray[np.complex128]
Balance = tuple[Complex, ...]
"""Coefficients of the kept and the opened boundary, signal and change (see `ZoneLeakage`)."""
Kernel = Callable[[Complex, Complex, Complex, Array], Balance]
"""From the drops (envelope, kept, opened) before and after, two sizes, and the exponent."""

STEP = 1e-30
"""Imaginary step of the derivatives: exact to rounding, as nothing is subtracted. [-]  Squire and
Trapp, "Using Complex Variables to Estimate Derivatives of Real Functions", SIAM Review 40 (1998),
from memory."""


class Outcome(IntEnum):
    """Why a zone has no figures."""

    ESTIMATED = 0
    NOT_POSITIVE = 1
    """A pressure across a boundary that has to be there is 0 or less."""
    WRONG_WAY = 2
    """The zone did not move towards the side that was opened."""
    FLOW_NOT_RISEN = 3
    """The fan did not need more flow with the boundary open."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """A positive figure and the relative standard uncertainty of its reading error."""

    value: Array
    u_relative: Array
    """[-]"""

    @property
    def interval(self) -> Interval:
        """95 % interval, lopsided as the figure is positive."""
        half = NORMAL_QUANTILE * self.u_relative
        return Interval(
            value=self.value, low=self.value * np.exp(-half), high=self.value * np.exp(half)
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class ZoneLeakage:
    """Leakage of a zone, shape (...). Only `through_zone` may be shown as achievable."""

    outcome: NDArray[np.int8]
    """`Outcome` of each, as a number."""
    exponent: Array
    house_zone: Figure
    """Flow of the boundary with the whole reference pressure across it. [m³/s]"""
    zone_outside: Figure
    """The same of the other boundary. [m³/s]"""
    through_zone: Figure
    """Series flow at the reference pressure: what sealing either boundary can take away. [m³/s]"""
    direct: Figure
    """Flow that bypasses the zone; NaN where no fan flow was measured. [m³/s]"""
    coefficients: tuple[Array, Array]
    """House to zone, zone to outside. [m³/(s Pa^n)]"""
    covariance: Array
    """Of ln house_zone, ln zone_outside and ln through_zone, shape (..., 3, 3). [-]"""
    signal: Array
    """What the opening changed: fan flow, or the flow of the hole. [m³/s]"""
    u_signal: Array
    change: Array
    """Change of drop to the power n that the signal is divided by. [Pa^n]"""
    u_change: Array
    ratio: Array
    """Coefficient house to zone over zone to outside. [-]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Repeats:
    """How errors of the same channel in the two states go together, from -1 to 1. [-]"""

    pressure: float = 0.0
    size: float = 0.0
    """Of the two fan flows, or of area and discharge coefficient."""


def exponent_band(figure: Figure) -> tuple[Array, Array]:
    """Lowest and highest of a figure over the exponents of its last axis, shape (...).

    To stand beside the reading error: an exponent that is not known is not averaged away.

    Parameters
    ----------
    figure : Figure
        Worked out for several exponents along the last axis, ends and middle of the band.

    Returns
    -------
    tuple of ndarray
        NaN where one of the exponents gives no figure.
    """
    return np.asarray(figure.value.min(axis=-1)), np.asarray(figure.value.max(axis=-1))


def estimate_zone(
    kernel: Kernel,
    *,
    opened: Boundary,
    states: tuple[ZoneReading, ZoneReading],
    sizes: tuple[Array, Array],
    u_sizes: tuple[ArrayLike, ArrayLike],
    exponent: ArrayLike,
    reference: float,
    repeats: Repeats | None,
    total: Array | None,
) -> ZoneLeakage:
    """Figures and errors of both boundaries; the methods that call this say what it is given.

    Parameters
    ----------
    kernel : callable
        The balance of the method, for complex numbers: a step along the imaginary axis gives its
        derivatives.
    opened : Boundary
        Boundary that is opened, or gets the hole.
    states, sizes, u_sizes
        Before and after; fan flows, or area and discharge coefficient, with relative errors.
    exponent, reference, repeats
        As of `zone_methods.open_door`.
    total : ndarray or None
        Fan flow before; None where none is used. [m³/s]
    """
    n = exponents(exponent)
    readings, roots = _inputs(states, sizes, u_sizes, repeats or Repeats(), n.shape)
    n = np.broadcast_to(n, readings.shape[1:])
    kept = opened.other
    at = readings[:, None] + 1j * STEP * roots
    one, two = (_sides(at[2 * i : 2 * i + 2], s.across, kept) for i, s in enumerate(states))
    # A hole's own drop has to be there; an open door's is not used and may well be 0.
    needed = [one[1], one[2], two[1], *([two[2]] if total is None else [])]
    good = np.all([side.real[0] > 0 for side in needed], axis=0)
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        c_kept, c_opened, signal, change = kernel(one, two, at[4:6], n)
        scale = (reference / one[0]) ** n
        through = c_kept * one[1] ** n * scale
        direct = np.nan * through if total is None else at[4] * scale - through
    pair = (c_kept, c_opened) if kept is Boundary.HOUSE_ZONE else (c_opened, c_kept)
    return _result((*pair, through, direct, signal, change), good, n, reference)


def _inputs(
    states: tuple[ZoneReading, ZoneReading],
    sizes: tuple[Array, Array],
    u_sizes: tuple[ArrayLike, ArrayLike],
    repeats: Repeats,
    shape: tuple[int, ...],
) -> tuple[Array, Array]:
    """Readings (6, ...) and the effect on each of six independent unit errors, (6, 6, ...)."""
    drops = [drops_of(state) for state in states]
    values, u = [], []
    for state, drop in zip(states, drops, strict=True):
        values += [drop.envelope, drop.across(state.across)]
        u += [_not_negative(state.u_envelope), _not_negative(state.u_zone)]
    values += [*sizes]
    u += [_not_negative(share) * size for share, size in zip(u_sizes, sizes, strict=True)]
    channel = [_correlation(state.correlation) for state in states]
    shape = np.broadcast_shapes(shape, *(np.shape(a) for a in (*values, *u, *channel)))
    roots = np.zeros((6, 6, *shape))
    # Products of square roots: whatever the correlations, no variance comes out negative.
    roots[:2, :2], roots[2:4, 2:4] = _pair(channel[0], shape), _pair(channel[1], shape)
    roots[2:4, :2] = _correlation(repeats.pressure) * roots[2:4, 2:4]
    roots[2:4, 2:4] *= np.sqrt(1 - repeats.pressure**2)
    roots[4:, 4:] = _pair(_correlation(repeats.size), shape)
    spread = np.stack([np.broadcast_to(one, shape) for one in u])
    return np.stack([np.broadcast_to(one, shape) for one in values]), roots * spread[:, None]


def _pair(correlation: Array, shape: tuple[int, ...]) -> Array:
    """Square root of the correlation matrix of two readings, (2, 2, ...)."""
    r = np.broadcast_to(correlation, shape)
    return np.stack([np.stack([np.ones(shape), np.zeros(shape)]), np.stack([r, np.sqrt(1 - r**2)])])


def _correlation(value: ArrayLike) -> Array:
    return within("Correlation", value, low=-1, high=1, unit="")


def _sides(pair: Complex, across: Boundary, kept: Boundary) -> Complex:
    """Drops over envelope, kept and opened boundary, (3, ...), of envelope and zone reading."""
    envelope, zone = pair
    left = envelope - zone
    return np.stack([envelope, zone, left] if across is kept else [envelope, left, zone])


def _result(found: Balance, good: Mask, n: Array, reference: float) -> ZoneLeakage:
    c_near, c_far, through, direct, signal, change = found
    right, risen = change.real[0] > 0, signal.real[0] > 0
    outcome = np.select(
        [~good, ~right, ~risen],
        [np.int8(o) for o in (Outcome.NOT_POSITIVE, Outcome.WRONG_WAY, Outcome.FLOW_NOT_RISEN)],
        np.int8(Outcome.ESTIMATED),
    )
    known = np.where(outcome == Outcome.ESTIMATED, 0.0, np.nan)
    with np.errstate(invalid="ignore", divide="ignore"):
        logs = np.stack([part.imag / STEP / part.real for part in (c_near, c_far, through)])
        covariance = np.einsum("ak...,bk...->...ab", logs, logs) + known[..., None, None]
        power = reference**n
        near, far, series = (
            Figure(value=value + known, u_relative=np.sqrt(covariance[..., i, i]))
            for i, value in enumerate((c_near.real[0] * power, c_far.real[0] * power,
                                       through.real[0]))
        )  # fmt: skip
        u_direct = _deviation(direct) / np.abs(direct.real[0])
        ratio = c_near.real[0] / c_far.real[0] + known
    return ZoneLeakage(
        outcome=outcome,
        exponent=n,
        house_zone=near,
        zone_outside=far,
        through_zone=series,
        direct=Figure(value=direct.real[0] + known, u_relative=u_direct + known),
        coefficients=(c_near.real[0] + known, c_far.real[0] + known),
        covariance=covariance,
        signal=signal.real[0],
        u_signal=_deviation(signal),
        change=change.real[0],
        u_change=_deviation(change),
        ratio=ratio,
    )


def _deviation(part: Complex) -> Array:
    return np.asarray(np.sqrt(np.einsum("k...,k...->...", part.imag, part.imag)) / STEP)


def _not_negative(u: ArrayLike) -> Array:
    return within("Standard uncertainty", u, low=0, high=np.inf, unit="")
