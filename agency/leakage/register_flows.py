"""Flows of the registers of one duct system, read one after the other with one hood."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from agency.leakage.ranges import Array, above
from agency.leakage.refusals import at_least


def total_flow(flows: Sequence[float | None]) -> float | None:
    """Sum of the registers' flows, or None where one of them was not read.

    Parameters
    ----------
    flows : sequence of float or None
        Not negative; 0 is a register that moves nothing. [m³/s]

    Returns
    -------
    float or None
        [m³/s]
    """
    read = [one for one in flows if one is not None]
    if not read or len(read) < len(flows):
        return None
    return float(np.sum(at_least("Flow of a register", read, low=0, unit="m³/s")))


def total_uncertainty(*, flows: ArrayLike, u_hood: ArrayLike, u_reading: ArrayLike) -> Array:
    r"""Standard uncertainty of the sum of flows read with one hood.

    .. math:: u^2 = \left(u_h \sum_i Q_i\right)^2 + \sum_i (u_r Q_i)^2

    Parameters
    ----------
    flows : array_like
        Flows :math:`Q_i`, not negative, shape (..., registers). [m³/s]
    u_hood : array_like
        Relative error :math:`u_h` that every reading of the hood shares; it does not average out,
        shape (...). [-]
    u_reading : array_like
        Relative error :math:`u_r` of each reading by itself, shape (...). [-]

    Returns
    -------
    ndarray
        Shape (...). [m³/s]

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), 5.2.2, correlated input quantities (from memory).
    """
    read = at_least("Flow of a register", flows, low=0, unit="m³/s")
    shared = at_least("u(hood)", u_hood, low=0, unit="") * read.sum(axis=-1)
    own = at_least("u(reading)", u_reading, low=0, unit="") * np.hypot.reduce(read, axis=-1)
    return np.asarray(np.hypot(shared, own))


def share_of_design(*, flow: ArrayLike, design: ArrayLike) -> Array:
    """Flow of a register over its design flow.

    Parameters
    ----------
    flow, design : array_like
        Measured, not negative; design, more than 0, shape (...). [m³/s]

    Returns
    -------
    ndarray
        Shape (...). [-]
    """
    moved = at_least("Flow of a register", flow, low=0, unit="m³/s")
    return np.asarray(moved / above("Design flow", design, low=0, unit="m³/s"))
