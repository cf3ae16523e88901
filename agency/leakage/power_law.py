"""Leakage flow against pressure, Q = C dP^n: fitted, with an assumed exponent, or of two stations.

Shapes: readings (..., N) with points along the last axis, figures (...). A run that cannot be
fitted holds NaN and says why in `law.line.reason`; functions for one run refuse it instead.
"""

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike

from agency.leakage.errors import (
    LeakageError,
    NotConverged,
    NotPositive,
    SpanTooSmall,
    TooFewPoints,
)
from agency.leakage.line import (
    NORMAL_QUANTILE,
    Line,
    Mask,
    Reason,
    as_runs,
    half_width_at,
    height_at,
    least_squares,
    student_quantile,
    uncertainty_at,
)
from agency.leakage.ranges import Array


class ExponentSource(StrEnum):
    """Where the exponent of a power law comes from."""

    FITTED = "fitted"
    ASSUMED = "assumed"
    TWO_POINT = "two_point"


@dataclass(frozen=True, slots=True, kw_only=True)
class Interval:
    """A figure with both ends of its 95 % interval; NaN where one does not exist."""

    value: Array
    low: Array
    high: Array


def number_or_none(figure: ArrayLike) -> float | None:
    """A single figure as a plain number; None where it does not exist, never 0."""
    value = float(np.asarray(figure, dtype=np.float64))
    return value if np.isfinite(value) else None


@dataclass(frozen=True, slots=True, kw_only=True)
class PowerLaw:
    """Power laws, an entry a run: lines of ln Q against ln dP."""

    line: Line
    exponent_source: ExponentSource

    @property
    def coefficient(self) -> Array:
        """C, never rounded. [m³/(s Pa^n)]"""
        return np.asarray(np.exp(self.line.intercept))

    @property
    def exponent(self) -> Array:
        """n. [-]"""
        return self.line.slope


def fit_power_law(
    *, pressure: ArrayLike, flow: ArrayLike, used: ArrayLike | None = None
) -> PowerLaw:
    r"""Fit :math:`Q = C \Delta p^n` by ordinary least squares on the logarithms.

    Parameters
    ----------
    pressure : array_like
        Induced pressure :math:`\Delta p`, corrected for the baseline, shape (..., N). [Pa]
    flow : array_like
        Flow through the leaks :math:`Q`, shape (..., N). [m³/s]
    used : array_like of bool, optional
        Points to use, shape (..., N); left out, all. Readings of other points are not looked at.

    Returns
    -------
    PowerLaw
        Shape (...).

    Raises
    ------
    ShapeMismatch
        The arrays do not fit each other.

    References
    ----------
    .. [1] ASTM E779-19, 9.5 and Annex A1; ISO 9972:2015, 6.3 and Annex C (both from memory).
    """
    x, y, mask = logarithms(pressure, flow, used)
    return PowerLaw(line=least_squares(x=x, y=y, used=mask), exponent_source=ExponentSource.FITTED)


def fit_with_exponent(
    *,
    pressure: ArrayLike,
    flow: ArrayLike,
    exponent: float,
    u_exponent: float,
    used: ArrayLike | None = None,
) -> PowerLaw:
    r"""Coefficient under an assumed exponent, from one reading or the mean of repeats.

    .. math:: \ln C = \overline{\ln Q} - n\,\overline{\ln \Delta p}

    Parameters
    ----------
    pressure, flow, used
        As for `fit_power_law`; one point is enough.
    exponent : float
        Assumed exponent :math:`n`. [-]
    u_exponent : float
        Standard uncertainty of the assumption. [-]

    Returns
    -------
    PowerLaw
        Shape (...). One reading says nothing of its scatter, so its interval is NaN. With
        repeats the interval takes Student's t for the assumed exponent as well, which errs wide.

    References
    ----------
    .. [1] ASTM E1827, single-point method (from memory); error of the mean (derived).
    """
    x, y, mask = logarithms(pressure, flow, used)
    points = np.count_nonzero(mask, axis=-1)
    finite = np.all(~mask | (np.isfinite(x) & np.isfinite(y)), axis=-1)
    reason = np.where(finite, Reason.FITTED, Reason.NOT_POSITIVE).astype(np.int8)
    reason[points == 0] = Reason.TOO_FEW_POINTS
    with np.errstate(invalid="ignore"):
        count = np.where(reason == Reason.FITTED, points, np.nan)
        centre = np.where(mask, x, 0.0).sum(axis=-1) / count
        level = np.where(mask, y - exponent * x, 0.0).sum(axis=-1) / count
        error = np.where(mask, y - exponent * x - level[..., None], 0.0)
        free = np.where(count > 1, count - 1, np.nan)
        scatter = np.sqrt(np.einsum("...i,...i", error, error) / free)
    line = Line(
        intercept=level,
        slope=np.where(np.isnan(level), np.nan, exponent),
        centre=centre,
        u_height=scatter / np.sqrt(count),
        u_slope=np.where(np.isnan(level), np.nan, u_exponent),
        residual_sd=scatter,
        r_squared=np.full(points.shape, np.nan),
        quantile=student_quantile(free),
        points=points,
        reason=reason,
    )
    return PowerLaw(line=line, exponent_source=ExponentSource.ASSUMED)


