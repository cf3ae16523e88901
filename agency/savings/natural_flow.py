"""Natural air flow of a house by whichever infiltration model was chosen for it."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from agency.leakage.air import REFERENCE_DENSITY
from agency.leakage.infiltration import BasicCoefficients, basic_flow
from agency.leakage.infiltration_combining import Superposition
from agency.leakage.infiltration_enhanced import EnhancedCoefficients, enhanced_flow
from agency.savings.refusals import Array

ELA_PRESSURE = 4.0
"""Pressure of the effective leakage area. [Pa]  ASTM E779, from memory."""


@dataclass(frozen=True, slots=True, kw_only=True)
class EnhancedLeaks:
    """How one house's leaks turn weather into flow by the enhanced model."""

    coefficients: EnhancedCoefficients
    exponent: float
    """Of the fan test; sealing is taken to leave it as it is. [-]"""
    superposition: Superposition


Leaks = BasicCoefficients | EnhancedLeaks


def natural_flow(
    *,
    leakage_area: ArrayLike,
    leaks: Leaks,
    temperature_difference: ArrayLike,
    wind_speed: ArrayLike,
) -> Array:
    """Air flow through the leaks; arguments broadcast as in the model's own function.

    Parameters
    ----------
    leakage_area : array_like
        Effective, at 4 Pa with discharge coefficient 1. [m²]
    leaks : Leaks
        Its kind decides the model.
    temperature_difference : array_like
        Indoors less outdoors. [K]
    wind_speed : array_like
        At the weather station's mast. [m/s]

    Returns
    -------
    ndarray
        [m³/s]
    """
    if isinstance(leaks, BasicCoefficients):
        return basic_flow(
            leakage_area=leakage_area,
            coefficients=leaks,
            temperature_difference=temperature_difference,
            wind_speed=wind_speed,
        )
    return enhanced_flow(
        coefficient=coefficient_of(leakage_area, exponent=leaks.exponent),
        exponent=leaks.exponent,
        coefficients=leaks.coefficients,
        temperature_difference=temperature_difference,
        mast_wind_speed=wind_speed,
        superposition=leaks.superposition,
    ).flow


def coefficient_of(leakage_area: ArrayLike, *, exponent: float) -> Array:
    r"""Flow coefficient of an effective leakage area.

    .. math:: C = A_L \sqrt{2 p_4 / \rho_0} \, p_4^{-n}

    Parameters
    ----------
    leakage_area : array_like
        :math:`A_L`. [m²]
    exponent : float
        :math:`n`. [-]

    Returns
    -------
    ndarray
        [m³/(s Paⁿ)]

    References
    ----------
    .. [1] Effective leakage area as ASTM E779 defines it, from memory.
    """
    at_4 = np.sqrt(2 * ELA_PRESSURE / REFERENCE_DENSITY)
    return np.asarray(np.asarray(leakage_area, dtype=np.float64) * at_4 * ELA_PRESSURE**-exponent)
