"""Duct leakage in operation, from house leakage with the air handler on and off at many pressures.

Signs: house pressure and flow are positive outward. The difference is flow with the air handler
on less flow with it off at the same house pressure.
"""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from agency.leakage.duct_sweep_search import (
    figures_at,
    flow_shares,
    is_at_an_end,
    known_pressures,
    leaks_at,
    refit,
    relative_slopes,
    search_pressures,
)
from agency.leakage.errors import ShapeMismatch, SpanTooSmall, TooFewPoints
from agency.leakage.fit_spread import FitSpread, fit_spread
from agency.leakage.ranges import Array, above
from agency.leakage.refusals import at_least, finite
from agency.leakage.scaling import half_differences, leak_exponent


@dataclass(frozen=True, slots=True, kw_only=True)
class SweepRule:
    """What the rule book says of a sweep."""

    exponent: float
    u_exponent: float
    """Standard uncertainty of the assumed exponent. [-]"""
    largest_relative_uncertainty: float
    """Above it a leakage is not determined. [-]"""
    largest_condition: float
    """Ratio of the singular values above which the parameters cannot be told apart. [-]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class DuctPressures:
    """Operating pressures across the leaks, magnitudes against the house, and how well known."""

    supply: float
    """[Pa]"""
    return_: float
    """[Pa]"""
    u_supply: float
    u_return: float
    """Standard uncertainties. [Pa]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """A fitted figure with its standard uncertainty and 95 % interval."""

    value: float
    u: float
    low: float
    high: float
    is_determined: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class SweepFit:
    """Leakage of supply and return to outside in operation."""

    supply: Estimate
    """[m³/s]"""
    return_: Estimate
    """[m³/s]"""
    supply_pressure: Estimate | None
    """None where it was given, not fitted. [Pa]"""
    return_pressure: Estimate | None
    """[Pa]"""
    correlation: float
    """Of supply and return leakage, or of their logarithms. [-]"""
    condition: float
    """Largest over smallest singular value of the fit; infinite where a duct pressure ran to an
    end of the search. [-]"""
    residual_sd: float | None
    """None with as many points as parameters. [m³/s], or [-] where uncertainties were stated."""
    degrees: int
    words: tuple[str, ...]
    """What the readings do not tell; empty where they tell all."""


def sweep_difference(
    *,
    house_pressure: ArrayLike,
    supply: ArrayLike,
    return_: ArrayLike,
    supply_pressure: ArrayLike,
    return_pressure: ArrayLike,
    exponent: ArrayLike,
) -> Array:
    r"""Change of the house's leakage when the air handler runs.

    .. math::
        \Delta Q(x) = Q_s [s(1 + x/P_s) - s(x/P_s)] + Q_r [s(x/P_r - 1) - s(x/P_r)],\quad
        s(y) = \mathrm{sgn}(y) |y|^n

    Parameters
    ----------
    house_pressure : array_like
        House less outside :math:`x`, shape (...). [Pa]
    supply, return_ : array_like
        Leakage to outside in operation :math:`Q_s, Q_r`, shape (...). [m³/s]
    supply_pressure, return_pressure : array_like
        Operating pressures against the house :math:`P_s, P_r`, magnitudes, more than 0. [Pa]
    exponent : array_like
        Exponent :math:`n` of the duct leaks. [-]

    Returns
    -------
    ndarray
        Positive when the air handler adds flow outward, shape (...). [m³/s]

    Notes
    -----
    The pressure between ducts and house is taken not to change with the house's. Where it does,
    the method is biased.

    References
    ----------
    .. [1] DeltaQ test, ASTM E1554 (from memory); this signed form derived.
    """
    from_supply, from_return = flow_shares(
        finite("House pressure", house_pressure, unit="Pa"),
        above("Supply pressure", supply_pressure, low=0, unit="Pa"),
        above("Return pressure", return_pressure, low=0, unit="Pa"),
        leak_exponent(exponent),
    )
    return np.asarray(np.asarray(supply) * from_supply + np.asarray(return_) * from_return)


