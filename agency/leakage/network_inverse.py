"""Leaks of a house of several zones from several states of it, and which of them readings tell.

Every state leaves the unknown leaks as they are and changes something known: a door opened, a hole,
a fan. Unknown are the logarithms of the coefficients, so that none comes out negative.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import least_squares

from agency.leakage.errors import NotConverged
from agency.leakage.line import NORMAL_QUANTILE, Mask, student_quantile
from agency.leakage.network import Layout, Path
from agency.leakage.network_states import HouseState, layouts_of, misses_of
from agency.leakage.power_law import Interval
from agency.leakage.ranges import Array

DEAD_DIRECTION = 1e-10
"""Singular value, as a share of the largest, that is rounding only. [-]  Derived."""
NO_PART = 1e-6
"""Part of a leak in a direction that is rounding only. [-]  Derived."""
SEARCH_RANGE = float(np.log(1e6))
"""Furthest a coefficient is sought from its first guess, as a logarithm. [-]  Derived: beyond it
a leak is none, or a hole that no wall has."""
START_SPREAD = float(np.log(10.0))
"""Spread of the further starts about the guess, as a logarithm. [-]  Common practice, no source."""
FIT_TOLERANCE = 1e-12
"""Of scipy.optimize.least_squares. [-]"""
MOST_STEPS = 100
"""Of one search. Along what readings do not tell it may creep without end."""
STILL = 0.01
"""Largest next step, in its own uncertainty, of what readings do tell at the end of a search. [-]
Derived: far below what any interval shows."""


@dataclass(frozen=True, slots=True, kw_only=True)
class IdentifiabilityLimits:
    """Limits of the rule book."""

    singular_ratio: float
    """Largest over smallest singular value up to which a direction counts as seen. [-]"""
    uncertainty: float
    """Relative standard uncertainty up to which a coefficient counts as determined. [-]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Identifiability:
    """What readings tell of K coefficients."""

    names: tuple[str, ...]
    singular_values: Array
    """Of the readings' slopes in their uncertainties, (K,), falling. [-]"""
    u_log: Array
    """Relative standard uncertainty of each coefficient, (K,); infinite where nothing is told."""
    covariance: Array
    """Of the logarithms over what is told, (K, K). [-]"""
    undetermined: tuple[str, ...]

    @property
    def rank(self) -> int:
        """Number of directions the readings tell of."""
        return int(np.count_nonzero(_alive(self.singular_values)))

    @property
    def condition(self) -> float:
        """Largest over smallest singular value; infinite where something is not told."""
        if self.rank < self.singular_values.size:
            return np.inf
        return float(self.singular_values[0] / self.singular_values[-1])


@dataclass(frozen=True, slots=True, kw_only=True)
class Remedy:
    """What one more state would do."""

    state: str
    determines: tuple[str, ...]
    """Leaks that are not determined now and would be."""
    leaves: tuple[str, ...]
    """Leaks still not determined."""
    widest: float
    """Largest relative standard uncertainty with it. [-]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class NetworkEstimate:
    """Coefficients of the leaks; NaN for one the readings do not determine."""

    names: tuple[str, ...]
    coefficient: Interval
    """(K,) [m³/(s Pa^n)]"""
    nearest: Array
    """The same at the search's end, undetermined leaks too: to plan a state, never to be shown."""
    identifiability: Identifiability
    chi_squared: float
    """Sum of squared misses in their uncertainties. [-]"""
    freedom: int
    """Readings less coefficients."""
    misses: Array
    """Model less reading in uncertainties, state by state, pressures first. [-]"""
    message: str
    """What is not determined; empty where everything is."""


