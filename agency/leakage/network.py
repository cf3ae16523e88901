"""Pressures and flows of a house of several zones, joined by leaks and openings.

A node is a space; outside is at 0 Pa. Some nodes are held at a pressure by a fan, whose flow is an
answer; the others are free. Flow along a path is positive from its start to its end.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.linalg import LinAlgError, cho_factor, cho_solve

from agency.leakage.errors import LeakageError, NotConverged, OutOfRange
from agency.leakage.ranges import Array, above
from agency.leakage.zones import ORIFICE_EXPONENT, exponents, opening_coefficient

OUTSIDE = "outside"
"""Name of the outdoor air, at 0 Pa by definition."""
LINEAR_BELOW = 1e-3
"""Flow is linear in pressures below this, as its slope would have no end at 0. [Pa]  Derived: the
flow is continuous, and differs only where it is below any fan's notice."""
FLOW_TOLERANCE = 1e-11
"""Largest imbalance of a node, as a share of the largest flow. [-]  Derived, double precision."""
NO_FLOW = 1e-15
"""Imbalance that is none whatever the flows. [m³/s]  Derived: a litre in 30 000 years."""
STEP_TOLERANCE = 1e-8
"""Largest last change of a pressure. [Pa]  Derived: far below any gauge."""
MOST_ITERATIONS = 60
DESCENT = 1e-4
"""Share of the promised descent a step must keep. [-]  Armijo, Pacific J. Math. 16 (1966), from
memory."""
FLATTENED = 0.9
"""Share of the slope along a step that may come back beyond the lowest point. [-]  Wolfe, SIAM
Review 11 (1969), from memory."""
ROUNDING = 64 * float(np.finfo(np.float64).eps)
"""Relative error a sum over the paths may carry. [-]  Derived, double precision."""
SHORTEST_STEP = 2.0**-40
"""Shortest part of a Newton step that is tried. [-]  Derived, double precision."""


class IsolatedZone(LeakageError):
    """A zone that no leak joins to a known pressure."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Path:
    """A leak or an opening between two nodes."""

    name: str
    start: str
    end: str
    coefficient: float
    """More than 0. [m³/(s Pa^n)]"""
    exponent: float
    """0.5 to 1. [-]"""
    stack: float = 0.0
    """Pressure that drives air from start to end besides the nodes'; 0 where baselines are
    subtracted. [Pa]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class NetworkState:
    """Answer of one state of the house."""

    pressures: Mapping[str, float]
    """Of every node against outside. [Pa]"""
    flows: Mapping[str, float]
    """Of every path, from start to end. [m³/s]"""
    fans: Mapping[str, float]
    """Air the fan brings into every held node; below 0 it exhausts. [m³/s]"""
    iterations: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """A network as arrays: K paths, N free nodes, M held nodes, outside last."""

    paths: tuple[Path, ...]
    free: tuple[str, ...]
    held: tuple[str, ...]
    coefficient: Array
    exponent: Array
    to_free: Array
    """1 where a path starts at a free node, -1 where it ends, (K, N)."""
    to_held: Array
    """(K, M)"""
    held_pressure: Array
    """(M,) [Pa]"""
    supply: Array
    """Air brought into the free nodes, (N,). [m³/s]"""

    @property
    def driven(self) -> Array:
        """Drop of each path with all free nodes at 0 Pa, (K,). [Pa]"""
        stack = np.array([path.stack for path in self.paths])
        return np.asarray(self.to_held @ self.held_pressure + stack)


def opening(
    *, name: str, start: str, end: str, area: float, discharge: float, density: float
) -> Path:
    """An open door, hatch or hole as a path; joined nodes would need an endless coefficient.

    Parameters
    ----------
    name, start, end : str
        As of a `Path`.
    area, discharge, density : float
        As of `zones.opening_coefficient`. [m²], [-], [kg/m³]
    """
    size = float(opening_coefficient(area=area, discharge=discharge, density=density))
    return Path(name=name, start=start, end=end, coefficient=size, exponent=ORIFICE_EXPONENT)


