"""Points that do not lie on the line of the others, and what a wrong fan configuration looks like.

Nothing is left out or changed here: a point is shown, and a person decides.
"""

from collections.abc import Mapping

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import stdtr

from agency.leakage.line import as_runs
from agency.leakage.power_law import PowerLaw
from agency.leakage.ranges import Array


def residuals(
    law: PowerLaw, *, pressure: ArrayLike, flow: ArrayLike, used: ArrayLike | None = None
) -> Array:
    """Residual ln Q - ln(C dP^n) of each used point, shape (..., N); NaN for the others. [-]"""
    (pressures, flows), mask = as_runs(pressure, flow, used=used)
    with np.errstate(invalid="ignore", divide="ignore"):
        x, y = np.log(pressures), np.log(flows)
        fitted = law.line.intercept[..., None] + law.line.slope[..., None] * x
        return np.where(mask, y - fitted, np.nan)


def offsets_from_others(
    law: PowerLaw, *, pressure: ArrayLike, flow: ArrayLike, used: ArrayLike | None = None
) -> Array:
    r"""How far each used point lies from the line of all others, as ln of a flow ratio.

    .. math:: d_i = \frac{e_i}{1 - h_i}

    Parameters
    ----------
    law : PowerLaw
        Least squares fit of these points, shape (...).
    pressure, flow, used
        Readings it was made of, shape (..., N). [Pa], [m³/s]

    Returns
    -------
    ndarray
        Shape (..., N); NaN for points not used and where the others fix no line. [-]

    References
    ----------
    .. [1] Belsley, Kuh and Welsch, Regression Diagnostics, 1980, ch. 2 (from memory).
    """
    error = residuals(law, pressure=pressure, flow=flow, used=used)
    free = 1 - _leverage(pressure, flow, used)
    # Two points, or one that alone spans the pressures: nothing is left to compare with.
    return np.asarray(error / np.where(free > 1e-9, free, np.nan))


def studentized_residuals(
    law: PowerLaw, *, pressure: ArrayLike, flow: ArrayLike, used: ArrayLike | None = None
) -> Array:
    r"""Each used point's offset from the others over the standard error of that offset.

    .. math:: t_i = e_i \sqrt{\frac{N - 3}{(1 - h_i)\sum e^2 - e_i^2}}

    Parameters
    ----------
    law, pressure, flow, used
        As for `offsets_from_others`.

    Returns
    -------
    ndarray
        Student's t with N - 3 degrees of freedom if the point belongs to the line, shape (..., N).
        NaN for points not used and fewer than four of them; infinite where the others lie on a
        line without any scatter. [-]

    References
    ----------
    .. [1] Belsley, Kuh and Welsch, Regression Diagnostics, 1980, ch. 2 (from memory).
    """
    error = residuals(law, pressure=pressure, flow=flow, used=used)
    line = law.line
    degrees = np.where(line.points > 3, line.points - 3, np.nan)[..., None]
    squares = (line.residual_sd**2 * (line.points - 2))[..., None]
    remaining = squares * (1 - _leverage(pressure, flow, used)) - error**2
    with np.errstate(divide="ignore", invalid="ignore"):
        # What rounding leaves below zero means that the others have no scatter.
        scatter = np.sqrt(np.where(remaining > 0, remaining, 0.0) / degrees)
        return np.asarray(np.where(error == 0, 0.0 * degrees, error / scatter))


def stray_significance(
    law: PowerLaw, *, pressure: ArrayLike, flow: ArrayLike, used: ArrayLike | None = None
) -> Array:
    r"""How likely a point so far off would be if all belonged to one line (Bonferroni).

    .. math:: p_i = \min\left(1,\; 2 N \, P(T_{N-3} > |t_i|)\right)

    A fixed limit for t would question one good series in six with seven points; this one asks the
    same of every number of points.

    Parameters
    ----------
    law, pressure, flow, used
        As for `offsets_from_others`.

    Returns
    -------
    ndarray
        Shape (..., N), 0 to 1; NaN where `studentized_residuals` is. [-]

    References
    ----------
    .. [1] Cook and Weisberg, Residuals and Influence in Regression, 1982, 2.2.2 (from memory).
    .. [2] scipy.special.stdtr (read).
    """
    distance = np.abs(studentized_residuals(law, pressure=pressure, flow=flow, used=used))
    points = law.line.points[..., None]
    with np.errstate(invalid="ignore"):
        return np.asarray(np.minimum(1.0, 2 * points * stdtr(points - 3.0, -distance)))


def likely_configuration(
    offset: float, *, keyed: str, flows: Mapping[str, float], tolerance: float
) -> str | None:
    """The configuration that would bring a stray point back to the line of the others.

    Parameters
    ----------
    offset : float
        Offset of the point from the others, from `offsets_from_others`. [-]
    keyed : str
        Configuration the point was keyed with.
    flows : mapping of str to float
        Flow each configuration gives at the point's fan pressure, that of `keyed` among them; all
        more than 0. [m³/s]
    tolerance : float
        Largest distance from the line, as ln of a flow ratio, that still counts. [-]

    Returns
    -------
    str or None
        The nearest within the tolerance; None where none is, or where `keyed` itself is nearest.

    References
    ----------
    .. [1] A wrong coefficient shifts ln Q by ln(K1/K2) (derived).
    """
    distance = {
        name: abs(offset + float(np.log(flow / flows[keyed]))) for name, flow in flows.items()
    }
    nearest = min(distance, key=lambda name: distance[name])
    return nearest if nearest != keyed and distance[nearest] <= tolerance else None


def _leverage(pressure: ArrayLike, flow: ArrayLike, used: ArrayLike | None) -> Array:
    """Weight of each point in its own fitted value, 1/N + (x - mean)²/Sxx."""
    (pressures, _), mask = as_runs(pressure, flow, used=used)
    with np.errstate(invalid="ignore", divide="ignore"):
        x = np.where(mask, np.log(pressures), 0.0)
        points = np.count_nonzero(mask, axis=-1)[..., None]
        distance = np.where(mask, x - x.sum(axis=-1, keepdims=True) / points, np.nan)
        return np.asarray(1 / points + distance**2 / np.nansum(distance**2, axis=-1, keepdims=True))
