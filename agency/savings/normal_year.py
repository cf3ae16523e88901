"""What a fitted model says of a normal year, how sure it is, and when not to believe it."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.stats import t as student

from agency.savings.bills import Days, Side, running_days, running_degree_days
from agency.savings.change_point import Fits
from agency.savings.errors import BillError

Array = NDArray[np.float64]

DAYS_A_YEAR = 365
MEGA = 1e6


class Bases(StrEnum):
    """Whether the base temperatures count among what is uncertain."""

    HELD = "held"
    """As if known beforehand: the form printed in RP-1050."""
    FITTED = "fitted"
    """Found from the same bills, to first order."""


class Fault(StrEnum):
    """Why a fit is not to be believed."""

    TOO_FEW_BILLS = "too_few_bills"
    NO_RISE = "no_rise"
    BASE_AT_EDGE = "base_at_edge"
    NEGATIVE_BASE_LOAD = "negative_base_load"


@dataclass(frozen=True, slots=True, kw_only=True)
class Rejection:
    """One reason in words."""

    fault: Fault
    message: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Yearly:
    """Energy of a normal year, an entry a home."""

    energy: Array
    """[J]"""
    standard_error: Array
    """Of the model's mean: a real year scatters about it. NaN where it cannot be told. [J]"""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Forecast:
    """What single periods should need, homes by periods."""

    rate: Array
    """[J/day]"""
    half_width: Array
    """Half the width of the prediction interval. [J/day]"""


def covariance(fits: Fits, *, bases: Bases) -> Array:
    """Covariance of base load, slopes and, if they count, bases; homes by p by p.

    NaN where bills are too few, or where some parameter does not show in them.
    """
    size = fits.gram.shape[-1] if bases is Bases.FITTED else 1 + fits.slopes.shape[-1]
    gram = fits.gram[:, :size, :size]
    scale = np.sqrt(np.maximum(np.einsum("hii->hi", gram), np.finfo(np.float64).tiny))
    # Slopes and bases differ by powers of ten; scaled, the rank means what it says.
    scaled = gram / (scale[:, :, None] * scale[:, None, :])
    inverse = np.linalg.pinv(scaled, hermitian=True)
    known = np.linalg.matrix_rank(scaled, hermitian=True) == size
    inverse = np.where(known[:, None, None], inverse, np.nan)
    return np.asarray(
        inverse / (scale[:, :, None] * scale[:, None, :]) * (fits.spread**2)[:, None, None]
    )


def standard_errors(fits: Fits, *, bases: Bases) -> Array:
    """Standard error of each parameter, homes by p, in the parameter's unit."""
    return np.asarray(np.sqrt(np.einsum("hii->hi", covariance(fits, bases=bases))))


def forecast(
    fits: Fits,
    *,
    temperature: ArrayLike,
    first: Days,
    days: Days,
    confidence: float,
    bases: Bases,
) -> Forecast:
    r"""Predicted rates of single periods with their prediction intervals.

    .. math:: t \sqrt{s^2 \bar d / d + g^T C g}

    which for bills of one length and a held base is
    :math:`t\, s \sqrt{1 + 1/n + (x - \bar x)^2 / S_{xx}}`.

    Parameters
    ----------
    temperature : array of days
        Daily means of the periods' weather. [°C]
    first, days : arrays of periods
        First day of each as an index, and its length :math:`d`.
    confidence : float
        Two-sided. [-]
    bases : Bases
        Whether :math:`C` counts them.

    References
    ----------
    .. [1] K. Kissock, J. Haberl and D. Claridge, RP-1050, ASHRAE Transactions 109(2), 2003,
       eq. 24 of the preprint, read in an excerpt.
    """
    rate, derivatives = _at(fits, temperature, first, days)
    matrix = covariance(fits, bases=bases)
    size = matrix.shape[-1]
    slack = np.einsum("hpi,hij,hpj->hp", derivatives[..., :size], matrix, derivatives[..., :size])
    own = _mean_days(fits)[:, None] / days * fits.spread[:, None] ** 2
    quantile = student.ppf((1 + confidence) / 2, fits.degrees_of_freedom)
    return Forecast(rate=rate, half_width=quantile[:, None] * np.sqrt(own + slack))


