"""A house with one zone, worked out by plain bracketing, and readings made of it."""

from scipy.optimize import brentq

from agency.leakage.zones import Boundary, ZoneReading

CFM = 0.3048**3 / 60
INCH2 = 0.0254**2
HOUSE_ZONE, ZONE_OUTSIDE = Boundary.HOUSE_ZONE, Boundary.ZONE_OUTSIDE


def read(envelope, zone, across=ZONE_OUTSIDE, *, u_envelope=0.0, u_zone=0.5, correlation=0.0):
    """Against outside, half a pascal uncertain, unless told otherwise."""
    return ZoneReading(
        envelope=envelope,
        zone=zone,
        across=across,
        u_envelope=u_envelope,
        u_zone=u_zone,
        correlation=correlation,
    )


def orifice(coefficient, pressure):
    """Flow of a sharp opening."""
    return coefficient * pressure**0.5


def zone_pressure(*, near, far, n, envelope, hole=0.0, hole_in=HOUSE_ZONE):
    """Zone to outside, found by brentq (scipy, an independent solver)."""

    def surplus(z):
        h = envelope - z
        into, out = near * h**n, far * z**n
        if hole_in is HOUSE_ZONE:
            into += orifice(hole, h)
        else:
            out += orifice(hole, z)
        return into - out

    return brentq(surplus, 0.0, envelope, xtol=1e-13, rtol=1e-14)


def fan_flow(*, direct, near, n, envelope, z, hole=0.0):
    """What the house loses: direct leak, the zone's inner boundary and a hole in it."""
    h = envelope - z
    return direct * envelope**n + near * h**n + orifice(hole, h)
