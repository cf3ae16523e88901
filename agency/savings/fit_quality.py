"""How well a model follows the bills, and how sure a saving found with it is."""

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.stats import t as student

from agency.savings.errors import BillError

Array = NDArray[np.float64]

FACTOR_OF_2002 = 1.26
"""Empirical factor of the simplified form. [-]  ASHRAE Guideline 14-2002, from memory."""
MONTHLY_FACTOR_OF_2014 = (-0.00022, 0.03306, 0.94054)
"""Square, first and zeroth power of the months reported. ASHRAE Guideline 14-2014, monthly
models, from memory."""


def cv_rmse(*, measured: ArrayLike, predicted: ArrayLike, parameters: int) -> Array:
    r"""Coefficient of variation of the root mean square error, over the last axis.

    .. math:: \frac{1}{\bar y} \sqrt{\frac{\sum (y - \hat y)^2}{n - p}}

    Parameters
    ----------
    measured, predicted : arrays
        Of periods of about one length, in any one unit.
    parameters : int
        :math:`p`: 3 or 5 for a change-point model, 1 for a calibrated simulation.

    Returns
    -------
    array
        As a fraction. [-]

    References
    ----------
    .. [1] ASHRAE Guideline 14-2014, from memory.
    """
    y, residuals, free = _compared(measured, predicted, parameters)
    return np.asarray(np.sqrt((residuals**2).sum(axis=-1) / free) / y.mean(axis=-1))


def nmbe(*, measured: ArrayLike, predicted: ArrayLike, parameters: int) -> Array:
    r"""Normalized mean bias error; above 0 when the model is too low. As `cv_rmse`.

    .. math:: \frac{\sum (y - \hat y)}{(n - p)\, \bar y}
    """
    y, residuals, free = _compared(measured, predicted, parameters)
    return np.asarray(residuals.sum(axis=-1) / free / y.mean(axis=-1))


def lag_one_autocorrelation(residuals: ArrayLike) -> Array:
    r"""How much a residual resembles the one before it, over the last axis.

    .. math:: r = \sum_{i=2}^n e_i e_{i-1} / \sum_{i=1}^n e_i^2

    Between -1 and 1; 0 where all residuals are 0. [-]
    """
    e = np.asarray(residuals, dtype=np.float64)
    squares = (e**2).sum(axis=-1)
    products = (e[..., 1:] * e[..., :-1]).sum(axis=-1)
    return np.where(squares > 0, products / np.where(squares > 0, squares, 1.0), 0.0)


def effective_count(*, count: ArrayLike, autocorrelation: ArrayLike) -> Array:
    r"""Independent readings that tell as much as the correlated ones.

    .. math:: n' = n \frac{1 - r}{1 + r}

    References
    ----------
    .. [1] ASHRAE Guideline 14-2014, from memory.
    """
    r = np.asarray(autocorrelation, dtype=np.float64)
    if not (np.abs(r) < 1).all():
        raise BillError(
            "the autocorrelation of the residuals must be above -1 and below 1. Use the lag-1 "
            "autocorrelation of one home's residuals in order of time."
        )
    return np.asarray(np.asarray(count) * (1 - r) / (1 + r))


def monthly_factor_of_2014(months: ArrayLike) -> Array:
    """Factor of the simplified form for monthly models, by the months reported. [-]"""
    return np.asarray(np.polyval(MONTHLY_FACTOR_OF_2014, np.asarray(months, dtype=np.float64)))


def student_quantile(*, confidence: float, degrees_of_freedom: ArrayLike) -> Array:
    """Two-sided quantile of Student's t. [-]"""
    return np.asarray(student.ppf((1 + confidence) / 2, degrees_of_freedom), dtype=np.float64)


def fractional_savings_uncertainty(
    *,
    cv_rmse: ArrayLike,
    fraction_saved: ArrayLike,
    bills_before: ArrayLike,
    effective_before: ArrayLike,
    bills_after: ArrayLike,
    quantile: ArrayLike,
    factor: ArrayLike,
) -> Array:
    r"""Uncertainty of a saving over the saving, by the simplified form.

    .. math:: \frac{\Delta E}{E} = \frac{t\, a\, CV
       \sqrt{\frac{n}{n'} \left(1 + \frac{2}{n'}\right) \frac 1m}}{F}

    Parameters
    ----------
    cv_rmse : float or array
        :math:`CV` of the model before, as a fraction. [-]
    fraction_saved : float or array
        :math:`F`, saving over what would have been used. [-]
    bills_before, effective_before : float or array
        :math:`n`, and :math:`n'` from `effective_count`. [-]
    bills_after : float or array
        :math:`m`. [-]
    quantile : float or array
        :math:`t`, from `student_quantile`. [-]
    factor : float or array
        :math:`a`: `FACTOR_OF_2002` or `monthly_factor_of_2014`. [-]

    Returns
    -------
    array
        [-]

    Raises
    ------
    BillError
        Nothing saved: the uncertainty has nothing to be a fraction of.

    Notes
    -----
    Published comparisons find that the simplified form can mislead; hold it against
    `savings_bootstrap`.

    References
    ----------
    .. [1] ASHRAE Guideline 14-2002 and 14-2014, from memory.
    """
    saved = np.asarray(fraction_saved, dtype=np.float64)
    if not (saved > 0).all():
        raise BillError(
            f"the fraction saved is {np.min(saved):g}; it must be above 0. State the saving with "
            "its interval in energy instead."
        )
    n, effective = np.asarray(bills_before), np.asarray(effective_before, dtype=np.float64)
    spread = np.sqrt(n / effective * (1 + 2 / effective) / np.asarray(bills_after))
    return np.asarray(np.asarray(quantile) * factor * np.asarray(cv_rmse) * spread / saved)


def _compared(
    measured: ArrayLike, predicted: ArrayLike, parameters: int
) -> tuple[Array, Array, int]:
    y = np.asarray(measured, dtype=np.float64)
    residuals = y - np.asarray(predicted, dtype=np.float64)
    free = residuals.shape[-1] - parameters if residuals.ndim else 0
    if free < 1:
        raise BillError(
            f"{residuals.shape[-1] if residuals.ndim else 1} periods for {parameters} parameters; "
            "there must be more periods than parameters. Add periods."
        )
    if not (y.mean(axis=-1) > 0).all():
        raise BillError(
            "the mean of the measured energy must be above 0, or nothing can be a share of it. "
            "Use periods in which energy was used."
        )
    return y, residuals, free
