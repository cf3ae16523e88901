"""What a network of given leaks would read in each state of the house, against what was read.

Every state leaves the leaks as they are and changes something known: a door opened, a hole, a fan.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from agency.leakage.errors import LeakageError, TooFewPoints
from agency.leakage.network import (
    Layout,
    Path,
    flows_of,
    free_pressures,
    lay_out,
    stiffness_solve,
)
from agency.leakage.ranges import Array, above


@dataclass(frozen=True, slots=True, kw_only=True)
class HouseState:
    """One state of the house, and what was (or is to be) read in it."""

    name: str
    """In words: "garage door open"."""
    held: Mapping[str, float]
    """As of `network.solve_network`. [Pa]"""
    fans: Mapping[str, float]
    """As of `network.solve_network`. [m³/s]"""
    added: tuple[Path, ...]
    """Openings of known size, and leaks taken as known."""
    pressures: Mapping[str, float]
    """Reading of each node that was read, against outside. [Pa]"""
    u_pressure: float
    """[Pa]"""
    flows: Mapping[str, float]
    """Fan flow into each held node that was read, below 0 for exhaust. [m³/s]"""
    u_flow: float
    """[m³/s]"""


def layouts_of(paths: Sequence[Path], states: Sequence[HouseState]) -> list[Layout]:
    """The network of every state, after refusing readings of what is not there."""
    layouts = []
    for state in states:
        layout = lay_out(paths=[*paths, *state.added], held=state.held, fans=state.fans)
        strange = [*(state.pressures.keys() - set(layout.free)),
                   *(state.flows.keys() - set(layout.held[:-1]))]  # fmt: skip
        if strange:
            raise LeakageError(
                f"In the state {state.name} there is a reading of {', '.join(sorted(strange))}, "
                "which is no free zone (pressures) or no node held by a fan (flows). Correct it."
            )
        above("Uncertainty of a pressure", state.u_pressure, low=0, unit="Pa")
        above("Uncertainty of a fan flow", state.u_flow, low=0, unit="m³/s")
        layouts.append(layout)
    if not any(len(state.pressures) + len(state.flows) for state in states):
        raise TooFewPoints(
            quantity="Number of readings",
            value=0,
            limit="at least 1",
            next_step="Give zone pressures and fan flows.",
        )
    return layouts


def misses_of(
    theta: Array, layouts: Sequence[Layout], states: Sequence[HouseState]
) -> tuple[Array, Array]:
    """Model less readings in uncertainties, and its slopes over theta, (R,) and (R, K)."""
    values, slopes = [], []
    for layout, state in zip(layouts, states, strict=True):
        known = layout.coefficient[theta.size :]
        model = replace(layout, coefficient=np.concatenate([np.exp(theta), known]))
        pressure, _ = free_pressures(model)
        flow, _ = flows_of(model, pressure)
        by_pressure, by_fan = sensitivities(model, pressure, count=theta.size)
        fan = model.to_held.T @ flow
        rows = [model.free.index(name) for name in state.pressures]
        fans = [model.held.index(name) for name in state.flows]
        values += [(pressure[rows] - np.array([*state.pressures.values()])) / state.u_pressure]
        values += [(fan[fans] - np.array([*state.flows.values()])) / state.u_flow]
        slopes += [by_pressure[rows] / state.u_pressure, by_fan[fans] / state.u_flow]
    return np.concatenate(values), np.concatenate(slopes)


def sensitivities(layout: Layout, pressure: Array, *, count: int) -> tuple[Array, Array]:
    r"""Change of free pressures and of fan flows for a relative change of each coefficient.

    .. math::
        \frac{\partial p}{\partial \theta} = -G^{-1} A^T \operatorname{diag} q,\quad
        G = A^T \operatorname{diag}(g) A

    Parameters
    ----------
    layout : Layout
        N free and M held nodes.
    pressure : ndarray
        Solution of the free nodes, (N,). [Pa]
    count : int
        Take the first K paths.

    Returns
    -------
    tuple of ndarray
        (N, K) and (M, K). [Pa], [m³/s]

    References
    ----------
    .. [1] Implicit function theorem (derived).
    """
    flow, slope = flows_of(layout, pressure)
    own = np.eye(flow.size)[:, :count] * flow[:, None]
    moved = -stiffness_solve(layout, slope, layout.to_free.T @ own)
    return moved, layout.to_held.T @ (own + slope[:, None] * (layout.to_free @ moved))
