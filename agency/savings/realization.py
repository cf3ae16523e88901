"""What a programme saved against what was predicted, by two named averages."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from agency.savings.errors import BillError
from agency.savings.showing import Range
from agency.savings.uncertainty import FEWEST_TRIALS

Array = NDArray[np.float64]

FEWEST_HOMES = 2
"""One home has no spread. [-]"""
TRIALS_AT_ONCE = 512
"""Keeps the drawn homes of thousands of trials out of memory."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Realization:
    """Measured over predicted saving. [-]"""

    homes: int
    ratio_of_sums: Range
    """The programme's energy: large savings count more."""
    mean_of_ratios: Range
    """The usual home: each counts once, and one with a small prediction may dominate."""


def realization(
    *, predicted: ArrayLike, measured: ArrayLike, confidence: float, trials: int, seed: int
) -> Realization:
    r"""Realization rates of a group of homes with bootstrap intervals.

    .. math:: \frac{\sum m_i}{\sum p_i}, \qquad \frac 1N \sum \frac{m_i}{p_i}

    Parameters
    ----------
    predicted, measured : arrays of homes
        Yearly savings, in any one unit; measured ones may be negative.
    confidence : float
        Share of the trials between low and high. [-]
    trials, seed : int
        Homes are drawn with replacement; the same seed gives the same intervals.

    Raises
    ------
    BillError
        Fewer than two homes, a saving that is missing, a prediction that is not above 0.

    Notes
    -----
    The interval holds for homes like these; it knows nothing of homes without bills.

    References
    ----------
    .. [1] B. Efron and R. Tibshirani, "An Introduction to the Bootstrap", 1993, percentile
       interval, from memory.
    """
    p, m = np.asarray(predicted, dtype=np.float64), np.asarray(measured, dtype=np.float64)
    _refuse_wrong(p, m)
    if trials < FEWEST_TRIALS:
        raise BillError(f"{trials} trials are too few; draw at least {FEWEST_TRIALS}.")
    rng = np.random.default_rng(seed)
    sums, means = np.empty(trials), np.empty(trials)
    for start in range(0, trials, TRIALS_AT_ONCE):
        some = slice(start, min(start + TRIALS_AT_ONCE, trials))
        homes = rng.integers(len(p), size=(some.stop - start, len(p)))
        sums[some] = m[homes].sum(axis=1) / p[homes].sum(axis=1)
        means[some] = (m / p)[homes].mean(axis=1)
    return Realization(
        homes=len(p),
        ratio_of_sums=_range(float(m.sum() / p.sum()), sums, confidence),
        mean_of_ratios=_range(float((m / p).mean()), means, confidence),
    )


def _range(central: float, drawn: Array, confidence: float) -> Range:
    low, high = np.quantile(drawn, [(1 - confidence) / 2, (1 + confidence) / 2])
    return Range(low=float(low), central=central, high=float(high))


def _refuse_wrong(predicted: Array, measured: Array) -> None:
    if predicted.ndim != 1 or predicted.shape != measured.shape or len(predicted) < FEWEST_HOMES:
        raise BillError(
            f"{predicted.size} predicted and {measured.size} measured savings; there must be one "
            f"of each for at least {FEWEST_HOMES} homes. Leave homes without bills out of both."
        )
    for home, (before, after) in enumerate(zip(predicted, measured, strict=True), start=1):
        if not (before > 0 and np.isfinite(before) and np.isfinite(after)):
            raise BillError(
                f"home {home} has a predicted saving of {before:g} and a measured one of "
                f"{after:g}; the first must be above 0 and both must be numbers. Leave the home "
                "out and say so."
            )
