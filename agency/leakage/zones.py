"""Pressures of a zone between house and outside, and what they alone tell of its two boundaries.

Magnitudes of induced pressure (test less baseline), all driven one way. Across the envelope P, from
house to zone h, from zone to outside z; h + z = P. Pressures never tell how large a leak is: a good
ratio goes with two small boundaries and with two large ones alike.
"""

from dataclasses import dataclass
from enum import IntEnum, StrEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtri

from agency.leakage.errors import NotPositive, OutOfRange
from agency.leakage.line import CONFIDENCE, NORMAL_QUANTILE
from agency.leakage.power_law import Interval
from agency.leakage.ranges import Array, above, within

ORIFICE_EXPONENT = 0.5
"""Exponent of a sharp opening. [-]  Bernoulli's equation, derived."""
LAMINAR_EXPONENT = 1.0
"""Exponent of a long narrow crack. [-]  Poiseuille's law, derived."""
ONE_SIDED_QUANTILE = float(ndtri(CONFIDENCE))
"""Standard uncertainties from a value to its one-sided 95 % bound, 1.645. [-]"""


class Boundary(StrEnum):
    """The two boundaries of a zone."""

    HOUSE_ZONE = "house_zone"
    ZONE_OUTSIDE = "zone_outside"

    @property
    def other(self) -> "Boundary":
        """The other of the two."""
        return Boundary.ZONE_OUTSIDE if self is Boundary.HOUSE_ZONE else Boundary.HOUSE_ZONE


class Side(IntEnum):
    """How much of a ratio the pressures tell."""

    BOTH = 0
    AT_MOST = 1
    """The zone is too near outside: only an upper bound."""
    AT_LEAST = 2
    """The zone is too near the house: only a lower bound."""
    NEITHER = 3
    """The whole drop lies within the noise of either boundary."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ZoneReading:
    """Pressures of one state of the house, shape (...), with their standard uncertainties."""

    envelope: ArrayLike
    """Across the envelope, more than 0. [Pa]"""
    zone: ArrayLike
    """As read across `across`. [Pa]"""
    across: Boundary
    """Boundary the zone was read across; the drop over the other one is what is left."""
    u_envelope: ArrayLike
    """[Pa]"""
    u_zone: ArrayLike
    """[Pa]"""
    correlation: ArrayLike = 0.0
    """Of the two channels' errors; wind on the shared outdoor hose makes it positive. [-]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Drops:
    """Pressure across each boundary, shape (...). [Pa]"""

    envelope: Array
    house_zone: Array
    zone_outside: Array

    def across(self, boundary: Boundary) -> Array:
        """Drop across one boundary. [Pa]"""
        return self.house_zone if boundary is Boundary.HOUSE_ZONE else self.zone_outside


@dataclass(frozen=True, slots=True, kw_only=True)
class BoundaryRatio:
    """Coefficient of the house-zone boundary over that of the zone-outside one, shape (...)."""

    ratio: Interval
    """NaN at an end, and in the middle, where only the other end is known. [-]"""
    u_log: Array
    """Standard uncertainty of ln R; NaN where the bound is one-sided. [-]"""
    side: NDArray[np.int8]
    """`Side` of each, as a number."""


def drops_of(reading: ZoneReading) -> Drops:
    """Pressure across each boundary; negative where the reading contradicts the envelope's.

    Raises
    ------
    LeakageError
        A reading that is not finite, or no pressure across the envelope.
    """
    envelope = above("Pressure across the envelope", reading.envelope, low=0, unit="Pa")
    zone = np.asarray(reading.zone, dtype=np.float64)
    if not np.all(np.isfinite(zone)):
        raise OutOfRange(
            quantity="Zone pressure",
            value=None,
            limit="a reading",
            next_step="Read the zone again; a zone that was not measured has no figures.",
        )
    envelope, zone = np.broadcast_arrays(envelope, zone)
    left = envelope - zone
    if reading.across is Boundary.HOUSE_ZONE:
        return Drops(envelope=envelope, house_zone=zone, zone_outside=left)
    return Drops(envelope=envelope, house_zone=left, zone_outside=zone)