def normalized_annual(fits: Fits, *, normal: ArrayLike) -> Yearly:
    """Energy each home would need in a normal year (NAC).

    Parameters
    ----------
    normal : array of 365
        Daily means of the normal year. [°C]

    Raises
    ------
    BillError
        A year that is not 365 temperatures.

    References
    ----------
    .. [1] M. Fels, "PRISM: An Introduction", Energy and Buildings 9, 1986, from memory.
    """
    year = np.asarray(normal, dtype=np.float64)
    if year.shape != (DAYS_A_YEAR,) or not np.isfinite(year).all():
        raise BillError(
            f"the normal year has {year.size} daily temperatures [°C]; it must have "
            f"{DAYS_A_YEAR}, each a number. Load a complete normal year."
        )
    rate, derivatives = _at(fits, year, np.array([0]), np.array([DAYS_A_YEAR]))
    gradient = derivatives[:, 0]
    variance = np.einsum("hi,hij,hj->h", gradient, covariance(fits, bases=Bases.FITTED), gradient)
    return Yearly(energy=DAYS_A_YEAR * rate[:, 0], standard_error=DAYS_A_YEAR * np.sqrt(variance))


def yearly_saving(*, before: Fits, after: Fits, normal: ArrayLike) -> Yearly:
    """Energy saved in a normal year: both models on the same weather; negative when it rose."""
    was = normalized_annual(before, normal=normal)
    now = normalized_annual(after, normal=normal)
    return Yearly(
        energy=was.energy - now.energy,
        standard_error=np.hypot(was.standard_error, now.standard_error),
    )


def rejections(fits: Fits, *, fewest_bills: int) -> tuple[tuple[Rejection, ...], ...]:
    """Why each home's fit is not to be believed; nothing for a home where it is.

    Parameters
    ----------
    fewest_bills : int
        From the rule book.
    """
    return tuple(tuple(_faults(fits, home, fewest_bills)) for home in range(len(fits.base_load)))


def _faults(fits: Fits, home: int, fewest_bills: int) -> Sequence[Rejection]:
    found = []
    count = int(fits.bills[home])
    if count < max(fewest_bills, fits.model.parameters + 1):
        found.append(
            Rejection(
                fault=Fault.TOO_FEW_BILLS,
                message=f"{count} bills; at least {max(fewest_bills, fits.model.parameters + 1)} "
                f"are needed for the {fits.model} model. Add bills.",
            )
        )
    for side, name in enumerate(fits.model.sides):
        slope, base = fits.slopes[home, side], fits.bases[home, side]
        if not slope > 0:
            weather = "colder" if name is Side.HEATING else "warmer"
            found.append(
                Rejection(
                    fault=Fault.NO_RISE,
                    message=f"Energy does not rise in {weather} weather: the {name} slope is "
                    f"{slope / MEGA:.3g} MJ per K day; it must be above 0. Look for another "
                    f"{name} fuel, or choose a model without {name}.",
                )
            )
        if fits.at_edge[home, side]:
            found.append(
                Rejection(
                    fault=Fault.BASE_AT_EDGE,
                    message=f"The {name} base is {base:.1f} °C, an end of the range searched, "
                    f"{fits.search.lowest:.1f} to {fits.search.highest:.1f} °C, so the bills do "
                    "not show it. Look for a wood stove, a long absence or a wrong date.",
                )
            )
    if fits.base_load[home] < 0:
        found.append(
            Rejection(
                fault=Fault.NEGATIVE_BASE_LOAD,
                message=f"The base load is {fits.base_load[home] / MEGA:.3g} MJ a day; it must be "
                "0 or more. Look for a wrong bill, or for a fuel bought in bulk.",
            )
        )
    return found


def _at(fits: Fits, temperature: ArrayLike, first: Days, days: Days) -> tuple[Array, Array]:
    """Rate, and its derivatives by all parameters, of periods of some weather; homes first."""
    closing = np.asarray(first) + np.asarray(days)
    columns, shares = [], []
    for side, name in enumerate(fits.model.sides):
        bases = fits.bases[:, side]
        degrees = running_degree_days(temperature=temperature, bases=bases, side=name)
        beyond = running_days(temperature=temperature, bases=bases, side=name)
        columns.append((degrees[:, closing] - degrees[:, first]) / days)
        share = (beyond[:, closing] - beyond[:, first]) / days * fits.slopes[:, [side]]
        shares.append(share if name is Side.HEATING else -share)
    derivatives = np.stack([np.ones_like(columns[0]), *columns, *shares], axis=-1)
    linear = np.concatenate([fits.base_load[:, None], fits.slopes], axis=1)
    return np.einsum("hpi,hi->hp", derivatives[..., : linear.shape[1]], linear), derivatives


def _mean_days(fits: Fits) -> Array:
    return np.asarray(fits.table.days.sum(axis=1) / np.maximum(fits.bills, 1))