def estimate_network(
    *,
    paths: Sequence[Path],
    states: Sequence[HouseState],
    limits: IdentifiabilityLimits,
    restarts: int,
    seed: int,
) -> NetworkEstimate:
    r"""Coefficients that come nearest to the readings of all states.

    .. math::
        \min_\theta \sum_j \left(\frac{m_j(\theta) - x_j}{u_j}\right)^2,\quad
        \theta_k = \ln C_k,\quad \operatorname{cov}\theta = (J^T J)^{-1}

    Parameters
    ----------
    paths : sequence of Path
        Unknown leaks; their coefficients are first guesses. K of them.
    states : sequence of HouseState
        All in one density of air.
    limits : IdentifiabilityLimits
        When a coefficient is called determined.
    restarts : int
        Further starts, drawn about the guess; the best end counts.
    seed : int
        Of those draws.

    Returns
    -------
    NetworkEstimate
        Intervals take the scatter where it is larger than the uncertainties foresee, and Student's
        t; without spare readings, the uncertainties alone and 1.96.

    Raises
    ------
    LeakageError
        A state that cannot be solved, readings of nodes that are not there, no reading at all.
    NotConverged
        No start led to an end.

    References
    ----------
    .. [1] Implicit function theorem (derived); scipy.optimize.least_squares (read).
    """
    layouts = layouts_of(paths, states)
    rng, count = np.random.default_rng(seed), len(paths)
    guess = np.log([path.coefficient for path in paths])
    starts = [guess, *(guess + START_SPREAD * rng.uniform(-1, 1, (restarts, count)))]
    fits = (_fit(start, guess, layouts, states, limits) for start in starts)
    ends = [fit for fit in fits if fit is not None]
    if not ends:
        raise NotConverged("No set of coefficients settled. Check readings, units and guesses.")
    theta = min(ends, key=lambda end: end[1])[0]
    misses, slopes = misses_of(theta, layouts, states)
    told = _mark_at_the_end(_told(slopes, paths, limits), theta, guess)
    return _estimate(theta, misses, told)


def identifiability(
    *, paths: Sequence[Path], states: Sequence[HouseState], limits: IdentifiabilityLimits
) -> Identifiability:
    """What readings of the states would tell, before any is taken.

    Parameters
    ----------
    paths : sequence of Path
        Leaks with likely coefficients.
    states : sequence of HouseState
        Values of their readings are not looked at; which there are and how good they are is.
    limits : IdentifiabilityLimits
        When a coefficient is called determined.

    References
    ----------
    .. [1] Singular values of the slopes (derived).
    """
    theta = np.log([path.coefficient for path in paths])
    return _told(misses_of(theta, layouts_of(paths, states), states)[1], paths, limits)


def remedies(
    *,
    paths: Sequence[Path],
    states: Sequence[HouseState],
    candidates: Sequence[HouseState],
    limits: IdentifiabilityLimits,
) -> tuple[Remedy, ...]:
    """What each further state would determine, the most useful first.

    Parameters
    ----------
    paths, states, limits
        As of `identifiability`.
    candidates : sequence of HouseState
        States that could be made, each judged by itself.
    """
    missing = identifiability(paths=paths, states=states, limits=limits).undetermined
    found = []
    for candidate in candidates:
        told = identifiability(paths=paths, states=[*states, candidate], limits=limits)
        found.append(
            Remedy(
                state=candidate.name,
                determines=tuple(name for name in missing if name not in told.undetermined),
                leaves=told.undetermined,
                widest=float(np.max(told.u_log)),
            )
        )
    return tuple(sorted(found, key=lambda remedy: (len(remedy.leaves), remedy.widest)))


def advice(told: Identifiability, found: Sequence[Remedy]) -> str:
    """In words: which leaks are not determined, and which state would determine most of them."""
    if not told.undetermined:
        return ""
    text = f"Not determined by these readings: {', '.join(told.undetermined)}."
    useful = [remedy for remedy in found if remedy.determines]
    if not useful:
        return f"{text} Read more pressures or a fan flow, or take one of these leaks as known."
    best = useful[0]
    text = f"{text} One more state, {best.state}, would determine {', '.join(best.determines)}"
    return f"{text} and leave {', '.join(best.leaves)}." if best.leaves else f"{text}."


