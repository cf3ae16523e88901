"""What a least squares fit says of its own error, and whether it tells its figures apart."""

from dataclasses import dataclass

import numpy as np

from agency.leakage.line import NORMAL_QUANTILE, student_quantile
from agency.leakage.ranges import Array


@dataclass(frozen=True, slots=True, kw_only=True)
class FitSpread:
    """Error of the P figures of one fit."""

    deviations: Array
    """Standard uncertainties, infinite where a figure is free, shape (P,)."""
    correlation: float
    """Of the first two figures. [-]"""
    condition: float
    """Largest over smallest singular value. [-]"""
    quantile: float
    """Standard uncertainties from the middle to an end of the 95 % interval. [-]"""
    residual_sd: float | None
    """None with as many points as figures."""
    degrees: int


def fit_spread(*, jacobian: Array, residual: Array, is_weighted: bool) -> FitSpread:
    """Uncertainties of a fit from its Jacobian at the optimum, by singular values.

    Parameters
    ----------
    jacobian : ndarray
        Residuals by figures, shape (N, P).
    residual : ndarray
        Residuals at the optimum, shape (N,).
    is_weighted : bool
        Whether residuals are in units of a stated uncertainty. Stated uncertainties are widened
        where the scatter belies them, never narrowed; otherwise the scatter is all there is.

    References
    ----------
    .. [1] Covariance (J'J)^-1 times the reduced chi square, as scipy.optimize.curve_fit (from
       memory).
    """
    _, singular, rows = np.linalg.svd(jacobian, full_matrices=False)
    degrees = residual.size - jacobian.shape[1]
    variance = float(residual @ residual) / degrees if degrees else None
    factor = 1.0 if variance is None else max(1.0, variance) if is_weighted else variance
    with np.errstate(divide="ignore", invalid="ignore"):
        halves = rows / singular[:, None]
        covariance = factor * (halves.T @ halves)
        condition = float(singular[0] / singular[-1])
        deviations = np.asarray(np.sqrt(np.diag(covariance)))
        correlation = float(covariance[0, 1] / (deviations[0] * deviations[1]))
    quantile = float(student_quantile(np.asarray([degrees]))[0]) if degrees else NORMAL_QUANTILE
    return FitSpread(
        deviations=deviations,
        correlation=correlation,
        condition=condition,
        quantile=quantile,
        residual_sd=None if variance is None else float(np.sqrt(variance)),
        degrees=degrees,
    )
