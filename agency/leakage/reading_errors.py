"""What is known of the error of each reading before a fit.

Standard uncertainties (k = 1). Random errors differ from point to point; common ones are the same,
or scaled alike, for the whole run, and so are kept apart from the first.
"""

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike

from agency.leakage.errors import OutOfRange
from agency.leakage.ranges import Array, above


class Shape(StrEnum):
    """Distribution of an error that is given by its standard uncertainty."""

    NORMAL = "normal"
    RECTANGULAR = "rectangular"


@dataclass(frozen=True, slots=True, kw_only=True)
class CommonError:
    """One error shared by the points of a run: its effect for one standard uncertainty."""

    name: str
    pressure_gain: Array
    """Relative change of each induced pressure; () or (..., N). [-]"""
    pressure_offset: Array
    """Change of each induced pressure; () or (..., N). [Pa]"""
    flow_gain: Array
    """Relative change of each flow; () or (..., N). [-]"""
    shape: Shape


def rectangular(half_width: ArrayLike) -> Array:
    """Standard uncertainty of an error anywhere within ± `half_width`, a/√3.

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), 4.3.7 (from memory).
    """
    return np.asarray(_not_negative("Half width", half_width) / np.sqrt(3))


def from_resolution(step: ArrayLike) -> Array:
    """Standard uncertainty of rounding to `step`, r/(2√3).

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), F.2.2.1 (from memory).
    """
    return rectangular(step) / 2


def from_range(*, lowest: ArrayLike, highest: ArrayLike) -> Array:
    """Standard uncertainty of a baseline that wandered between two readings. [Pa]

    References
    ----------
    .. [1] Zero-flow pressure taken as rectangular: C. Delmotte, AIVC 2016 (abstract read).
    """
    return rectangular((np.asarray(highest, np.float64) - np.asarray(lowest, np.float64)) / 2)


def effective_samples(*, samples: int, duration: float, correlation_time: float) -> float:
    """Independent readings in an average of fluctuating pressure, T/(2τ).

    Parameters
    ----------
    samples : int
        Readings taken.
    duration : float
        Averaging time T. [s]
    correlation_time : float
        Integral time scale τ of the fluctuation. [s]

    Returns
    -------
    float
        From 1 to `samples`: an average never holds fewer than one independent reading, nor more
        than were taken. [-]

    References
    ----------
    .. [1] Variance of the time average of a stationary signal, T much longer than τ (derived).
    """
    above("Averaging time", duration, low=0, unit="s")
    above("Correlation time", correlation_time, low=0, unit="s")
    return min(float(samples), max(1.0, duration / (2 * correlation_time)))


def of_average(*, deviation: ArrayLike, effective: ArrayLike) -> Array:
    """Standard uncertainty of an average of `effective` independent readings, s/√N.

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), 4.2.3 (from memory).
    """
    spread = _not_negative("Standard deviation", deviation)
    return np.asarray(spread / np.sqrt(above("Independent readings", effective, low=0, unit="")))


def gauge_accuracy(*, reading: ArrayLike, relative: float, absolute: float) -> Array:
    """Standard uncertainty of a gauge good to a share of the reading or a pressure. [Pa]

    Parameters
    ----------
    reading : array_like
        Pressure shown, either sign. [Pa]
    relative : float
        Share of the reading. [-]
    absolute : float
        Pressure; the larger of the two holds. [Pa]

    References
    ----------
    .. [1] Form of gauge specifications (common practice); rectangular by JCGM 100 (from memory).
    """
    share = relative * np.abs(np.asarray(reading, np.float64))
    return rectangular(np.maximum(share, absolute))


def from_fan_pressure(*, exponent: ArrayLike, u_pressure: ArrayLike, pressure: ArrayLike) -> Array:
    """Relative standard uncertainty of a flow K Pf^m from that of its fan pressure, m u/Pf. [-]

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), 5.1.2 (from memory).
    """
    ratio = np.asarray(u_pressure, np.float64) / above("Fan pressure", pressure, low=0, unit="Pa")
    return np.asarray(np.asarray(exponent, np.float64) * ratio)


def gauge_gain(name: str, relative: ArrayLike, *, shape: Shape) -> CommonError:
    """A gauge that reads all induced pressures too high or low by the same share."""
    gain = np.asarray(relative, np.float64)
    return CommonError(
        name=name,
        pressure_gain=gain,
        pressure_offset=np.zeros(()),
        flow_gain=np.zeros(()),
        shape=shape,
    )


def baseline_offset(name: str, pressure: ArrayLike, *, shape: Shape) -> CommonError:
    """A baseline, or a zero, that is off by the same pressure for all points. [Pa]"""
    return CommonError(
        name=name,
        pressure_gain=np.zeros(()),
        pressure_offset=np.asarray(pressure, np.float64),
        flow_gain=np.zeros(()),
        shape=shape,
    )


def flow_gain(name: str, relative: ArrayLike, *, shape: Shape) -> CommonError:
    """A calibration that is off by the same share for all points, or those of one configuration.

    Parameters
    ----------
    name : str
        Which one.
    relative : array_like
        Relative standard uncertainty, () or (..., N) with 0 at points it does not touch. [-]
    shape : Shape
        Its distribution.
    """
    return CommonError(
        name=name,
        pressure_gain=np.zeros(()),
        pressure_offset=np.zeros(()),
        flow_gain=np.asarray(relative, np.float64),
        shape=shape,
    )


def _not_negative(name: str, value: ArrayLike) -> Array:
    numbers = np.asarray(value, np.float64)
    if not np.all(numbers >= 0):
        raise OutOfRange(
            quantity=name,
            value=float(np.min(numbers)),
            limit="0 or more",
            next_step="Give the size of the error, without a sign.",
        )
    return numbers