def closure(*, envelope: ArrayLike, house_zone: ArrayLike, zone_outside: ArrayLike) -> Array:
    r"""What three readings of one state fail to add up by, :math:`h + z - P`.

    Parameters
    ----------
    envelope, house_zone, zone_outside : array_like
        All three as read, shape (...). [Pa]

    Returns
    -------
    ndarray
        0 when the three agree; else a hose is on the wrong tap or a door was moved. [Pa]

    References
    ----------
    .. [1] Pressures add along a path (derived).
    """
    return np.asarray(np.asarray(house_zone) + np.asarray(zone_outside) - np.asarray(envelope))


def boundary_ratio(reading: ZoneReading, *, exponent: ArrayLike, detection: float) -> BoundaryRatio:
    r"""Ratio of the two boundaries' coefficients from pressures alone.

    .. math::
        R = \frac{C_{HZ}}{C_{ZO}} = \left(\frac{z}{h}\right)^n,\quad
        u(\ln R) = n \sqrt{\left(\frac{P u_z}{z h}\right)^2 + \left(\frac{u_P}{h}\right)^2
            - 2 r \frac{P u_z u_P}{z h^2}}

    written for a zone read against outside; read against the house, h and z change places.

    Parameters
    ----------
    reading : ZoneReading
        Shape (...).
    exponent : array_like
        Exponent :math:`n` of both boundaries, 0.5 to 1. [-]
    detection : float
        Uncertainties a drop must exceed for the ratio to have two ends; below it, the one-sided
        95 % bound is given. [-]

    Returns
    -------
    BoundaryRatio
        Shape (...).

    Raises
    ------
    LeakageError
        A zone outside the span from outdoors to house by more than its noise.

    References
    ----------
    .. [1] Mass balance of the zone with the power law (derived).
    """
    drops = drops_of(reading)
    z, h = drops.zone_outside, drops.house_zone
    n = exponents(exponent)
    u_z, u_h, u_log = _errors(reading, drops)
    _refuse_reversed(z, u_z, Boundary.ZONE_OUTSIDE)
    _refuse_reversed(h, u_h, Boundary.HOUSE_ZONE)
    most, least = z < detection * u_z, h < detection * u_h
    side = np.select(
        [~most & ~least, most & ~least, least & ~most],
        [np.int8(Side.BOTH), np.int8(Side.AT_MOST), np.int8(Side.AT_LEAST)],
        np.int8(Side.NEITHER),
    )
    both = np.where(side == Side.BOTH, 0.0, np.nan)
    z_top, h_top = z + ONE_SIDED_QUANTILE * u_z, h + ONE_SIDED_QUANTILE * u_h
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        ratio, half = (z / h) ** n + both, NORMAL_QUANTILE * n * u_log
        highest = (z_top / (drops.envelope - z_top)) ** n
        lowest = ((drops.envelope - h_top) / h_top) ** n
        low = np.where(side == Side.AT_LEAST, lowest, ratio * np.exp(-half))
        high = np.where(side == Side.AT_MOST, highest, ratio * np.exp(half))
    interval = Interval(value=ratio, low=low, high=high)
    return BoundaryRatio(ratio=interval, u_log=n * u_log + both, side=side)


