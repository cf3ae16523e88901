"""Straight lines through many runs at once, with what is known about their error.

A run lies along the last axis; all axes before it are runs. A run that cannot be fitted holds NaN
and a reason, and leaves the others as they are.
"""

from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtri, stdtrit

from agency.leakage.errors import ShapeMismatch
from agency.leakage.ranges import Array

Mask = NDArray[np.bool_]
Counts = NDArray[np.int64]
Reasons = NDArray[np.int8]

CONFIDENCE = 0.95
"""Two-sided level of every interval. [-]  ASTM E779-19 and ISO 9972:2015, from memory."""
NORMAL_QUANTILE = float(ndtri((1 + CONFIDENCE) / 2))
"""Standard uncertainties from the middle to an end of the interval, 1.96. [-]"""


SAME_VALUE = 1e-14
"""Relative spread below which values differ by rounding only. [-]  Derived, double precision."""


class Reason(IntEnum):
    """Why a run has no line."""

    FITTED = 0
    NOT_POSITIVE = 1
    """A used reading is zero, negative or missing."""
    TOO_FEW_POINTS = 2
    NO_SPAN = 3
    """All used points lie at one pressure."""
    NO_UNCERTAINTY = 4
    """A used point lacks a stated uncertainty, or has none at all."""
    NOT_CONVERGED = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """Lines y = intercept + slope x, an entry a run, shape (...); NaN where a figure is missing.

    Height at `centre` and slope are uncorrelated, which is how the error of a line is kept.
    """

    intercept: Array
    slope: Array
    centre: Array
    """Abscissa at which height and slope are uncorrelated."""
    u_height: Array
    """Standard uncertainty of the height at `centre`."""
    u_slope: Array
    """Standard uncertainty of the slope."""
    residual_sd: Array
    """Root of the (weighted) squares of the residuals over the degrees of freedom."""
    r_squared: Array
    quantile: Array
    """Standard uncertainties from the line to either end of its 95 % interval."""
    points: Counts
    """Points used."""
    reason: Reasons

    @property
    def u_intercept(self) -> Array:
        """Standard uncertainty of the intercept."""
        return np.asarray(np.hypot(self.u_height, self.centre * self.u_slope))

    @property
    def covariance(self) -> Array:
        """Covariance of intercept and slope."""
        return -self.centre * self.u_slope**2


def as_runs(*series: ArrayLike, used: ArrayLike | None) -> tuple[list[Array], Mask]:
    """`series` as arrays of one shape (..., N), and which points to use.

    Raises
    ------
    ShapeMismatch
        The arrays do not fit each other.
    """
    arrays = [np.asarray(values, dtype=np.float64) for values in series]
    mask = np.asarray(True if used is None else used, dtype=np.bool_)
    try:
        shape = np.broadcast_shapes(*(array.shape for array in arrays), mask.shape)
    except ValueError:
        shape = ()
    if not shape:
        raise ShapeMismatch(
            quantity="Number of points",
            value=" and ".join(str(array.shape) for array in [*arrays, mask]),
            limit="the same for every reading",
            next_step="Give one pressure and one flow for each point.",
        )
    return [np.broadcast_to(a, shape) for a in arrays], np.broadcast_to(mask, shape)


