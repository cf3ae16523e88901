"""Natural air flow by the enhanced model: from C and n of a test, with flue and foundation."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray

from agency.leakage.errors import OutOfRange
from agency.leakage.infiltration_combining import SUPERPOSITIONS, Superposition
from agency.leakage.ranges import Array, within
from agency.leakage.refusals import at_least, finite
from agency.leakage.scaling import leak_exponent


class Flue(StrEnum):
    """Whether a flue stands open to the rooms."""

    NONE = "no flue"
    OPEN = "flue"


class Foundation(StrEnum):
    """What is below the lowest floor."""

    BASEMENT_OR_SLAB = "basement or slab"
    CRAWL_SPACE = "crawl space"


@dataclass(frozen=True, slots=True, kw_only=True)
class EnhancedModelTable:
    """Coefficients of the enhanced model, as printed, with where they come from."""

    method: str
    edition: str
    wind_convention: str
    storeys: tuple[float, ...]
    stack: Mapping[Flue, tuple[float, ...]]
    """By storeys. [(Pa/K)^n]"""
    wind: Mapping[tuple[Foundation, Flue], tuple[float, ...]]
    """By storeys. [(Pa s²/m²)^n]"""
    wind_multiplier: tuple[float, ...]
    """Wind at the eaves over wind at the weather station's mast, by storeys. [-]"""
    shelter: Mapping[int, float]
    """By shelter class, no flue. [-]"""
    shelter_with_flue: Mapping[int, tuple[float, ...]]
    """By shelter class, then by storeys. [-]"""
    exponents: tuple[float, float]
    """The coefficients hold an exponent near 0.67; outside this range they fit badly. [-]"""
    source: str
    provenance: str


