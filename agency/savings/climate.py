"""Degree days of a year, each counted by a named convention; they are not interchangeable."""

import math
from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.stats import norm

from agency.savings.errors import ClimateError

Array = NDArray[np.float64]

HOURS_A_DAY = 24
ERBS_A = 1.698
"""Shape factor of the Erbs distribution. [-]  Erbs, Klein and Beckman 1983, from memory."""
ERBS_SPREAD = (1.45, -0.0290, 0.0664)
"""Spread of a month's daily means: constant, per mean, per yearly spread. [K], [-], [-]
Erbs, Klein and Beckman 1983, from memory."""


class Convention(StrEnum):
    """How the degree days of one day are counted."""

    HOURLY = "hourly"
    """Mean over the day's hours of the part beyond the base."""
    DAILY_MEAN = "daily_mean"
    """Mean of the day's hours, then the part beyond the base."""
    MAX_MIN = "max_min"
    """Half of the day's highest plus lowest, then the part beyond the base (weather service)."""


def heating_degree_days(temperature: ArrayLike, *, base: float, convention: Convention) -> float:
    """Degree days below a base, over whole days of hourly temperatures.

    Parameters
    ----------
    temperature : array, one per hour, whole days from the first hour on
        [°C]
    base : float
        [°C]
    convention : Convention
        The same year differs by several per cent between conventions.

    Returns
    -------
    float
        [K day]

    References
    ----------
    .. [1] Max/min: National Weather Service practice, Western Regional Climate Center, read.
    """
    return float(np.maximum(0.0, base - _day_figures(temperature, convention)).mean(-1).sum())


def cooling_degree_days(temperature: ArrayLike, *, base: float, convention: Convention) -> float:
    """Degree days above a base; else as `heating_degree_days`. [K day]"""
    return float(np.maximum(0.0, _day_figures(temperature, convention) - base).mean(-1).sum())


def erbs_heating_degree_days(*, monthly_means: ArrayLike, days: ArrayLike, base: float) -> float:
    r"""Degree days below a base from the twelve monthly means alone.

    .. math:: h = \frac{T_b - T_m}{s_m \sqrt N}, \quad
       D = s_m N^{1.5} \left(\frac h2 + \frac{\ln(e^{-ah} + e^{ah})}{2a}\right)

    Parameters
    ----------
    monthly_means : array of 12
        Mean temperature :math:`T_m` of each month. [°C]
    days : array of 12
        Days :math:`N` of each month. [-]
    base : float
        Base temperature :math:`T_b`. [°C]

    Returns
    -------
    float
        [K day]

    References
    ----------
    .. [1] D. G. Erbs, S. A. Klein and W. A. Beckman, ASHRAE Journal, June 1983, from memory.
    """
    means, lengths = _months(monthly_means, days)
    return _erbs(base - means, _erbs_spread(means), lengths)


def erbs_cooling_degree_days(*, monthly_means: ArrayLike, days: ArrayLike, base: float) -> float:
    """Degree days above a base; the mirror of `erbs_heating_degree_days`. [K day]"""
    means, lengths = _months(monthly_means, days)
    return _erbs(means - base, _erbs_spread(means), lengths)


def schoenau_heating_degree_days(
    *, monthly_means: ArrayLike, daily_spreads: ArrayLike, days: ArrayLike, base: float
) -> float:
    r"""Degree days below a base from monthly means and the spread of the daily means.

    .. math:: D = N s \left(Z \Phi(Z) + \phi(Z)\right), \quad Z = (T_b - T_m) / s

    Parameters
    ----------
    monthly_means : array of 12
        :math:`T_m`. [°C]
    daily_spreads : array of 12
        Standard deviation :math:`s` of the month's daily means. [K]
    days : array of 12
        :math:`N`. [-]
    base : float
        :math:`T_b`. [°C]

    Returns
    -------
    float
        [K day]

    References
    ----------
    .. [1] G. J. Schoenau and R. A. Kehrig, Energy and Buildings 14, 1990, from memory.
    """
    means, lengths = _months(monthly_means, days)
    return _schoenau(base - means, _spreads(daily_spreads), lengths)


def schoenau_cooling_degree_days(
    *, monthly_means: ArrayLike, daily_spreads: ArrayLike, days: ArrayLike, base: float
) -> float:
    """Degree days above a base; the mirror of `schoenau_heating_degree_days`. [K day]"""
    means, lengths = _months(monthly_means, days)
    return _schoenau(means - base, _spreads(daily_spreads), lengths)


def _erbs(beyond: Array, spread: Array, lengths: Array) -> float:
    """Degree days of months whose means are `beyond` the base, by the cosh form."""
    h = beyond / (spread * np.sqrt(lengths))
    share = h / 2 + np.logaddexp(-ERBS_A * h, ERBS_A * h) / (2 * ERBS_A)
    return float((spread * lengths**1.5 * share).sum())


def _erbs_spread(means: Array) -> Array:
    constant, per_mean, per_yearly = ERBS_SPREAD
    return np.asarray(constant + per_mean * means + per_yearly * means.std())


def _schoenau(beyond: Array, spreads: Array, lengths: Array) -> float:
    z = beyond / spreads
    return float((lengths * spreads * (z * norm.cdf(z) + norm.pdf(z))).sum())


def _spreads(daily_spreads: ArrayLike) -> Array:
    spreads = np.asarray(daily_spreads, dtype=np.float64)
    if spreads.shape != (12,) or not (spreads > 0).all():
        raise ClimateError("daily spreads [K] must be one positive number for each month.")
    return spreads


def _months(means: ArrayLike, days: ArrayLike) -> tuple[Array, Array]:
    means = np.asarray(means, dtype=np.float64)
    lengths = np.asarray(days, dtype=np.float64)
    if means.shape != (12,) or lengths.shape != (12,) or not np.isfinite(means).all():
        raise ClimateError("monthly means [°C] and days must be twelve numbers each.")
    return means, lengths


def _day_figures(temperature: ArrayLike, convention: Convention) -> Array:
    """One row a day: all its hours, or the one figure the convention makes of them."""
    hours = np.asarray(temperature, dtype=np.float64)
    if hours.ndim != 1 or hours.size == 0 or hours.size % HOURS_A_DAY:
        raise ClimateError(
            f"{hours.size} hourly temperatures are not whole days of 24. Use a complete year; "
            "hours left out shift every day after them."
        )
    if not math.isfinite(float(hours.sum())):
        raise ClimateError("a temperature [°C] is missing. Use a complete year.")
    by_day = hours.reshape(-1, HOURS_A_DAY)
    if convention is Convention.HOURLY:
        return by_day
    if convention is Convention.DAILY_MEAN:
        return np.asarray(by_day.mean(axis=-1, keepdims=True))
    ends = by_day.max(axis=-1, keepdims=True) + by_day.min(axis=-1, keepdims=True)
    return np.asarray(ends / 2)