def least_squares(*, x: ArrayLike, y: ArrayLike, used: ArrayLike | None = None) -> Line:
    r"""Ordinary least squares lines with their standard errors.

    .. math::
        b = \frac{S_{xy}}{S_{xx}},\quad a = \bar y - b \bar x,\quad
        s_b = \sqrt{\frac{\sum e^2}{(N - 2) S_{xx}}},\quad
        s_{y}(x) = \sqrt{\frac{\sum e^2}{(N - 2) N} + (x - \bar x)^2 s_b^2}

    Parameters
    ----------
    x, y : array_like
        Abscissas and ordinates, shape (..., N).
    used : array_like of bool, optional
        Points to use, shape (..., N); left out, all. Readings of other points are not looked at.

    Returns
    -------
    Line
        Shape (...). With two points nothing is known of the error, and r² would be 1 whatever was
        measured: both are NaN.

    Raises
    ------
    ShapeMismatch
        The arrays do not fit each other.

    References
    ----------
    .. [1] ASTM E779-19, Annex A1; ISO 9972:2015, Annex C (both from memory).
    """
    (x, y), mask = as_runs(x, y, used=used)
    points = np.count_nonzero(mask, axis=-1)
    x, y = np.where(mask, x, 0.0), np.where(mask, y, 0.0)
    with np.errstate(invalid="ignore", divide="ignore"):
        centre, middle = sum_of(x) / points, sum_of(y) / points
        dx = np.where(mask, x - centre[..., None], 0.0)
        dy = np.where(mask, y - middle[..., None], 0.0)
        sxx, syy = sum_of_products(dx, dx), sum_of_products(dy, dy)
        slope = sum_of_products(dx, dy) / sxx
        dy -= slope[..., None] * dx
        squares = sum_of_products(dy, dy)
        reason = reasons(
            finite=np.isfinite(sxx + syy),
            points=points,
            several=sxx > SAME_VALUE**2 * sum_of_products(x, x),
        )
        count = np.where(reason == Reason.FITTED, points, np.nan)
        free = np.where(count > 2, count - 2, np.nan)
        residual_sd = np.sqrt(squares / free)
        varies = syy > SAME_VALUE**2 * sum_of_products(y, y)
        r_squared = 1 - squares / np.where(varies & (count > 2), syy, np.nan)
    known = np.where(reason == Reason.FITTED, 0.0, np.nan)
    return Line(
        intercept=middle - slope * centre + known,
        slope=slope + known,
        centre=centre + known,
        u_height=residual_sd / np.sqrt(count),
        u_slope=residual_sd / np.sqrt(sxx),
        residual_sd=residual_sd,
        r_squared=r_squared,
        quantile=student_quantile(free),
        points=points,
        reason=reason,
    )


def reasons(*, finite: Mask, points: Counts, several: Mask) -> Reasons:
    """Why each run cannot be fitted; a reading without a logarithm comes first."""
    found = np.full(points.shape, Reason.FITTED, dtype=np.int8)
    found[~several] = Reason.NO_SPAN
    found[points < 2] = Reason.TOO_FEW_POINTS
    found[~finite & (points > 0)] = Reason.NOT_POSITIVE
    return found


def student_quantile(degrees: Array) -> Array:
    """Two-sided 95 % quantile of Student's t; NaN for no degrees of freedom.

    References
    ----------
    .. [1] scipy.special.stdtrit (read).
    """
    # Runs share a few degrees of freedom: each quantile is worked out once.
    place = np.nan_to_num(degrees).astype(np.int64)
    quantiles = np.full(int(np.max(place, initial=0)) + 1, np.nan)
    quantiles[1:] = stdtrit(np.arange(1, quantiles.size), (1 + CONFIDENCE) / 2)
    return np.asarray(quantiles[place])


def height_at(line: Line, x: ArrayLike) -> Array:
    """Height of each line at `x`: shape (...) for one abscissa, (..., P) for P of them."""
    at, (intercept, slope) = _along(x, line.intercept, line.slope)
    return np.asarray(intercept + slope * at)


def uncertainty_at(line: Line, x: ArrayLike) -> Array:
    """Standard uncertainty of the height of the (mean) line at `x`, shaped as `height_at`."""
    at, (centre, height, slope) = _along(x, line.centre, line.u_height, line.u_slope)
    return np.asarray(np.hypot(height, (at - centre) * slope))


def half_width_at(line: Line, x: ArrayLike) -> Array:
    """Half the 95 % interval of the (mean) line at `x`, shaped as `height_at`."""
    at, (quantile,) = _along(x, line.quantile)
    return np.asarray(quantile * uncertainty_at(line, at))


def _along(x: ArrayLike, *figures: Array) -> tuple[Array, list[Array]]:
    at = np.asarray(x, dtype=np.float64)
    if at.ndim == 0:
        return at, list(figures)
    return at, [figure[..., None] for figure in figures]


def sum_of(values: Array) -> Array:
    """Sum over the points of each run, shape (...)."""
    return np.asarray(np.einsum("...i->...", values))


def sum_of_products(left: Array, right: Array) -> Array:
    """Sum of products over the points of each run, shape (...)."""
    return np.asarray(np.einsum("...i,...i->...", left, right))