def _errors(reading: ZoneReading, drops: Drops) -> tuple[Array, Array, Array]:
    """Standard uncertainty of z, of h, and of ln(z/h)."""
    read, left = drops.across(reading.across), drops.across(reading.across.other)
    u_p = within("Uncertainty of the envelope", reading.u_envelope, low=0, high=np.inf, unit="Pa")
    u_read = above("Uncertainty of the zone pressure", reading.u_zone, low=0, unit="Pa")
    r = within("Correlation", reading.correlation, low=-1, high=1, unit="")
    u_left = np.sqrt(u_p**2 + u_read**2 - 2 * r * u_p * u_read)
    with np.errstate(invalid="ignore", divide="ignore"):
        by_zone, by_envelope = u_read * drops.envelope / (read * left), u_p / left
        u_log = np.sqrt(by_zone**2 + by_envelope**2 - 2 * r * by_zone * by_envelope)
    if reading.across is Boundary.ZONE_OUTSIDE:
        return u_read, u_left, u_log
    return u_left, u_read, u_log


def _refuse_reversed(drop: Array, u_drop: Array, boundary: Boundary) -> None:
    # Beyond this even the upper bound of the drop is not positive.
    bad = drop <= -ONE_SIDED_QUANTILE * u_drop
    if np.any(bad):
        raise NotPositive(
            quantity=f"Pressure across the {words_of(boundary)} boundary",
            value=float(drop[np.broadcast_to(bad, drop.shape)].flat[0]),
            unit="Pa",
            limit="0 or more",
            next_step="Check which hose is on which tap, the signs and the baselines.",
        )


def words_of(boundary: Boundary) -> str:
    """The boundary in words: "house to zone"."""
    return boundary.value.replace("_", " to ")


def exponents(exponent: ArrayLike) -> Array:
    """Exponents as an array, each from an orifice's to a laminar crack's. [-]"""
    return within("Exponent", exponent, low=ORIFICE_EXPONENT, high=LAMINAR_EXPONENT, unit="")


def opening_coefficient(*, area: ArrayLike, discharge: ArrayLike, density: ArrayLike) -> Array:
    r"""Coefficient of an opening whose flow goes with the square root of the pressure.

    .. math:: C = C_d A \sqrt{2 / \rho},\quad Q = C \Delta p^{0.5}

    Parameters
    ----------
    area : array_like
        Measured free area :math:`A`, more than 0. [m²]
    discharge : array_like
        Discharge coefficient :math:`C_d`, above 0 and at most 1; stored beside the result. [-]
    density : array_like
        Density :math:`\rho` of the air passing. [kg/m³]

    Returns
    -------
    ndarray
        [m³/(s Pa^0.5)]

    References
    ----------
    .. [1] Bernoulli's equation (derived).
    """
    free = above("Area of the opening", area, low=0, unit="m²")
    share = above("Discharge coefficient", discharge, low=0, unit="")
    within("Discharge coefficient", share, low=0, high=1, unit="")
    heavy = above("Air density", density, low=0, unit="kg/m³")
    return np.asarray(share * free * np.sqrt(2.0 / heavy))


def series_coefficient(
    *, house_zone: ArrayLike, zone_outside: ArrayLike, exponent: ArrayLike
) -> Array:
    r"""Coefficient of the path through the zone, both boundaries one after the other.

    .. math:: C = \left(C_{HZ}^{-1/n} + C_{ZO}^{-1/n}\right)^{-n}

    Parameters
    ----------
    house_zone, zone_outside : array_like
        Coefficients of the boundaries, more than 0, shape (...). [m³/(s Pa^n)]
    exponent : array_like
        Exponent :math:`n` of both, 0.5 to 1. [-]

    Returns
    -------
    ndarray
        Below either boundary's coefficient. Sealing one boundary perfectly takes away this leak
        and no more, so its flow is the only one to be shown as achievable. [m³/(s Pa^n)]

    References
    ----------
    .. [1] Equal flow and adding pressures along a path (derived).
    """
    n = exponents(exponent)
    near = above("Coefficient house to zone", house_zone, low=0, unit="m³/(s Pa^n)")
    far = above("Coefficient zone to outside", zone_outside, low=0, unit="m³/(s Pa^n)")
    return np.asarray((near ** (-1 / n) + far ** (-1 / n)) ** (-n))
