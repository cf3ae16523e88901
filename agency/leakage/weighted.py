"""Lines and power laws where both readings of a point have a stated uncertainty.

No standard's result: the engineering estimate beside it. Runs lie along the last axis, as for
ordinary least squares, and a run that cannot be fitted holds NaN and a reason.
"""

from collections.abc import Callable
from dataclasses import replace
from functools import partial

import numpy as np
from numpy.typing import ArrayLike

from agency.leakage.line import (
    NORMAL_QUANTILE,
    Line,
    Mask,
    Reason,
    as_runs,
    least_squares,
    sum_of,
)
from agency.leakage.power_law import ExponentSource, PowerLaw, logarithms
from agency.leakage.ranges import Array

PASSES = 200
"""Iterations after which a run counts as not settled. [-]  Derived; ten are usual."""
SETTLED = 1e-13
"""Change of the slope, relative to it, at which a run is settled. [-]  Derived."""


def york_line(
    *, x: ArrayLike, y: ArrayLike, u_x: ArrayLike, u_y: ArrayLike, used: ArrayLike | None = None
) -> Line:
    r"""Best lines with errors in both coordinates, independent of each other.

    .. math::
        W_i = \frac{1}{u_{y,i}^2 + b^2 u_{x,i}^2},\quad
        \beta_i = W_i (U_i u_{y,i}^2 + b V_i u_{x,i}^2),\quad
        b = \frac{\sum W_i \beta_i V_i}{\sum W_i \beta_i U_i}

    Parameters
    ----------
    x, y : array_like
        Coordinates, shape (..., N); U and V are their distances from the weighted means.
    u_x, u_y : array_like
        Their standard uncertainties, absolute; one of a pair may be 0; shape (..., N).
    used : array_like of bool, optional
        Points to use, shape (..., N); left out, all.

    Returns
    -------
    Line
        Shape (...). Uncertainties are the stated ones carried through, not scaled by the scatter;
        `residual_sd` is the scatter over them (Birge ratio).

    Raises
    ------
    ShapeMismatch
        The arrays do not fit each other.

    References
    ----------
    .. [1] D. York et al., "Unified equations for the slope, intercept, and standard errors of the
       best straight line", Am. J. Phys. 72, 2004 (algorithm from public descriptions, read).
    """
    (x, y, u_x, u_y), mask, start, stated = _readings(x, y, u_x, u_y, used)

    def pull(slope: Array, weight: Array) -> Array:
        along = _centred(x, weight) * u_y**2
        return weight * (along + slope[..., None] * _centred(y, weight) * u_x**2)

    def better(slope: Array) -> Array:
        weight = effective_weights(u_x=u_x, u_y=u_y, slope=slope, used=mask)
        beta = weight * pull(slope, weight)
        return np.asarray(sum_of(beta * _centred(y, weight)) / sum_of(beta * _centred(x, weight)))

    with np.errstate(invalid="ignore", divide="ignore"):
        slope, settled = _iterate(better, start.slope)
        weight = effective_weights(u_x=u_x, u_y=u_y, slope=slope, used=mask)
        adjusted = _mean(x, weight)[..., None] + pull(slope, weight)
        return _weighted_line(
            intercept=_mean(y, weight) - slope * _mean(x, weight),
            slope=slope,
            centre=_mean(adjusted, weight),
            u_height=1 / np.sqrt(sum_of(weight)),
            u_slope=1 / np.sqrt(sum_of(weight * _centred(adjusted, weight) ** 2)),
            residual=_residual(x, y, weight, slope),
            start=start,
            stated=stated,
            settled=settled,
        )


def effective_variance_line(
    *, x: ArrayLike, y: ArrayLike, u_x: ArrayLike, u_y: ArrayLike, used: ArrayLike | None = None
) -> Line:
    r"""Weighted least squares lines with the error of x carried into y by the slope, iterated.

    .. math:: \min_{a, b} \sum_i w_i (y_i - a - b x_i)^2,\quad
        w_i = \frac{1}{u_{y,i}^2 + b^2 u_{x,i}^2}

    Parameters
    ----------
    x, y, u_x, u_y, used
        As for `york_line`.

    Returns
    -------
    Line
        Shape (...); covariance (X'WX)⁻¹, not scaled by the scatter.

    References
    ----------
    .. [1] C. Delmotte, AIVC conference 2013, proposes iterated weights (abstract read); the
       equations are the usual ones of weighted least squares (derived).
    """
    (x, y, u_x, u_y), mask, start, stated = _readings(x, y, u_x, u_y, used)

    def better(slope: Array) -> Array:
        weight = effective_weights(u_x=u_x, u_y=u_y, slope=slope, used=mask)
        dx = _centred(x, weight)
        return np.asarray(sum_of(weight * dx * _centred(y, weight)) / sum_of(weight * dx**2))

    with np.errstate(invalid="ignore", divide="ignore"):
        slope, settled = _iterate(better, start.slope)
        weight = effective_weights(u_x=u_x, u_y=u_y, slope=slope, used=mask)
        centre = _mean(x, weight)
        return _weighted_line(
            intercept=_mean(y, weight) - slope * centre,
            slope=slope,
            centre=centre,
            u_height=1 / np.sqrt(sum_of(weight)),
            u_slope=1 / np.sqrt(sum_of(weight * _centred(x, weight) ** 2)),
            residual=_residual(x, y, weight, slope),
            start=start,
            stated=stated,
            settled=settled,
        )