def _fit(
    start: Array,
    guess: Array,
    layouts: Sequence[Layout],
    states: Sequence[HouseState],
    limits: IdentifiabilityLimits,
) -> tuple[Array, float] | None:
    try:
        fit = least_squares(
            lambda theta: misses_of(theta, layouts, states)[0],
            start,
            jac=lambda theta: misses_of(theta, layouts, states)[1],
            bounds=(guess - SEARCH_RANGE, guess + SEARCH_RANGE),
            xtol=FIT_TOLERANCE,
            ftol=FIT_TOLERANCE,
            gtol=FIT_TOLERANCE,
            max_nfev=MOST_STEPS,
        )
    except NotConverged:
        return None
    settled = fit.success or _still(fit.fun, fit.jac, limits)
    return (fit.x, float(fit.cost)) if settled else None


def _still(misses: Array, slopes: Array, limits: IdentifiabilityLimits) -> bool:
    """Whether the next step would move nothing that the readings tell of."""
    left, singular, _ = np.linalg.svd(slopes, full_matrices=False)
    seen = singular * limits.singular_ratio >= singular[0]
    return bool(np.all(np.abs(left.T[seen] @ misses) < STILL))


def _told(slopes: Array, paths: Sequence[Path], limits: IdentifiabilityLimits) -> Identifiability:
    count = len(paths)
    # Rows of zeros: as many singular values as coefficients, whatever was read.
    padded = np.vstack([slopes, np.zeros((max(count - len(slopes), 0), count))])
    singular, directions = np.linalg.svd(padded, full_matrices=False)[1:]
    alive = _alive(singular)
    scaled = directions[alive].T / singular[alive]
    covariance = scaled @ scaled.T
    lost = np.any(np.abs(directions[~alive]) > NO_PART, axis=0)
    u_log = np.where(lost, np.inf, np.sqrt(np.diag(covariance)))
    faint = singular * limits.singular_ratio < singular[0]
    # A leak belongs to a faint direction with more than the mean part of it.
    vague = np.any(directions[faint] ** 2 >= 1 / count, axis=0)
    names = tuple(path.name for path in paths)
    open_ones = lost | vague | (u_log > limits.uncertainty)
    return Identifiability(
        names=names,
        singular_values=singular,
        u_log=u_log,
        covariance=covariance,
        undetermined=tuple(n for n, o in zip(names, open_ones, strict=True) if o),
    )


def _alive(singular: Array) -> Mask:
    return np.asarray(singular > DEAD_DIRECTION * singular[0])


def _mark_at_the_end(told: Identifiability, theta: Array, guess: Array) -> Identifiability:
    ends = np.abs(theta - guess) > 0.999 * SEARCH_RANGE
    marked = [n for n, e in zip(told.names, ends, strict=True) if e or n in told.undetermined]
    return replace(told, undetermined=tuple(marked))


def _estimate(theta: Array, misses: Array, told: Identifiability) -> NetworkEstimate:
    freedom, squares = misses.size - theta.size, float(misses @ misses)
    scatter, quantile = 1.0, NORMAL_QUANTILE
    if freedom > 0:
        scatter = max(1.0, squares / freedom)
        quantile = float(student_quantile(np.array(float(freedom))))
    blank = np.array([np.nan if name in told.undetermined else 0.0 for name in told.names])
    half = quantile * np.sqrt(scatter) * told.u_log + blank
    value = np.exp(theta) + blank
    with np.errstate(over="ignore"):
        low, high = value * np.exp(-half), value * np.exp(half)
    return NetworkEstimate(
        names=told.names,
        coefficient=Interval(value=value, low=low, high=high),
        nearest=np.exp(theta),
        identifiability=told,
        chi_squared=squares,
        freedom=freedom,
        misses=misses,
        message=advice(told, ()),
    )