def fit_with_pressures(
    *,
    house_pressure: ArrayLike,
    difference: ArrayLike,
    u_difference: ArrayLike | None,
    pressures: DuctPressures,
    rule: SweepRule,
) -> SweepFit:
    """Two leakages by linear least squares, the duct pressures having been measured.

    Parameters
    ----------
    house_pressure, difference : array_like
        Sweep, shape (N,). [Pa], [m³/s]
    u_difference : array_like or None
        Standard uncertainty of each difference, shape (N,) or one; None: from the scatter, which
        takes 3 points or more. [m³/s]
    pressures : DuctPressures
    rule : SweepRule

    Returns
    -------
    SweepFit
        Uncertainties hold the scatter, the duct pressures and the exponent. A leakage may come
        out below 0; it is left so.

    Raises
    ------
    LeakageError
        Too few points, arrays that do not fit, or one house pressure only.

    References
    ----------
    .. [1] Weighted linear least squares, JCGM 100:2008 H.3 (from memory); model as in
       `sweep_difference`.
    """
    x, y, sigma = _sweep(house_pressure, difference, u_difference, parameters=2)
    known = {
        "supply": float(above("Supply pressure", pressures.supply, low=0, unit="Pa")),
        "return": float(above("Return pressure", pressures.return_, low=0, unit="Pa")),
        "exponent": float(leak_exponent(rule.exponent)),
    }
    leaks, shares = leaks_at(x, y, sigma, known)
    scaled = shares / np.linalg.norm(shares, axis=0)
    spread = fit_spread(
        jacobian=scaled,
        residual=y / sigma - shares @ leaks,
        is_weighted=u_difference is not None,
    )
    deviations = spread.deviations / np.linalg.norm(shares, axis=0)
    assumed = _by_assumption(x=x, y=y, sigma=sigma, known=known, pressures=pressures, rule=rule)
    u = np.hypot(deviations, assumed)
    estimates = [
        _estimate(float(value), float(one), float(spread.quantile), rule)
        for value, one in zip(leaks, u, strict=True)
    ]
    return _fit(estimates, spread, rule)


def fit_sweep(
    *,
    house_pressure: ArrayLike,
    difference: ArrayLike,
    u_difference: ArrayLike | None,
    rule: SweepRule,
) -> SweepFit:
    """Two leakages and both duct pressures, by least squares.

    Parameters
    ----------
    house_pressure, difference, u_difference, rule
        As for `fit_with_pressures`; the scatter takes 5 points or more.

    Returns
    -------
    SweepFit
        Intervals are those of the logarithms, so lopsided. The uncertainty of the exponent is
        counted in.

    Raises
    ------
    LeakageError
        As `fit_with_pressures`; NotConverged where no start led to an end.

    Notes
    -----
    Where the duct pressures were measured, `fit_with_pressures` tells the leakages about twice as
    well.

    References
    ----------
    .. [1] Leakages solved for at each pair of pressures (variable projection, Golub and Pereyra
       1973, from memory); model as in `sweep_difference`.
    """
    x, y, sigma = _sweep(house_pressure, difference, u_difference, parameters=4)
    exponent = float(leak_exponent(rule.exponent))
    best = search_pressures(x=x, y=y, sigma=sigma, exponent=exponent)
    figures = figures_at(x, y, sigma, known_pressures(best, exponent))
    jacobian, residual = relative_slopes(x, y, sigma, figures, exponent)
    spread = fit_spread(jacobian=jacobian, residual=residual, is_weighted=u_difference is not None)
    if is_at_an_end(best):
        spread = replace(spread, condition=math.inf)
    assumed = np.zeros(4)
    if at_least("u(exponent)", rule.u_exponent, low=0, unit="") > 0:
        low, high = (
            refit(x, y, sigma, best, n)
            for n in (exponent - rule.u_exponent, exponent + rule.u_exponent)
        )
        with np.errstate(divide="ignore", invalid="ignore"):
            assumed = np.abs(high - low) / (2 * np.abs(figures))
    estimates = [
        _log_estimate(float(value), float(u), spread.quantile, rule)
        for value, u in zip(figures, np.hypot(spread.deviations, assumed), strict=True)
    ]
    return _fit(estimates, spread, rule)