def solve_network(
    *, paths: Sequence[Path], held: Mapping[str, float], fans: Mapping[str, float]
) -> NetworkState:
    r"""Pressures of the free nodes, flows of the paths and of the fans that hold a node.

    .. math::
        q_k = \operatorname{sgn}(\Delta p_k)\, C_k |\Delta p_k|^{n_k},\quad
        F_i = S_i - \sum_{k\,\mathrm{from}\,i} q_k + \sum_{k\,\mathrm{to}\,i} q_k = 0

    Parameters
    ----------
    paths : sequence of Path
        Names are unique; parallel paths are allowed.
    held : mapping of str to float
        Pressure against outside of the nodes a fan holds, outside itself left out. [Pa]
    fans : mapping of str to float
        Air :math:`S_i` brought into free nodes, below 0 for exhaust; 0 for nodes left out. [m³/s]

    Returns
    -------
    NetworkState
        The only solution there is.

    Raises
    ------
    LeakageError
        A coefficient, exponent or pressure that cannot be, or one name used twice.
    IsolatedZone
        A node that no path joins to outside or a held node.
    NotConverged
        Never the last iterate in its stead.

    Notes
    -----
    The balances are the slopes of a strictly convex function of the pressures, so that a Newton
    step with line search leads down to its only lowest point from anywhere (derived).
    """
    layout = lay_out(paths=paths, held=held, fans=fans)
    pressure, iterations = free_pressures(layout)
    flow = flows_of(layout, pressure)[0]
    fan = layout.to_held.T @ flow
    everywhere = dict(zip(layout.free, pressure.tolist(), strict=True))
    everywhere |= dict(zip(layout.held, layout.held_pressure.tolist(), strict=True))
    return NetworkState(
        pressures=everywhere,
        flows={path.name: float(q) for path, q in zip(layout.paths, flow, strict=True)},
        fans={name: float(s) for name, s in zip(layout.held[:-1], fan[:-1], strict=True)},
        iterations=iterations,
    )


def lay_out(
    *, paths: Sequence[Path], held: Mapping[str, float], fans: Mapping[str, float]
) -> Layout:
    """The network as arrays, after refusing what cannot be solved; arguments as above."""
    _refuse_names(paths, held, fans)
    coefficient = above("Coefficient of a path", [p.coefficient for p in paths],
                        low=0, unit="m³/(s Pa^n)")  # fmt: skip
    exponent = exponents([path.exponent for path in paths])
    pressure = _finite("Pressure of a held node", [*held.values(), 0.0], "Pa")
    nodes = dict.fromkeys(node for path in paths for node in (path.start, path.end))
    free = tuple(node for node in nodes if node != OUTSIDE and node not in held)
    _refuse_isolated(paths, free, {OUTSIDE, *held})
    fixed = (*held, OUTSIDE)
    _finite("Stack pressure of a path", [path.stack for path in paths], "Pa")
    return Layout(
        paths=tuple(paths),
        free=free,
        held=fixed,
        coefficient=coefficient,
        exponent=exponent,
        to_free=_incidence(paths, free),
        to_held=_incidence(paths, fixed),
        held_pressure=pressure,
        supply=_finite("Flow of a fan", [fans.get(node, 0.0) for node in free], "m³/s"),
    )


def free_pressures(layout: Layout) -> tuple[Array, int]:
    """Pressures of the free nodes, (N,), and the steps it took. [Pa]"""
    driven, tie = layout.driven, layout.to_free
    # As if every path were laminar: a linear start of the right sign.
    laminar = layout.supply - tie.T @ (layout.coefficient * driven)
    pressure = stiffness_solve(layout, layout.coefficient, laminar)
    for iteration in range(MOST_ITERATIONS):
        flow, slope = flows_of(layout, pressure)
        balance = layout.supply - tie.T @ flow
        step = stiffness_solve(layout, slope, balance)
        if _settled(layout, pressure, step, balance):
            return pressure + step, iteration
        pressure = pressure + _share(layout, pressure, step, balance) * step
    raise NotConverged(
        f"The pressures of {', '.join(layout.free)} did not settle in {MOST_ITERATIONS} steps. "
        "Check the coefficients of the paths and the flows of the fans."
    )


def flows_of(layout: Layout, pressure: Array) -> tuple[Array, Array]:
    """Flow of every path and its slope over the drop, (K,). [m³/s], [m³/(s Pa)]"""
    drop = layout.to_free @ pressure + layout.driven
    size, n = np.abs(drop), layout.exponent
    near = size < LINEAR_BELOW
    straight = layout.coefficient * LINEAR_BELOW ** (n - 1)
    bent = layout.coefficient * np.where(near, LINEAR_BELOW, size) ** (n - 1)
    flow = np.where(near, straight, bent) * drop
    return flow, np.where(near, straight, n * bent)


