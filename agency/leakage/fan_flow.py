"""From fan pressures to the flow through the leaks, and from gauge readings to induced pressure."""

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike

from agency.leakage.errors import LeakageError
from agency.leakage.ranges import Array, above, within


class Direction(StrEnum):
    """Which way the fan drives the house."""

    DEPRESSURIZATION = "depressurization"
    PRESSURIZATION = "pressurization"

    @property
    def sign(self) -> int:
        """Sign of the building pressure, indoor minus outdoor."""
        return 1 if self is Direction.PRESSURIZATION else -1


def indicated_flow(
    *,
    coefficient: ArrayLike,
    exponent: ArrayLike,
    fan_pressure: ArrayLike,
    lowest_pressure: float,
    highest_pressure: float,
) -> Array:
    r"""Flow of a fan from the pressure across it, before any density correction.

    .. math:: Q_{ind} = K P_f^m

    Parameters
    ----------
    coefficient : array_like
        Coefficient :math:`K`, more than 0. [m³/(s Pa^m)]
    exponent : array_like
        Exponent :math:`m`, more than 0. [-]
    fan_pressure : array_like
        Pressure :math:`P_f`, within the range of the configuration. [Pa]
    lowest_pressure, highest_pressure : float
        The range printed on the certificate. [Pa]

    Returns
    -------
    ndarray
        Flow as the certificate's air density has it. [m³/s]

    References
    ----------
    .. [1] The form of fan calibration certificates (common practice, no source).
    """
    pressure = within(
        "Fan pressure", fan_pressure, low=lowest_pressure, high=highest_pressure, unit="Pa"
    )
    factor = above("Coefficient", coefficient, low=0, unit="m³/(s Pa^m)")
    power = above("Exponent", exponent, low=0, unit="")
    return np.asarray(factor * pressure**power)


def meter_density_factor(*, calibration_density: ArrayLike, fan_density: ArrayLike) -> Array:
    r"""What turns an indicated flow into a true one at the density of the air in the fan.

    .. math:: Q_{fan} = Q_{ind} \sqrt{\rho_{cal} / \rho_{fan}}

    Parameters
    ----------
    calibration_density, fan_density : array_like
        Air density the certificate refers to and that of the fan air. [kg/m³]

    Returns
    -------
    ndarray
        Factor. [-]

    Notes
    -----
    For flow found from a differential pressure. Where the gauge has made this correction already,
    leave it out.

    References
    ----------
    .. [1] Bernoulli's equation, pressure proportional to density times speed squared (derived).
    """
    calibrated = above("Calibration density", calibration_density, low=0, unit="kg/m³")
    return np.asarray(np.sqrt(calibrated / above("Fan density", fan_density, low=0, unit="kg/m³")))


def mass_balance_factor(*, fan_density: ArrayLike, envelope_density: ArrayLike) -> Array:
    r"""What turns the flow through the fan into the flow through the leaks.

    .. math:: Q_{env} = Q_{fan} \rho_{fan} / \rho_{env}

    Parameters
    ----------
    fan_density, envelope_density : array_like
        Density of the air in the fan and of the air in the leaks. [kg/m³]

    Returns
    -------
    ndarray
        Factor. [-]

    References
    ----------
    .. [1] Conservation of mass (derived); as ASTM E779-19, 9 and ISO 9972:2015, 6.2 (from memory).
    """
    fan = above("Fan density", fan_density, low=0, unit="kg/m³")
    return np.asarray(fan / above("Envelope density", envelope_density, low=0, unit="kg/m³"))


@dataclass(frozen=True, slots=True, kw_only=True)
class AirPath:
    """Densities of one direction: which air the fan moves and which the leaks."""

    fan: Array
    """[kg/m³]"""
    envelope: Array
    """[kg/m³]"""


def air_path(*, direction: Direction, indoor: ArrayLike, outdoor: ArrayLike) -> AirPath:
    """Fan and envelope air: lowering the pressure draws outdoor air in through the leaks.

    Parameters
    ----------
    direction : Direction
        Direction of the series.
    indoor, outdoor : array_like
        Air densities. [kg/m³]

    References
    ----------
    .. [1] Conservation of mass (derived).
    """
    inside, outside = np.asarray(indoor, np.float64), np.asarray(outdoor, np.float64)
    if direction is Direction.DEPRESSURIZATION:
        return AirPath(fan=inside, envelope=outside)
    return AirPath(fan=outside, envelope=inside)


@dataclass(frozen=True, slots=True, kw_only=True)
class Baseline:
    """Building pressure with the fan off and sealed. None means that it cannot be told."""

    mean: float
    """[Pa]"""
    positive_mean: float | None
    """Mean of the positive readings only; 0 where there are none. [Pa]"""
    negative_mean: float | None
    """Mean of the negative readings only; 0 where there are none. [Pa]"""
    spread: float | None
    """Highest less lowest reading. [Pa]"""
    deviation: float | None
    """Standard deviation of the readings. [Pa]"""
    readings: int | None


def baseline_from_samples(samples: ArrayLike) -> Baseline:
    """The means ISO 9972 asks for; a flutter about zero shows in the signed means only.

    Parameters
    ----------
    samples : array_like
        Readings, one or more. [Pa]

    References
    ----------
    .. [1] ISO 9972:2015, 5.3.3 (from memory).
    """
    readings = np.asarray(samples, dtype=np.float64)
    if readings.ndim != 1 or readings.size == 0 or not np.all(np.isfinite(readings)):
        raise LeakageError(f"A baseline needs one or more finite readings; got {readings.size}.")
    positive, negative = readings[readings > 0], readings[readings < 0]
    return Baseline(
        mean=float(readings.mean()),
        positive_mean=float(positive.mean()) if positive.size else 0.0,
        negative_mean=float(negative.mean()) if negative.size else 0.0,
        spread=float(np.ptp(readings)),
        deviation=float(readings.std(ddof=1)) if readings.size > 1 else None,
        readings=int(readings.size),
    )


def induced_pressure(
    *, direction: Direction, building_pressure: ArrayLike, baseline: ArrayLike
) -> Array:
    r"""Pressure the fan alone has made, positive in the direction of the series.

    .. math:: \Delta p = \pm (P - P_0)

    Parameters
    ----------
    direction : Direction
        Direction of the series; it sets the sign.
    building_pressure : array_like
        Readings :math:`P`, indoor minus outdoor. [Pa]
    baseline : array_like
        Mean :math:`P_0` of the baselines before and after. [Pa]

    Returns
    -------
    ndarray
        Induced pressure; zero or less where the reading contradicts the direction. [Pa]

    References
    ----------
    .. [1] ASTM E779-19, 9 and ISO 9972:2015, 6.1 (from memory).
    """
    readings = np.asarray(building_pressure, np.float64)
    return np.asarray(direction.sign * (readings - np.asarray(baseline, np.float64)))