def _sweep(
    house_pressure: ArrayLike, difference: ArrayLike, u: ArrayLike | None, *, parameters: int
) -> tuple[Array, Array, Array]:
    x = finite("House pressure", house_pressure, unit="Pa")
    y = finite("Difference of flow", difference, unit="m³/s")
    if x.ndim != 1 or x.shape != y.shape:
        raise ShapeMismatch(
            f"House pressures and differences of flow have shapes {x.shape} and {y.shape}; "
            "give one difference for each pressure of the sweep."
        )
    least = parameters if u is not None else parameters + 1
    if x.size < least:
        raise TooFewPoints(
            quantity="Number of house pressures",
            value=x.size,
            limit=f"at least {least}",
            next_step="Take more points, on both sides of 0.",
        )
    if np.ptp(x) == 0:
        raise SpanTooSmall(
            quantity="Range of the house pressures",
            value=0,
            unit="Pa",
            limit="more than 0",
            next_step="Take points at several pressures, on both sides of 0.",
        )
    sigma = above("Uncertainty of a difference", 1.0 if u is None else u, low=0, unit="m³/s")
    return x, y, np.broadcast_to(sigma, x.shape)


def _by_assumption(
    *,
    x: Array,
    y: Array,
    sigma: Array,
    known: Mapping[str, float],
    pressures: DuctPressures,
    rule: SweepRule,
) -> Array:
    """What the given duct pressures and exponent add to the uncertainty of either leakage."""
    uncertainties = {
        "supply": float(at_least("u(supply pressure)", pressures.u_supply, low=0, unit="Pa")),
        "return": float(at_least("u(return pressure)", pressures.u_return, low=0, unit="Pa")),
        "exponent": float(at_least("u(exponent)", rule.u_exponent, low=0, unit="")),
    }

    def leak(place: int) -> Callable[[Mapping[str, float]], float]:
        def at(values: Mapping[str, float]) -> float:
            return float(leaks_at(x, y, sigma, values)[0][place])

        return at

    return np.array(
        [half_differences(leak(i), values=known, uncertainties=uncertainties) for i in range(2)]
    )


def _estimate(value: float, u: float, quantile: float, rule: SweepRule) -> Estimate:
    half = quantile * u
    is_determined = u <= rule.largest_relative_uncertainty * value
    return Estimate(
        value=value, u=u, low=value - half, high=value + half, is_determined=is_determined
    )


def _log_estimate(value: float, u: float, quantile: float, rule: SweepRule) -> Estimate:
    with np.errstate(over="ignore", under="ignore"):
        low, high = sorted(float(value * np.exp(sign * quantile * u)) for sign in (-1.0, 1.0))
    is_determined = value > 0 and u <= rule.largest_relative_uncertainty
    return Estimate(value=value, u=u * abs(value), low=low, high=high, is_determined=is_determined)


def _fit(estimates: list[Estimate], spread: FitSpread, rule: SweepRule) -> SweepFit:
    told_apart = spread.condition <= rule.largest_condition
    found = [replace(one, is_determined=told_apart and one.is_determined) for one in estimates]
    names = ("Supply leakage", "Return leakage", "Supply pressure", "Return pressure")
    words = [] if told_apart else [
        "These readings do not tell supply and return apart. Take points on both sides of 0, from "
        "below the duct pressures to above them, or measure the duct pressures."
    ]  # fmt: skip
    for name, one in zip(names, found, strict=False):
        if not one.is_determined:
            words.append(f"{name} is not determined by these readings.")
        if one.value < 0:
            words.append(f"{name} came out below 0: noise, or a sign entered the wrong way.")
    return SweepFit(
        supply=found[0],
        return_=found[1],
        supply_pressure=found[2] if len(found) > 2 else None,
        return_pressure=found[3] if len(found) > 2 else None,
        correlation=spread.correlation,
        condition=spread.condition,
        residual_sd=spread.residual_sd,
        degrees=spread.degrees,
        words=tuple(words),
    )