def organic_correlation_line(
    *,
    x: ArrayLike,
    y: ArrayLike,
    u_x: ArrayLike,
    u_y: ArrayLike,
    weights: ArrayLike,
    used: ArrayLike | None = None,
) -> Line:
    r"""Weighted lines of organic correlation, which treat x and y alike.

    .. math:: b = \pm\sqrt{S_{yy,w} / S_{xx,w}},\quad a = \bar y_w - b \bar x_w

    Parameters
    ----------
    x, y, u_x, u_y, used
        As for `york_line`.
    weights : array_like
        Weight of each point, shape (..., N); the literature does not agree on one definition.

    Returns
    -------
    Line
        Shape (...). Uncertainties carry `u_x` and `u_y` through to first order, weights held.

    Notes
    -----
    Minimises :math:`\sum w_i (y_i - a - b x_i)^2 / |b|`; the sign is that of the correlation.

    References
    ----------
    .. [1] C. Delmotte, AIVC and ASHRAE IAQ 2016, proposes the method (abstracts read); equations
       and their error by JCGM 100 (derived).
    """
    (x, y, u_x, u_y), mask, start, stated = _readings(x, y, u_x, u_y, used)
    weight = np.where(mask, np.broadcast_to(np.asarray(weights, np.float64), mask.shape), 0.0)
    stated &= np.all(np.isfinite(weight) & (~mask | (weight > 0)), axis=-1)
    with np.errstate(invalid="ignore", divide="ignore"):
        dx, dy, total = _centred(x, weight), _centred(y, weight), sum_of(weight)[..., None]
        sxx, syy = sum_of(weight * dx**2), sum_of(weight * dy**2)
        slope = np.sign(sum_of(weight * dx * dy)) * np.sqrt(syy / sxx)
        b, middle = slope[..., None], _mean(x, weight)[..., None]
        # Change of slope and of the height at the mean for a change of each y and of each x.
        slope_y, slope_x = weight * dy / (b * sxx[..., None]), -b * weight * dx / sxx[..., None]
        height_y, height_x = weight / total, -b * weight / total
        u_slope = np.sqrt(sum_of((slope_y * u_y) ** 2 + (slope_x * u_x) ** 2))
        u_middle = np.sqrt(sum_of((height_y * u_y) ** 2 + (height_x * u_x) ** 2))
        shared = sum_of(height_y * slope_y * u_y**2 + height_x * slope_x * u_x**2)
        return _weighted_line(
            intercept=_mean(y, weight) - slope * middle[..., 0],
            slope=slope,
            centre=middle[..., 0] - shared / u_slope**2,
            u_height=np.sqrt(u_middle**2 - (shared / u_slope) ** 2),
            u_slope=u_slope,
            residual=_residual(
                x, y, effective_weights(u_x=u_x, u_y=u_y, slope=slope, used=mask), slope
            ),
            start=start,
            stated=stated,
            settled=np.ones(slope.shape, dtype=np.bool_),
        )


def effective_weights(*, u_x: ArrayLike, u_y: ArrayLike, slope: ArrayLike, used: Mask) -> Array:
    """Weights 1/(u_y² + b² u_x²), 0 for points not used; slope (...), the rest (..., N)."""
    b = np.asarray(slope, np.float64)[..., None]
    variance = np.asarray(u_y, np.float64) ** 2 + (b * np.asarray(u_x, np.float64)) ** 2
    with np.errstate(divide="ignore"):
        return np.asarray(np.where(used, 1 / variance, 0.0))


def product_weights(*, u_x: ArrayLike, u_y: ArrayLike) -> Array:
    """Weights 1/(u_x u_y) for lines of organic correlation.

    References
    ----------
    .. [1] One of several definitions in use (from memory).
    """
    with np.errstate(divide="ignore"):
        return np.asarray(1 / (np.asarray(u_x, np.float64) * np.asarray(u_y, np.float64)))


def birge_scaled(line: Line) -> Line:
    """The weighted `line` with its uncertainties enlarged where the scatter exceeds the stated.

    References
    ----------
    .. [1] R. T. Birge, Phys. Rev. 40, 1932 (from memory).
    """
    # Two points have no scatter to compare: what was stated stands.
    factor = np.where(line.points > 2, np.maximum(1.0, line.residual_sd), 1.0)
    return replace(line, u_height=factor * line.u_height, u_slope=factor * line.u_slope)