def two_point_law(*, pressure: ArrayLike, flow: ArrayLike, u_flow: ArrayLike) -> PowerLaw:
    r"""Power law through the averages of two stations.

    .. math::
        n = \frac{\ln(Q_1/Q_2)}{\ln(\Delta p_1/\Delta p_2)},\quad
        u(n) = \frac{\sqrt{u_1^2 + u_2^2}}{|\ln(\Delta p_1/\Delta p_2)|}

    Parameters
    ----------
    pressure, flow : array_like
        Station averages, shape (..., 2). [Pa], [m³/s]
    u_flow : array_like
        Relative standard uncertainty of either flow, independent of the other's, shape (..., 2)
        or (2,); NaN where not known, never 0 for want of a figure. [-]

    Returns
    -------
    PowerLaw
        Shape (...); its interval is NaN where `u_flow` is.

    Raises
    ------
    TooFewPoints
        Not two stations.

    References
    ----------
    .. [1] ASTM E1827, two-point method (from memory); uncertainties (derived).
    """
    x, y, _ = logarithms(pressure, flow, None)
    if x.shape[-1] != 2:
        raise TooFewPoints(
            quantity="Number of stations",
            value=x.shape[-1],
            limit="2",
            next_step="Give the averages of the primary and the secondary station.",
        )
    line = least_squares(x=x, y=y)
    u_1, u_2 = np.moveaxis(np.broadcast_to(np.asarray(u_flow, np.float64), x.shape), -1, 0)
    with np.errstate(invalid="ignore", divide="ignore"):
        share = u_1**2 / (u_1**2 + u_2**2)
        step = x[..., 1] - x[..., 0]
        bounded = Line(
            intercept=line.intercept,
            slope=line.slope,
            centre=x[..., 0] + share * step + 0 * line.slope,
            u_height=u_1 * u_2 / np.hypot(u_1, u_2) + 0 * line.slope,
            u_slope=np.hypot(u_1, u_2) / np.abs(step) + 0 * line.slope,
            residual_sd=line.residual_sd,
            r_squared=line.r_squared,
            quantile=np.full(line.slope.shape, NORMAL_QUANTILE),
            points=line.points,
            reason=line.reason,
        )
    return PowerLaw(line=bounded, exponent_source=ExponentSource.TWO_POINT)


def flow_at(law: PowerLaw, pressure: ArrayLike) -> Interval:
    """Flow at a pressure with the 95 % interval of the mean line, which is lopsided.

    Parameters
    ----------
    law : PowerLaw
        Shape (...).
    pressure : array_like
        One pressure, or P of them along a new last axis; more than 0. [Pa]

    Returns
    -------
    Interval
        Shape (...) for one pressure, (..., P) for P. [m³/s]

    Raises
    ------
    NotPositive
        A pressure of 0 or less.
    """
    at = _log_pressure(pressure)
    height, half = height_at(law.line, at), half_width_at(law.line, at)
    return Interval(value=np.exp(height), low=np.exp(height - half), high=np.exp(height + half))


