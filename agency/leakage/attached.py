"""Attached dwellings: what leaks to outside and what to the neighbour, by a guarded test.

A second fan brings the neighbour to the pressure of the dwelling, so that nothing passes the wall
between them. The neighbour is a zone; the same houses can be put together as a network.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from agency.leakage.network import OUTSIDE, NetworkState, Path, solve_network
from agency.leakage.ranges import Array, above, within
from agency.leakage.zone_balance import Figure, Outcome
from agency.leakage.zones import exponents

UNIT_ERRORS = 6
"""Pressure, wall pressure and flow of two states."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WallReading:
    """One state of a guarded test, shape (...), with standard uncertainties."""

    envelope: ArrayLike
    """Dwelling against outside, more than 0. [Pa]"""
    wall: ArrayLike
    """Dwelling against neighbour, positive the same way; near 0 with the guard on. [Pa]"""
    flow: ArrayLike
    """Fan flow of the dwelling, more than 0. [m³/s]"""
    u_envelope: ArrayLike
    """[Pa]"""
    u_wall: ArrayLike
    """[Pa]"""
    u_flow: ArrayLike
    """Relative repeatability, not accuracy: a common error of both flows cancels. [-]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class GuardedLeakage:
    """Leakage of a dwelling beside another, shape (...)."""

    outcome: NDArray[np.int8]
    """`Outcome` of each, as a number."""
    to_outside: Figure
    """Flow at the reference pressure that does not pass the wall. [m³/s]"""
    wall: Figure
    """Flow of the wall with the whole reference pressure across it. [m³/s]"""
    through_neighbour: Figure
    """Flow past the wall at the reference pressure with no guard: all that sealing the wall takes
    from an unguarded test. [m³/s]"""
    signal: Array
    """Fan flow unguarded less guarded, at the envelope pressure of the unguarded state. [m³/s]"""
    u_signal: Array


def guarded_test(
    *, unguarded: WallReading, guarded: WallReading, exponent: ArrayLike, reference: float
) -> GuardedLeakage:
    r"""Leaks to outside and through the wall, from the fan flow without and with a guard.

    .. math::
        Q_i = C_O P_i^n + C_W \operatorname{sgn}(h_i) |h_i|^n,\quad i = 1, 2

    Parameters
    ----------
    unguarded, guarded : WallReading
        Pressures need not be equal, and the guard not exact: what is left across the wall counts.
    exponent : array_like
        Exponent :math:`n` of all leaks, 0.5 to 1. [-]
    reference : float
        Pressure the figures are given at. [Pa]

    Returns
    -------
    GuardedLeakage
        NaN, and the reason, where the flows do not differ as they should.

    Notes
    -----
    Errors are taken over one standard uncertainty to either side, as the slope of the power law
    at the guard's 0 Pa has no end. A test needs the neighbour's consent.

    References
    ----------
    .. [1] Mass balance of the dwelling in both states (derived).
    """
    n = exponents(exponent)
    values, spread = _inputs(unguarded, guarded, n.shape)
    shifts = np.zeros((UNIT_ERRORS, UNIT_ERRORS, *values.shape[1:]))
    for row in range(UNIT_ERRORS):
        shifts[row, row] = spread[row]
    middle = _balance(values, n, reference)
    above_it = _balance(values[:, None] + shifts, n, reference)
    below_it = _balance(values[:, None] - shifts, n, reference)
    # A wall without a change of pressure has no coefficient, and no error of it.
    with np.errstate(invalid="ignore", over="ignore"):
        u = np.sqrt(np.sum(((above_it - below_it) / 2) ** 2, axis=1))
    outcome = np.where(middle[4] <= 0, np.int8(Outcome.WRONG_WAY),
                       np.where(middle[3] > 0, np.int8(Outcome.ESTIMATED),
                                np.int8(Outcome.FLOW_NOT_RISEN)))  # fmt: skip
    known = np.where(outcome == Outcome.ESTIMATED, 0.0, np.nan)
    with np.errstate(invalid="ignore", divide="ignore"):
        relative = u[:3] / np.abs(middle[:3]) + known
    figures = [Figure(value=middle[i] + known, u_relative=relative[i]) for i in range(3)]
    return GuardedLeakage(
        outcome=outcome,
        to_outside=figures[0],
        wall=figures[1],
        through_neighbour=figures[2],
        signal=middle[3],
        u_signal=u[3],
    )


def _inputs(
    unguarded: WallReading, guarded: WallReading, shape: tuple[int, ...]
) -> tuple[Array, Array]:
    values, u = [], []
    for state in (unguarded, guarded):
        envelope = above("Pressure across the envelope", state.envelope, low=0, unit="Pa")
        wall = within("Pressure across the wall", state.wall, low=-np.max(envelope),
                      high=np.max(envelope), unit="Pa")  # fmt: skip
        flow = above("Fan flow", state.flow, low=0, unit="m³/s")
        values += [envelope, wall, flow]
        u += [_error(state.u_envelope), _error(state.u_wall), _error(state.u_flow) * flow]
    shape = np.broadcast_shapes(shape, *(one.shape for one in (*values, *u)))
    return (
        np.stack([np.broadcast_to(one, shape) for one in values]),
        np.stack([np.broadcast_to(one, shape) for one in u]),
    )


def _error(u: ArrayLike) -> Array:
    return within("Standard uncertainty", u, low=0, high=np.inf, unit="")


def _balance(readings: Array, n: Array, reference: float) -> Array:
    """To outside, wall, through neighbour, signal, and the change of wall power, (5, ...)."""
    p_1, h_1, q_1, p_2, h_2, q_2 = readings
    scale = (p_1 / p_2) ** n
    wall_1, wall_2 = (np.sign(h) * np.abs(h) ** n for h in (h_1, h_2))
    signal, change = q_1 - scale * q_2, wall_1 - scale * wall_2
    with np.errstate(invalid="ignore", divide="ignore"):
        wall = signal / change
        to_reference = (reference / p_1) ** n
        through = wall * wall_1
        own = (q_1 - through) * to_reference
    return np.stack([own, wall * reference**n, through * to_reference, signal, change])


def dwelling_paths(
    *,
    envelopes: Mapping[str, float],
    walls: Mapping[tuple[str, str], float],
    exponent: float,
) -> tuple[Path, ...]:
    """A row or block of dwellings as a network.

    Parameters
    ----------
    envelopes : mapping of str to float
        Coefficient of each dwelling's leaks to outside. [m³/(s Pa^n)]
    walls : mapping of (str, str) to float
        Coefficient of the leaks between two dwellings. [m³/(s Pa^n)]
    exponent : float
        Of all of them. [-]

    Returns
    -------
    tuple of Path
        Named "a to outside" and "a to b".
    """
    pairs = {(home, OUTSIDE): size for home, size in envelopes.items()} | dict(walls)
    return tuple(
        Path(name=f"{a} to {b}", start=a, end=b, coefficient=size, exponent=exponent)
        for (a, b), size in pairs.items()
    )


def guarded_state(
    *, paths: Iterable[Path], dwelling: str, guards: Iterable[str], pressure: float
) -> NetworkState:
    """The block with one dwelling, and its guards with it, held at one pressure.

    Parameters
    ----------
    paths : iterable of Path
        The block.
    dwelling : str
        The one that is tested.
    guards : iterable of str
        Neighbours held at its pressure; none for the unguarded test.
    pressure : float
        Against outside, below 0 for depressurization. [Pa]

    Returns
    -------
    NetworkState
        `fans[dwelling]` is the reading of the test.
    """
    held = dict.fromkeys([dwelling, *guards], pressure)
    return solve_network(paths=tuple(paths), held=held, fans={})