def fit_york(
    *,
    pressure: ArrayLike,
    flow: ArrayLike,
    u_pressure: ArrayLike,
    u_flow: ArrayLike,
    used: ArrayLike | None = None,
) -> PowerLaw:
    """Power laws from readings with errors in pressure and flow, by `york_line` on logarithms.

    Parameters
    ----------
    pressure, flow : array_like
        Induced pressure and flow through the leaks, shape (..., N). [Pa], [m³/s]
    u_pressure, u_flow : array_like
        Their relative standard uncertainties, without what is common to the series, shape
        (..., N). [-]
    used : array_like of bool, optional
        Points to use, shape (..., N); left out, all.
    """
    return _fit(
        york_line, pressure=pressure, flow=flow, u_pressure=u_pressure, u_flow=u_flow, used=used
    )


def fit_effective_variance(
    *,
    pressure: ArrayLike,
    flow: ArrayLike,
    u_pressure: ArrayLike,
    u_flow: ArrayLike,
    used: ArrayLike | None = None,
) -> PowerLaw:
    """As `fit_york`, by `effective_variance_line`."""
    return _fit(
        effective_variance_line,
        pressure=pressure,
        flow=flow,
        u_pressure=u_pressure,
        u_flow=u_flow,
        used=used,
    )


def fit_organic_correlation(
    *,
    pressure: ArrayLike,
    flow: ArrayLike,
    u_pressure: ArrayLike,
    u_flow: ArrayLike,
    weights: ArrayLike,
    used: ArrayLike | None = None,
) -> PowerLaw:
    """As `fit_york`, by `organic_correlation_line` with `weights`, shape (..., N)."""
    line = partial(organic_correlation_line, weights=weights)
    return _fit(line, pressure=pressure, flow=flow, u_pressure=u_pressure, u_flow=u_flow, used=used)


def _fit(
    make_line: Callable[..., Line],
    *,
    pressure: ArrayLike,
    flow: ArrayLike,
    u_pressure: ArrayLike,
    u_flow: ArrayLike,
    used: ArrayLike | None,
) -> PowerLaw:
    x, y, mask = logarithms(pressure, flow, used)
    line = make_line(x=x, y=y, u_x=u_pressure, u_y=u_flow, used=mask)
    return PowerLaw(line=line, exponent_source=ExponentSource.FITTED)


def _readings(
    x: ArrayLike, y: ArrayLike, u_x: ArrayLike, u_y: ArrayLike, used: ArrayLike | None
) -> tuple[list[Array], Mask, Line, Mask]:
    """Arrays with 0 at points not used, the mask, a first line, and which runs are stated."""
    arrays, mask = as_runs(x, y, u_x, u_y, used=used)
    start = least_squares(x=arrays[0], y=arrays[1], used=mask)
    spread = np.abs(arrays[2]) + np.abs(arrays[3])
    right = np.isfinite(spread) & (spread > 0) & (arrays[2] >= 0) & (arrays[3] >= 0)
    return [np.where(mask, a, 0.0) for a in arrays], mask, start, np.all(right | ~mask, axis=-1)


def _iterate(better: Callable[[Array], Array], slope: Array) -> tuple[Array, Mask]:
    """Slopes that `better` no longer changes, and which of them settled."""
    settled = np.zeros(slope.shape, dtype=np.bool_)
    for _ in range(PASSES):
        following = better(slope)
        still = np.abs(following - slope) <= SETTLED * np.abs(following)
        # A settled run keeps its slope, so that it does not depend on its neighbours.
        slope = np.where(settled, slope, following)
        settled = settled | still
        if np.all(settled | ~np.isfinite(slope)):
            break
    return slope, settled


def _weighted_line(
    *,
    intercept: Array,
    slope: Array,
    centre: Array,
    u_height: Array,
    u_slope: Array,
    residual: Array,
    start: Line,
    stated: Mask,
    settled: Mask,
) -> Line:
    reason = start.reason.copy()
    fitted = reason == Reason.FITTED
    reason[fitted & ~settled] = Reason.NOT_CONVERGED
    reason[fitted & ~stated] = Reason.NO_UNCERTAINTY
    known = np.where(reason == Reason.FITTED, 0.0, np.nan)
    return Line(
        intercept=intercept + known,
        slope=slope + known,
        centre=centre + known,
        u_height=u_height + known,
        u_slope=u_slope + known,
        residual_sd=residual / np.sqrt(np.where(start.points > 2, start.points - 2, np.nan))
        + known,
        # r² belongs to ordinary least squares.
        r_squared=np.full(known.shape, np.nan),
        quantile=NORMAL_QUANTILE + known,
        points=start.points,
        reason=reason,
    )


def _residual(x: Array, y: Array, weight: Array, slope: Array) -> Array:
    """Root of the weighted sum of squared residuals about the line through the weighted means."""
    error = _centred(y, weight) - slope[..., None] * _centred(x, weight)
    return np.asarray(np.sqrt(sum_of(weight * error**2)))


def _mean(values: Array, weight: Array) -> Array:
    return np.asarray(sum_of(weight * values) / sum_of(weight))


def _centred(values: Array, weight: Array) -> Array:
    return values - _mean(values, weight)[..., None]