ENHANCED_MODEL = EnhancedModelTable(
    method="Enhanced infiltration model (Walker and Wilson, AIM-2)",
    edition="ASHRAE Handbook of Fundamentals 2001 ch. 26, 2005 ch. 27",
    wind_convention="wind at the eaves: mast wind times the wind multiplier",
    storeys=(1.0, 2.0, 3.0),
    stack={Flue.OPEN: (0.069, 0.089, 0.107), Flue.NONE: (0.054, 0.078, 0.098)},
    wind={
        (Foundation.BASEMENT_OR_SLAB, Flue.OPEN): (0.142, 0.156, 0.167),
        (Foundation.BASEMENT_OR_SLAB, Flue.NONE): (0.156, 0.170, 0.170),
        (Foundation.CRAWL_SPACE, Flue.OPEN): (0.128, 0.142, 0.154),
        (Foundation.CRAWL_SPACE, Flue.NONE): (0.128, 0.142, 0.151),
    },
    wind_multiplier=(0.48, 0.59, 0.67),
    shelter={1: 1.00, 2: 0.90, 3: 0.70, 4: 0.50, 5: 0.30},
    shelter_with_flue={
        1: (1.10, 1.07, 1.06),
        2: (1.02, 0.98, 0.97),
        3: (0.86, 0.81, 0.79),
        4: (0.70, 0.64, 0.61),
        5: (0.54, 0.47, 0.43),
    },
    exponents=(0.6, 0.7),
    source=(
        "US DOE building simulation, Input Output Reference, flow coefficient tables, citing "
        "ASHRAE Handbook of Fundamentals 2001 ch. 26 and 2005 ch. 27; half storeys linear: "
        "common practice, no source"
    ),
    provenance="read; the wind multiplier from memory",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class EnhancedCoefficients:
    """What turns weather into flow, of one house or one per house, shape (...)."""

    stack: Array
    """[(Pa/K)^n]"""
    wind: Array
    """[(Pa s²/m²)^n]"""
    shelter: Array
    wind_multiplier: Array
    variant: str
    """Foundation and flue, in words."""


@dataclass(frozen=True, slots=True, kw_only=True)
class EnhancedFlow:
    """Flow by the enhanced model and its two causes, shape (...)."""

    flow: Array
    """[m³/s]"""
    stack: Array
    """[m³/s]"""
    wind: Array
    """[m³/s]"""
    superposition: Superposition
    variant: str
    exponent_outside: NDArray[np.bool_]
    """Where the exponent is not one the printed coefficients were made for; shape of the
    exponent. The flow is worked out with the exponent as it is."""


def enhanced_coefficients(
    *, storeys: ArrayLike, shelter_class: ArrayLike, foundation: Foundation, flue: Flue
) -> EnhancedCoefficients:
    """Coefficients of the enhanced model for one variant, from the printed tables.

    Parameters
    ----------
    storeys : array_like
        Storeys above grade, 1 to 3; between the printed columns linear, shape (...). [-]
    shelter_class : array_like
        1 (no obstructions) to 5 (buildings immediately adjacent), shape (...). [-]
    foundation : Foundation
    flue : Flue

    Raises
    ------
    OutOfRange
        Outside the printed tables.

    References
    ----------
    .. [1] See ``ENHANCED_MODEL.source``.
    """
    table = ENHANCED_MODEL
    height, shelter = np.broadcast_arrays(
        within("Storeys", storeys, low=table.storeys[0], high=table.storeys[-1], unit=""),
        _shelter_class(shelter_class),
    )
    sheltered = np.zeros(height.shape)
    for number, alone in table.shelter.items():
        here = shelter == number
        columns = table.shelter_with_flue[number] if flue is Flue.OPEN else (alone,) * 3
        sheltered[here] = np.interp(height[here], table.storeys, columns)

    def at_height(columns: tuple[float, ...]) -> Array:
        return np.asarray(np.interp(height, table.storeys, columns))

    return EnhancedCoefficients(
        stack=at_height(table.stack[flue]),
        wind=at_height(table.wind[foundation, flue]),
        shelter=sheltered,
        wind_multiplier=at_height(table.wind_multiplier),
        variant=f"{foundation}, {flue}",
    )


def enhanced_flow(
    *,
    coefficient: ArrayLike,
    exponent: ArrayLike,
    coefficients: EnhancedCoefficients,
    temperature_difference: ArrayLike,
    mast_wind_speed: ArrayLike,
    superposition: Superposition,
) -> EnhancedFlow:
    r"""Air flow through the leaks by the enhanced model; arguments broadcast to (...).

    .. math:: Q_s = C C_s |\Delta T|^n, \quad Q_w = C C_w (s G U)^{2n}

    Parameters
    ----------
    coefficient, exponent : array_like
        :math:`C` and :math:`n` of the fan test. [m³/(s Paⁿ)], [-]
    coefficients : EnhancedCoefficients
        :math:`C_s, C_w, s, G`.
    temperature_difference : array_like
        Indoors less outdoors :math:`\Delta T`. [K]
    mast_wind_speed : array_like
        Wind :math:`U` at the weather station's mast, not negative. [m/s]
    superposition : Superposition
        ``QUADRATURE`` is ASHRAE's enhanced model, ``ORIGINAL`` the model as first published.

    Returns
    -------
    EnhancedFlow

    Raises
    ------
    LeakageError
        A negative flow coefficient or wind, a value that is no number, an exponent no air has.

    References
    ----------
    .. [1] US DOE building simulation, Engineering Reference, "Infiltration by Flow
       Coefficient", read.
    .. [2] I. S. Walker and D. J. Wilson, HVAC&R Research 4(2), 1998, from memory.
    """
    size = at_least("Flow coefficient", coefficient, low=0, unit="m³/(s Paⁿ)")
    n = leak_exponent(exponent)
    difference = finite("Temperature difference", temperature_difference, unit="K")
    mast = at_least("Wind speed", mast_wind_speed, low=0, unit="m/s")
    at_eaves = coefficients.shelter * coefficients.wind_multiplier * mast
    stack = size * coefficients.stack * np.abs(difference) ** n
    wind = size * coefficients.wind * at_eaves ** (2 * n)
    low, high = ENHANCED_MODEL.exponents
    return EnhancedFlow(
        flow=SUPERPOSITIONS[superposition](stack=stack, wind=wind, exponent=n),
        stack=np.asarray(stack),
        wind=np.asarray(wind),
        superposition=superposition,
        variant=coefficients.variant,
        exponent_outside=(n < low) | (n > high),
    )


def _shelter_class(shelter_class: ArrayLike) -> Array:
    shelter = finite("Shelter class", shelter_class, unit="")
    unknown = ~np.isin(shelter, list(ENHANCED_MODEL.shelter))
    if np.any(unknown):
        raise OutOfRange(
            quantity="Shelter class",
            value=float(shelter[unknown].flat[0]),
            limit="a whole number 1 to 5",
            next_step="Choose the class that fits the house.",
        )
    return shelter
