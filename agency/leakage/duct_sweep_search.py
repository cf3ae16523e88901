"""Search for the duct pressures that explain a sweep, the leakages being solved for at each.

Arrays are those of one sweep: house pressure `x`, difference of flow `y` and its standard
uncertainty `sigma`, shape (N,). For callers that have checked them.
"""

from collections.abc import Callable, Mapping

import numpy as np
from numpy.typing import ArrayLike
from scipy.ndimage import minimum_filter
from scipy.optimize import minimize

from agency.leakage.errors import NotConverged
from agency.leakage.ranges import Array

SEARCH_RANGE = (1.0, 1000.0)
"""Duct pressures looked at in a search; a figure at an end is never determined. [Pa]  Derived."""
GRID_LINES = 25
STARTS = 4
"""Lines of the grid of duct pressures, and searches started from it. [-]  Found by trial."""
RELATIVE_STEP = 1e-5
"""For slopes by central differences. [-]  Cube root of double precision, derived."""


def _signed_power(value: Array, exponent: ArrayLike) -> Array:
    return np.asarray(np.sign(value) * np.abs(value) ** exponent)


def flow_shares(
    x: Array, supply: ArrayLike, return_: ArrayLike, n: ArrayLike
) -> tuple[Array, Array]:
    """Flow per supply leakage and per return leakage at each house pressure."""
    by_supply = np.asarray(x / np.asarray(supply))
    by_return = np.asarray(x / np.asarray(return_))
    return (
        _signed_power(1 + by_supply, n) - _signed_power(by_supply, n),
        _signed_power(by_return - 1, n) - _signed_power(by_return, n),
    )


def columns(x: Array, known: Mapping[str, float]) -> Array:
    """The same as a matrix, shape (N, 2)."""
    return np.column_stack(flow_shares(x, known["supply"], known["return"], known["exponent"]))


def search_pressures(
    *, x: Array, y: Array, sigma: Array, exponent: float, start: Array | None = None
) -> Array:
    """Logarithms of the two duct pressures whose best leakages leave the least residual."""
    whole = max(float(np.sum((y / sigma) ** 2)), np.finfo(float).tiny)

    def cost(logs: Array) -> float:
        leaks, shares = leaks_at(x, y, sigma, known_pressures(logs, exponent))
        return float(np.sum((shares @ leaks - y / sigma) ** 2) / whole)

    # A duct pressure equal to a station's makes a cusp, at which a search by slopes sticks.
    ends = [
        minimize(
            cost,
            first,
            method="Nelder-Mead",
            bounds=[np.log(SEARCH_RANGE)] * 2,
            options={"xatol": 1e-7, "fatol": 1e-13, "maxiter": 2000},
        )
        for first in (_valleys(cost) if start is None else [start])
    ]
    best = min(ends, key=lambda end: float(end.fun))
    if not best.success:
        raise NotConverged(
            "The fit of four figures to the sweep did not settle; measure the duct pressures and "
            "use the fit that takes them."
        )
    return np.asarray(best.x)


def is_at_an_end(logs: Array) -> bool:
    """Whether a duct pressure ran to an end of the search, so that the readings leave it open."""
    return bool(np.any(np.isclose(logs[:, None], np.log(SEARCH_RANGE), atol=1e-4, rtol=0)))


def known_pressures(logs: Array, exponent: float) -> dict[str, float]:
    """Duct pressures by name, from their logarithms, with the exponent."""
    by_supply, by_return = np.exp(logs)
    return {"supply": float(by_supply), "return": float(by_return), "exponent": exponent}


def _valleys(cost: Callable[[Array], float]) -> list[Array]:
    """Deepest places of a grid of duct pressures that lie below their neighbours."""
    lowest, highest = np.log(SEARCH_RANGE)
    logs = np.linspace(float(lowest), float(highest), GRID_LINES)
    costs = np.array([[cost(np.array([s, r])) for r in logs] for s in logs])
    low = np.argwhere(costs == minimum_filter(costs, size=3, mode="nearest"))
    deepest = sorted(low, key=lambda place: float(costs[tuple(place)]))[:STARTS]
    return [logs[place] for place in deepest]


def leaks_at(x: Array, y: Array, sigma: Array, known: Mapping[str, float]) -> tuple[Array, Array]:
    """Leakages of supply and return for given duct pressures, and the weighted columns."""
    shares = columns(x, known) / sigma[:, None]
    return np.asarray(np.linalg.lstsq(shares, y / sigma)[0]), shares


def figures_at(x: Array, y: Array, sigma: Array, known: Mapping[str, float]) -> Array:
    """Supply and return leakage for given duct pressures, and those pressures."""
    return np.array([*leaks_at(x, y, sigma, known)[0], known["supply"], known["return"]])


def refit(x: Array, y: Array, sigma: Array, start: Array, exponent: float) -> Array:
    """Figures under another exponent, searched for from a start."""
    logs = search_pressures(x=x, y=y, sigma=sigma, exponent=exponent, start=start)
    return figures_at(x, y, sigma, known_pressures(logs, exponent))


def relative_slopes(
    x: Array, y: Array, sigma: Array, figures: Array, exponent: float
) -> tuple[Array, Array]:
    """Slopes of the weighted residuals per relative change of each figure, and the residuals."""

    def residual(at: Array) -> Array:
        known = {"supply": float(at[2]), "return": float(at[3]), "exponent": exponent}
        return np.asarray((columns(x, known) @ at[:2] - y) / sigma)

    steps = RELATIVE_STEP * np.eye(4)
    slopes = [
        (residual(figures * (1 + step)) - residual(figures * (1 - step))) / (2 * RELATIVE_STEP)
        for step in steps
    ]
    return np.column_stack(slopes), residual(figures)