def log_flow_uncertainty(law: PowerLaw, pressure: ArrayLike) -> Array:
    """Standard uncertainty of ln Q at a pressure, shaped as in `flow_at`. [-]"""
    return uncertainty_at(law.line, _log_pressure(pressure))


def coefficient_interval(law: PowerLaw) -> Interval:
    """Coefficient with its 95 % interval, C exp(± t s). [m³/(s Pa^n)]"""
    half = law.line.quantile * law.line.u_intercept
    value = law.coefficient
    return Interval(value=value, low=value * np.exp(-half), high=value * np.exp(half))


def exponent_interval(law: PowerLaw) -> Interval:
    """Exponent with its 95 % interval, n ± t s. [-]"""
    half = law.line.quantile * law.line.u_slope
    return Interval(value=law.exponent, low=law.exponent - half, high=law.exponent + half)


def fit_one_run(*, pressure: ArrayLike, flow: ArrayLike, used: ArrayLike | None = None) -> PowerLaw:
    """`fit_power_law` for a single run, which it refuses rather than mark.

    Raises
    ------
    LeakageError
        A used reading that is not positive, fewer than two points, or only one pressure; the text
        names the point.
    """
    law = fit_power_law(pressure=pressure, flow=flow, used=used)
    refuse_unfitted(law, pressure=pressure, flow=flow, used=used)
    return law


def refuse_unfitted(
    law: PowerLaw, *, pressure: ArrayLike, flow: ArrayLike, used: ArrayLike | None = None
) -> None:
    """Raise the reason why the single run `law` was made of could not be fitted, if there is one.

    Raises
    ------
    LeakageError
        As `fit_one_run`.
    """
    (readings, flows), mask = as_runs(pressure, flow, used=used)
    match Reason(int(law.line.reason)):
        case Reason.FITTED:
            return
        case Reason.NOT_POSITIVE:
            raise _first_not_positive(readings, flows, mask)
        case Reason.TOO_FEW_POINTS:
            raise TooFewPoints(
                quantity="Number of used points",
                value=int(law.line.points),
                limit="at least 2",
                next_step="Take more points, or use a method with an assumed exponent.",
            )
        case Reason.NO_SPAN:
            raise SpanTooSmall(
                quantity="Range of the used pressures",
                value=0,
                unit="Pa",
                limit="more than 0",
                next_step="Take points at several pressures.",
            )
        case Reason.NO_UNCERTAINTY:
            raise NotPositive(
                quantity="Stated uncertainty of a used point",
                value=None,
                limit="more than 0",
                next_step="Give the accuracy of the gauge and of the fan.",
            )
        case Reason.NOT_CONVERGED:
            raise NotConverged(
                "The line with errors in both readings did not settle; use the least squares fit."
            )


def _first_not_positive(pressure: Array, flow: Array, used: Mask) -> LeakageError:
    for name, values, unit in (("pressure", pressure, "Pa"), ("flow", flow, "m³/s")):
        bad = np.flatnonzero(used & ~(np.isfinite(values) & (values > 0)))
        if bad.size:
            value = float(values[bad[0]])
            return NotPositive(
                quantity=f"Induced {name} of point {bad[0] + 1}",
                value=None if np.isnan(value) else value,
                unit=unit,
                limit="more than 0",
                next_step="Check direction, hoses and baseline, or exclude the point, saying why.",
            )
    raise AssertionError("a run was refused for a reading that is positive")


def logarithms(
    pressure: ArrayLike, flow: ArrayLike, used: ArrayLike | None
) -> tuple[Array, Array, Mask]:
    """Logarithms of the readings, not finite where one does not exist, and the points to use."""
    (pressures, flows), mask = as_runs(pressure, flow, used=used)
    return _log(pressures), _log(flows), mask


def _log(values: Array) -> Array:
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.asarray(np.log(values))


def _log_pressure(pressure: ArrayLike) -> Array:
    at = np.asarray(pressure, dtype=np.float64)
    if not np.all(np.isfinite(at) & (at > 0)):
        raise NotPositive(
            quantity="Reference pressure",
            value=float(np.min(at)),
            unit="Pa",
            limit="more than 0",
            next_step="Give the pressure without a sign.",
        )
    return np.asarray(np.log(at))
