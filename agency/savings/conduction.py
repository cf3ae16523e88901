"""Heat through walls, ceilings, floors, windows and doors, and what a change of them saves."""

import numpy as np
from numpy.typing import ArrayLike

from agency.leakage.units import KELVIN_PER_FAHRENHEIT, METRE_PER_FOOT, WATT_PER_BTU_PER_HOUR
from agency.savings.errors import SavingsError
from agency.savings.refusals import Array, above_zero, at_least_zero, finite, share

RESISTANCE_PER_R = METRE_PER_FOOT**2 * KELVIN_PER_FAHRENHEIT / WATT_PER_BTU_PER_HOUR
"""The trade's R, °F ft² h/Btu. [(m² K/W)/R]  0.176110.  Exact, derived."""
SECONDS_A_DAY = 86_400.0
SHARE_TOLERANCE = 1e-6
"""Shares of a whole may miss 1 by this. [-]  Derived: shares typed to six digits."""


def series_resistance(layers: ArrayLike) -> Array:
    """Resistance of layers one behind the other, air films included.

    Parameters
    ----------
    layers : array_like
        Resistance of each, not negative, shape (..., layers). [m² K/W]

    Returns
    -------
    ndarray
        Shape (...). [m² K/W]
    """
    return np.asarray(at_least_zero("Resistance", layers, unit="m² K/W").sum(axis=-1))


def parallel_transmittance(*, shares: ArrayLike, resistances: ArrayLike) -> Array:
    r"""Transmittance of an assembly whose paths lie side by side: cavity and framing.

    .. math:: U = \sum_k f_k / R_k

    Parameters
    ----------
    shares : array_like
        Share :math:`f` of the area of each path, summing to 1, shape (..., paths). [-]
    resistances : array_like
        Whole resistance :math:`R` of each path, more than 0, shape (..., paths). [m² K/W]

    Returns
    -------
    ndarray
        Shape (...). [W/(m² K)]

    Raises
    ------
    SavingsError
        Shares that do not make a whole, a resistance of nothing.

    References
    ----------
    .. [1] Parallel-path method, ASHRAE Fundamentals, from memory.
    """
    parts = share("Share of a path", shares)
    whole = parts.sum(axis=-1)
    if np.any(np.abs(whole - 1) > SHARE_TOLERANCE):
        raise SavingsError(
            f"the shares of the paths sum to {float(np.ravel(whole)[0]):g}; they must sum to 1. "
            "Give the share of the area of every path, framing included."
        )
    return np.asarray((parts / above_zero("Resistance", resistances, unit="m² K/W")).sum(axis=-1))


def transmittance_with_defects(
    *, sound: ArrayLike, defective: ArrayLike, defect_share: ArrayLike
) -> Array:
    r"""Transmittance of an assembly part of which is degraded or not insulated at all.

    .. math:: U = (1 - f) U_s + f U_d

    Parameters
    ----------
    sound, defective : array_like
        Transmittance of each part, not negative. [W/(m² K)]
    defect_share : array_like
        Share :math:`f` of the area that is defective. [-]

    Notes
    -----
    By area and U, never by averaging R: heat goes through the hole, not through its average.
    """
    part = share("Share that is defective", defect_share)
    whole = at_least_zero("Transmittance, sound", sound, unit="W/(m² K)")
    poor = at_least_zero("Transmittance, defective", defective, unit="W/(m² K)")
    return np.asarray((1 - part) * whole + part * poor)


def mean_transmittance(*, transmittances: ArrayLike, areas: ArrayLike) -> Array:
    """Area-weighted transmittance of assemblies, shapes (..., assemblies). [W/(m² K)]"""
    total = above_zero("Sum of the areas", np.asarray(areas).sum(axis=-1), unit="m²")
    return np.asarray(conductance(transmittances=transmittances, areas=areas) / total)


def conductance(*, transmittances: ArrayLike, areas: ArrayLike) -> Array:
    """Heat flow of all assemblies together for a kelvin: the sum of U times A.

    Walls, ceilings and floors, and windows and doors with the rated U of the whole unit.

    Parameters
    ----------
    transmittances : array_like
        Not negative, shape (..., assemblies). [W/(m² K)]
    areas : array_like
        Not negative, shape (..., assemblies). [m²]

    Returns
    -------
    ndarray
        Shape (...). [W/K]
    """
    per_area = at_least_zero("Transmittance", transmittances, unit="W/(m² K)")
    return np.asarray((per_area * at_least_zero("Area", areas, unit="m²")).sum(axis=-1))


def heat_through(*, conductance: ArrayLike, degree_days: ArrayLike) -> Array:
    r"""Heat a year drives through a conductance, or through a change of one.

    .. math:: E = UA \cdot D \cdot 86\,400\ \mathrm{s}

    Parameters
    ----------
    conductance : array_like
        Before less after for a saving; negative where more is lost than before. [W/K]
    degree_days : array_like
        At the balance temperature, not negative, by a convention the caller names. [K day]

    Returns
    -------
    ndarray
        Heat in the rooms; energy bought follows by `plant.bought_energy`. [J]
    """
    per_kelvin = finite("Conductance", conductance, unit="W/K")
    days = at_least_zero("Degree days", degree_days, unit="K day")
    return np.asarray(per_kelvin * days * SECONDS_A_DAY)