def _settled(layout: Layout, pressure: Array, step: Array, balance: Array) -> bool:
    """Whether what is left is far below any instrument, or is rounding."""
    flow, slope = flows_of(layout, pressure)
    largest = np.max(np.abs(pressure), initial=0.0) + np.max(np.abs(layout.driven), initial=0.0)
    # A wide opening turns the rounding of a pressure into a flow.
    rounding = ROUNDING * np.max(slope, initial=0.0) * largest
    scale = max(np.max(np.abs(flow), initial=0.0), np.max(np.abs(layout.supply), initial=0.0))
    even = np.max(np.abs(balance), initial=0.0) <= FLOW_TOLERANCE * scale + rounding + NO_FLOW
    still = np.max(np.abs(step), initial=0.0) <= STEP_TOLERANCE + ROUNDING * largest
    return bool(even and still)


def _energy(layout: Layout, pressure: Array) -> tuple[float, float]:
    """The convex function whose slopes are the balances, and its rounding. [W]"""
    size = np.abs(layout.to_free @ pressure + layout.driven)
    n, edge = layout.exponent, LINEAR_BELOW
    square = edge ** (n - 1) * np.minimum(size, edge) ** 2 / 2
    rest = (np.maximum(size, edge) ** (n + 1) - edge ** (n + 1)) / (n + 1)
    kept, given = float(layout.coefficient @ (square + rest)), layout.supply * pressure
    return kept - float(given.sum()), ROUNDING * (kept + float(np.abs(given).sum()))


def _share(layout: Layout, pressure: Array, step: Array, balance: Array) -> float:
    """Part of the Newton step that brings the energy down as it should."""
    (here, rounding), promised = _energy(layout, pressure), float(balance @ step)
    share = 1.0
    while share > SHORTEST_STEP:
        there = pressure + share * step
        falls = _energy(layout, there)[0] <= here - DESCENT * share * promised + rounding
        if falls and _stays(layout, there, step, promised):
            return share
        share /= 2
    return share


def _stays(layout: Layout, pressure: Array, step: Array, promised: float) -> bool:
    """Whether the step goes not so far beyond the lowest point that it could cycle."""
    flow, _ = flows_of(layout, pressure)
    along = float((layout.supply - layout.to_free.T @ flow) @ step)
    return along >= -FLATTENED * abs(promised)


def stiffness_solve(layout: Layout, slope: Array, right: Array) -> Array:
    """Pressures by which the flows out of the free nodes change by `right`, (N,) or (N, ...)."""
    if not layout.free:
        return right
    stiffness = layout.to_free.T @ (slope[:, None] * layout.to_free)
    try:
        return np.asarray(cho_solve(cho_factor(stiffness), right))
    except LinAlgError:
        raise NotConverged(
            "The flows of the network differ by more than can be balanced. Check the units and the "
            "decimal point of each leak."
        ) from None


def _incidence(paths: Sequence[Path], nodes: Sequence[str]) -> Array:
    return np.array(
        [[float(path.start == node) - float(path.end == node) for node in nodes] for path in paths]
    ).reshape(len(paths), len(nodes))


def _finite(name: str, values: Sequence[float], unit: str) -> Array:
    numbers = np.asarray(values, dtype=np.float64)
    bad = ~np.isfinite(numbers)
    if np.any(bad):
        raise OutOfRange(
            quantity=name,
            value=str(numbers[bad][0]),
            unit=unit,
            limit="a finite number",
            next_step="Check the reading.",
        )
    return numbers


def _refuse_names(
    paths: Sequence[Path], held: Mapping[str, float], fans: Mapping[str, float]
) -> None:
    names = [path.name for path in paths]
    twice = sorted({name for name in names if names.count(name) > 1})
    nodes = {node for path in paths for node in (path.start, path.end)}
    loops = [path.name for path in paths if path.start == path.end]
    problems = {
        "These paths share a name": twice,
        "These paths lead back to where they start": loops,
        "These nodes have a fan of given flow and are held at a pressure too": sorted(
            held.keys() & fans.keys()
        ),
        "No path leads to": sorted((held.keys() | fans.keys()) - nodes),
        "The pressure of outside is 0 by definition and it has no fan": sorted(
            {OUTSIDE} & (held.keys() | fans.keys())
        ),
    }
    for text, found in problems.items():
        if found:
            raise LeakageError(f"{text}: {', '.join(found)}. Correct the list of paths or fans.")


def _refuse_isolated(paths: Sequence[Path], free: Sequence[str], known: set[str]) -> None:
    reached = set(known)
    while True:
        more = {
            node
            for path in paths
            if (path.start in reached) != (path.end in reached)
            for node in (path.start, path.end)
        } - reached
        if not more:
            break
        reached |= more
    lost = [node for node in free if node not in reached]
    if lost:
        raise IsolatedZone(
            f"No path joins {', '.join(lost)} to outside or to a node held by a fan. "
            "Add the leaks of its boundaries."
        )
