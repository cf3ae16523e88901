"""What the errors of the readings make of the flow at any pressure.

Standard uncertainties (k = 1); those of a flow are relative, which is those of ln Q.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from agency.leakage.errors import OutOfRange
from agency.leakage.line import as_runs, sum_of
from agency.leakage.power_law import ExponentSource, PowerLaw
from agency.leakage.ranges import Array, above
from agency.leakage.reading_errors import CommonError


@dataclass(frozen=True, slots=True, kw_only=True)
class FlowUncertainty:
    """Relative standard uncertainty of a flow, shaped as the flow itself. [-]"""

    random: Array
    systematic: Array
    total: Array


def random_part(
    *,
    law: PowerLaw,
    pressure: ArrayLike,
    u_pressure: ArrayLike,
    u_flow: ArrayLike,
    at: ArrayLike,
    weights: ArrayLike,
    used: ArrayLike | None = None,
) -> Array:
    r"""Independent errors of the points carried through a fit to ln Q at a pressure.

    .. math:: u_r^2 = \sum_i l_i^2 (u_{Q,i}^2 + n^2 u_{\Delta p,i}^2)

    Parameters
    ----------
    law : PowerLaw
        Fit of the points, shape (...).
    pressure : array_like
        Induced pressures it was made of, shape (..., N). [Pa]
    u_pressure, u_flow : array_like
        Relative random standard uncertainties, shape (..., N). [-]
    at : array_like
        Pressure, or P of them along a new last axis. [Pa]
    weights : array_like
        Weights of the fit, shape (..., N); 1 for ordinary least squares.
    used : array_like of bool, optional
        Points used, shape (..., N); left out, all.

    Returns
    -------
    ndarray
        Shape (...) for one pressure, (..., P) for P. [-]

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), 5.1.2 (from memory); :math:`l_i`, the weight of point i in the
       height of the line (derived).
    """
    levers = _levers(law, pressure, weights=weights, used=used, at=at)
    (u_x, u_y, _), mask = as_runs(u_pressure, u_flow, pressure, used=used)
    each = np.where(mask, np.hypot(u_y, law.exponent[..., None] * u_x), 0.0)
    return _shaped(np.sqrt(sum_of((levers * each[..., None, :]) ** 2)), at)


def systematic_parts(
    *,
    law: PowerLaw,
    pressure: ArrayLike,
    errors: Sequence[CommonError],
    at: ArrayLike,
    weights: ArrayLike,
    used: ArrayLike | None = None,
) -> dict[str, Array]:
    r"""Common errors carried through a fit to ln Q at a pressure, each with its sign.

    .. math:: u_k = \sum_i l_i (\delta_{Q,ik} - n\,\delta_{\Delta p,ik})

    Parameters
    ----------
    law, pressure, at, weights, used
        As for `random_part`.
    errors : sequence of CommonError
        Independent of each other; each has its own name.

    Returns
    -------
    dict of str to ndarray
        Effect of one standard uncertainty of each, shaped as for `random_part`; under an assumed
        exponent that of the assumption too. [-]

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), 5.2, errors fully correlated between points (from memory).
    """
    levers = _levers(law, pressure, weights=weights, used=used, at=at)
    (readings,), mask = as_runs(pressure, used=used)
    readings = np.where(mask, readings, np.nan)
    parts = {}
    for error in errors:
        with np.errstate(divide="ignore"):
            shift = error.pressure_gain + error.pressure_offset / readings
        each = np.where(mask, error.flow_gain - law.exponent[..., None] * shift, 0.0)
        parts[error.name] = _shaped(sum_of(levers * each[..., None, :]), at)
    if law.exponent_source is ExponentSource.ASSUMED:
        away = _log(at) - law.line.centre[..., None]
        parts["assumed exponent"] = _shaped(away * law.line.u_slope[..., None], at)
    return parts


def air_parts(
    *,
    exponent: float,
    fan_temperature: float,
    envelope_temperature: float,
    u_temperature: float,
    relative_u_pressure: float,
) -> dict[str, Array]:
    r"""Errors of the air's density in a flow at reference conditions.

    .. math:: Q_0 \propto \sqrt{\rho_{fan}}\; \rho_{env}^{-1} \rho_{env}^{1 - n}

    Parameters
    ----------
    exponent : float
        n of the leaks. [-]
    fan_temperature, envelope_temperature : float
        Absolute temperatures of the air in the fan and of the air in the leaks. [K]
    u_temperature : float
        Standard uncertainty of either, independent. [K]
    relative_u_pressure : float
        Relative standard uncertainty of the station pressure. [-]

    References
    ----------
    .. [1] Ideal gas law and mass balance, JCGM 100 (derived); viscosity left out.
    """
    in_fan = u_temperature / above("Fan air temperature", fan_temperature, low=0, unit="K")
    in_leaks = u_temperature / above(
        "Envelope air temperature", envelope_temperature, low=0, unit="K"
    )
    return {
        "fan air temperature": np.asarray(-0.5 * in_fan),
        "envelope air temperature": np.asarray(exponent * in_leaks),
        "station pressure": np.asarray((0.5 - exponent) * relative_u_pressure),
    }


def combine(*, random: ArrayLike, parts: Mapping[str, ArrayLike]) -> FlowUncertainty:
    """Random and systematic standard uncertainty, and both together, as roots of sums of squares.

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), 5.1.2 (from memory).
    """
    by_chance = np.asarray(random, np.float64)
    square = np.zeros(by_chance.shape)
    for part in parts.values():
        square = square + np.asarray(part, np.float64) ** 2
    systematic = np.sqrt(square)
    return FlowUncertainty(
        random=by_chance, systematic=systematic, total=np.hypot(by_chance, systematic)
    )


def u_of_mean(
    *,
    depressurization: ArrayLike,
    pressurization: ArrayLike,
    u_depressurization: FlowUncertainty,
    u_pressurization: FlowUncertainty,
    correlation: float,
) -> FlowUncertainty:
    r"""Relative standard uncertainty of the mean of one result of both directions.

    .. math:: u^2(\bar Q) = \frac{u_d^2 + u_p^2 + 2 \rho u_d u_p}{4}

    Parameters
    ----------
    depressurization, pressurization : array_like
        The two flows. [m³/s]
    u_depressurization, u_pressurization : FlowUncertainty
        Their relative uncertainties; the random ones are independent.
    correlation : float
        :math:`\rho` of the systematic ones: 1 for the same gauge, fan and configuration, 0 where
        nothing is shared. [-]

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), 5.2.2 (from memory).
    """
    if not -1 <= correlation <= 1:
        raise OutOfRange(
            quantity="Correlation of the systematic errors",
            value=correlation,
            limit="from -1 to 1",
            next_step="Give 1 for the same instruments and 0 for different ones.",
        )
    down, up = np.asarray(depressurization, np.float64), np.asarray(pressurization, np.float64)
    total = down + up
    random = np.hypot(down * u_depressurization.random, up * u_pressurization.random) / total
    shares = down * u_depressurization.systematic, up * u_pressurization.systematic
    square = shares[0] ** 2 + shares[1] ** 2 + 2 * correlation * shares[0] * shares[1]
    systematic = np.sqrt(square) / total
    return FlowUncertainty(random=random, systematic=systematic, total=np.hypot(random, systematic))


def _levers(
    law: PowerLaw, pressure: ArrayLike, *, weights: ArrayLike, used: ArrayLike | None, at: ArrayLike
) -> Array:
    """Change of the height of the line at each pressure for one of each point, (..., P, N)."""
    (x, weight), mask = as_runs(_log(pressure), weights, used=used)
    x, weight = np.where(mask, x, 0.0), np.where(mask, weight, 0.0)
    with np.errstate(invalid="ignore", divide="ignore"):
        total = sum_of(weight)[..., None]
        equal = (weight / total)[..., None, :]
        if law.exponent_source is ExponentSource.ASSUMED:
            return np.asarray(equal + np.zeros((np.size(at), 1)))
        centre = sum_of(weight * x)[..., None] / total
        tilt = weight * (x - centre)
        tilt = tilt / sum_of(tilt * (x - centre))[..., None]
        return np.asarray(equal + (_log(at) - centre)[..., None] * tilt[..., None, :])


def _log(pressure: ArrayLike) -> Array:
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.log(np.atleast_1d(np.asarray(pressure, np.float64)))


def _shaped(values: Array, at: ArrayLike) -> Array:
    """Shape (..., P), or (...) where a single pressure was asked for."""
    return values[..., 0] if np.ndim(at) == 0 else values
