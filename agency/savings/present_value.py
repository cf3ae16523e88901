"""What a yearly saving over many years is worth today, by named conventions of timing."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from agency.savings.errors import EconomicsError

Array = NDArray[np.float64]

HIGHEST_RATE = 1.0
"""Above it a percentage was typed for a fraction. [-]  Common practice, no source."""
LONGEST_LIFE = 100
"""Above it months were typed for years. [a]  Common practice, no source."""


def uniform_present_value(*, discount_rate: ArrayLike, years: ArrayLike) -> Array:
    r"""Present value of 1 paid at the end of each year (UPV).

    .. math:: \mathrm{UPV} = \sum_{k=1}^N (1+d)^{-k} = \frac{1-(1+d)^{-N}}{d}

    Parameters
    ----------
    discount_rate : float or array
        :math:`d` per year, as a fraction; 0 gives :math:`N`. [-]
    years : int or array
        Lifetime :math:`N`. [a]

    Returns
    -------
    array
        Broadcast shape of both. [a]

    Raises
    ------
    EconomicsError
        A rate that is no fraction, a lifetime that is no whole number of years.

    References
    ----------
    .. [1] S. Fuller and S. Petersen, NIST Handbook 135, 1995, from memory.
    """
    return escalated_present_value(discount_rate=discount_rate, escalation=0.0, years=years)


def escalated_present_value(
    *, discount_rate: ArrayLike, escalation: ArrayLike, years: ArrayLike
) -> Array:
    r"""Present value of a saving worth 1 at today's price, paid at each year's end (UPV*).

    .. math:: \mathrm{UPV}^* = \sum_{k=1}^N q^k = \frac{1+e}{d-e}\left(1-q^N\right), \quad
       q = \frac{1+e}{1+d}; \qquad d = e:\ N

    Parameters
    ----------
    discount_rate : float or array
        :math:`d`. [-]
    escalation : float or array
        Yearly growth :math:`e` of the energy price; real beside a real rate, nominal beside a
        nominal one. [-]
    years : int or array
        :math:`N`. [a]

    Returns
    -------
    array
        [a]

    References
    ----------
    .. [1] US General Services Administration, Facilities Standards P100, life-cycle costing,
       read; it restates NIST Handbook 135.
    """
    d, e, n = _rates_and_years(discount_rate, escalation, years)
    growth = (e - d) / (1 + d)
    same = growth == 0
    divisor = np.where(same, 1.0, growth)
    # expm1 and log1p keep the digits that 1 - q**N loses when both rates are close.
    total = (1 + growth) * np.expm1(n * np.log1p(growth)) / divisor
    return np.where(same, n, total)


def mid_year_present_value(
    *, discount_rate: ArrayLike, escalation: ArrayLike, years: ArrayLike
) -> Array:
    r"""As `escalated_present_value` with each year's saving paid at its middle.

    .. math:: \sum_{k=1}^N q^{k-1/2} = \mathrm{UPV}^* / \sqrt q

    Notes
    -----
    The factors printed in MIL-HDBK-1003/13A, table 3-5a, agree with this timing to 1 in 18,000;
    end-of-year timing, which NIST Handbook 135 uses, is 1.4 % lower there. Never compare a ratio
    by one timing with a limit or a ratio by the other.
    """
    d, e, _ = _rates_and_years(discount_rate, escalation, years)
    at_end = escalated_present_value(
        discount_rate=discount_rate, escalation=escalation, years=years
    )
    return np.asarray(at_end * np.sqrt((1 + d) / (1 + e)))


def indexed_present_value(*, discount_rate: ArrayLike, price_indices: ArrayLike) -> Array:
    r"""UPV* with a table of yearly energy price indices in place of one growth rate.

    .. math:: \mathrm{UPV}^* = \sum_{k=1}^N I_k (1+d)^{-k}

    Parameters
    ----------
    discount_rate : float or array
        :math:`d`; of the shape of `price_indices` without its last axis. [-]
    price_indices : array
        Price :math:`I_k` of year 1 to :math:`N` over today's, along the last axis. [-]

    Returns
    -------
    array
        [a]

    References
    ----------
    .. [1] The form of NISTIR 85-3273, annual supplement to NIST Handbook 135, from memory.
    """
    indices = np.asarray(price_indices, dtype=np.float64)
    if indices.ndim == 0 or indices.shape[-1] == 0 or not (indices > 0).all():
        raise EconomicsError(
            "price indices must be one number above 0 for each year. Give this year's price as 1, "
            "not as 100, and leave no year out."
        )
    years = indices.shape[-1]
    d, _, _ = _rates_and_years(discount_rate, 0.0, years)
    discounts = (1 + d[..., None]) ** -np.arange(1.0, years + 1)
    return np.asarray((indices * discounts).sum(axis=-1))


def net_present_value(*, present_value: ArrayLike, cost: ArrayLike) -> Array:
    """Present value of the savings less what was spent today. [$]"""
    return np.asarray(np.asarray(present_value, dtype=np.float64) - np.asarray(cost))


def simple_payback(*, cost: float, first_year_saving: float) -> float | None:
    """Years until undiscounted savings equal the cost; None when nothing is saved. [a]"""
    if not cost >= 0:
        raise EconomicsError(f"cost is {cost:g} $; it must be 0 or more. Correct the cost.")
    return cost / first_year_saving if first_year_saving > 0 else None


def nominal_rate(*, real: ArrayLike, inflation: ArrayLike) -> Array:
    r"""The rate that includes inflation.

    .. math:: 1 + d_n = (1 + d_r)(1 + i)

    Holds for a price growth as for a discount rate; all rates of one present value must be of
    the same kind. [-]
    """
    real_part, price_part, _ = _rates_and_years(real, inflation, 1)
    return np.asarray(real_part + price_part + real_part * price_part)


def real_rate(*, nominal: ArrayLike, inflation: ArrayLike) -> Array:
    """The rate without inflation; the inverse of `nominal_rate`. [-]"""
    whole, price_part, _ = _rates_and_years(nominal, inflation, 1)
    return np.asarray((whole - price_part) / (1 + price_part))


def _rates_and_years(
    discount: ArrayLike, growth: ArrayLike, years: ArrayLike
) -> tuple[Array, Array, Array]:
    d = _rate(discount, "discount rate")
    e = _rate(growth, "price growth or inflation")
    n = np.asarray(years, dtype=np.float64)
    whole = (n >= 1) & (n <= LONGEST_LIFE) & (n == np.round(n))
    if not whole.all():
        wrong = np.atleast_1d(n)[~np.atleast_1d(whole)][0]
        raise EconomicsError(
            f"lifetime is {wrong:g} years; it must be a whole number of 1 to {LONGEST_LIFE}. Give "
            "the years the measure lasts."
        )
    return d, e, n


def _rate(value: ArrayLike, name: str) -> Array:
    rate = np.asarray(value, dtype=np.float64)
    fraction = (rate > -1) & (rate <= HIGHEST_RATE)
    if not fraction.all():
        wrong = np.atleast_1d(rate)[~np.atleast_1d(fraction)][0]
        raise EconomicsError(
            f"{name} is {wrong:g}; it must be above -1 and at most {HIGHEST_RATE:g}. Give a "
            "fraction: 0.03, not 3."
        )
    return rate
