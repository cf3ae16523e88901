"""Natural air flow through a house's leaks, hour by hour, from its effective leakage area."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from agency.leakage.errors import LeakageError

Array = NDArray[np.float64]

LPS_PER_CM2 = 10.0
"""One litre a second from one square centimetre, as m³/s from one m². [-]  Exact, derived."""
HOUSES_AT_ONCE = 4
"""Houses worked on together: a buffer of 4 x 8,760 hours is 280 kB; measured fastest. [-]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class BasicModelTable:
    """Coefficients of the basic infiltration model, as printed, with where they come from."""

    method: str
    edition: str
    wind_convention: str
    storeys: tuple[float, ...]
    stack: tuple[float, ...]
    """By storeys. [(L/s)²/(cm⁴ K)]"""
    wind: Mapping[int, tuple[float, ...]]
    """By shelter class, then by storeys. [(L/s)²/(cm⁴ (m/s)²)]"""
    shelter_classes: Mapping[int, str]
    source: str
    provenance: str


BASIC_MODEL = BasicModelTable(
    method="Basic infiltration model (Sherman and Grimsrud)",
    edition="ASHRAE Handbook of Fundamentals 2001 ch. 26, 2005 ch. 27",
    # The tabulated wind coefficients already hold the step from mast to sheltered house.
    wind_convention="wind at the weather station's mast, as measured",
    storeys=(1.0, 2.0, 3.0),
    stack=(0.000145, 0.000290, 0.000435),
    wind={
        1: (0.000319, 0.000420, 0.000494),
        2: (0.000246, 0.000325, 0.000382),
        3: (0.000174, 0.000231, 0.000271),
        4: (0.000104, 0.000137, 0.000161),
        5: (0.000032, 0.000042, 0.000049),
    },
    shelter_classes={
        1: "no obstructions",
        2: "isolated rural house",
        3: "buildings across the street",
        4: "urban, larger lots",
        5: "buildings immediately adjacent",
    },
    source=(
        "US DOE building simulation, Input Output Reference, effective leakage area tables, "
        "citing ASHRAE Handbook of Fundamentals 2001 ch. 26 and 2005 ch. 27; "
        "half storeys linear: common practice, no source"
    ),
    provenance="read; the wind convention and the wording of class 5 from memory",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class BasicCoefficients:
    """Stack and wind coefficients, of one house or one per house."""

    stack: Array
    """[(L/s)²/(cm⁴ K)]"""
    wind: Array
    """[(L/s)²/(cm⁴ (m/s)²)]"""


def basic_coefficients(*, storeys: ArrayLike, shelter_class: ArrayLike) -> BasicCoefficients:
    """Coefficients of the basic model for a height in storeys and a shelter class.

    Parameters
    ----------
    storeys : float or array
        Storeys above grade, 1 to 3; between the printed columns linear. [-]
    shelter_class : int or array
        1 (no obstructions) to 5 (buildings immediately adjacent). [-]

    Raises
    ------
    LeakageError
        Outside the printed table.

    References
    ----------
    .. [1] See ``BASIC_MODEL.source``.
    """
    height, shelter = np.broadcast_arrays(
        np.asarray(storeys, dtype=np.float64), np.asarray(shelter_class, dtype=np.float64)
    )
    low, high = BASIC_MODEL.storeys[0], BASIC_MODEL.storeys[-1]
    _refuse_unless(
        (height >= low) & (height <= high),
        height,
        f"storeys must be {low:g} to {high:g}, the range of the basic model's table. "
        "Correct the house, or use a model made for taller buildings.",
    )
    _refuse_unless(
        np.isin(shelter, list(BASIC_MODEL.wind)),
        shelter,
        "shelter class must be a whole number 1 to 5. Choose the class that fits the house.",
    )
    wind = np.zeros(height.shape)
    for number, by_storeys in BASIC_MODEL.wind.items():
        here = shelter == number
        wind[here] = np.interp(height[here], BASIC_MODEL.storeys, by_storeys)
    stack = np.asarray(np.interp(height, BASIC_MODEL.storeys, BASIC_MODEL.stack))
    return BasicCoefficients(stack=stack, wind=wind)


def basic_flow(
    *,
    leakage_area: ArrayLike,
    coefficients: BasicCoefficients,
    temperature_difference: ArrayLike,
    wind_speed: ArrayLike,
) -> Array:
    r"""Air flow through the leaks by the basic model; arguments broadcast.

    .. math:: Q = A_L \sqrt{C_s |\Delta T| + C_w U^2}

    Parameters
    ----------
    leakage_area : float or array
        Effective leakage area :math:`A_L` at 4 Pa, discharge coefficient 1. [m²]
    coefficients : BasicCoefficients
        :math:`C_s` and :math:`C_w`.
    temperature_difference : float or array
        Indoors less outdoors :math:`\Delta T`. [K]
    wind_speed : float or array
        Wind :math:`U` in the sense of ``BASIC_MODEL.wind_convention``. [m/s]

    Returns
    -------
    array
        Air flow :math:`Q`. [m³/s]

    Notes
    -----
    An area at 10 Pa with discharge coefficient 0.611 is another quantity; never pass it here.

    References
    ----------
    .. [1] US DOE building simulation, Engineering Reference, "Infiltration by Effective
       Leakage Area", read.
    .. [2] M. H. Sherman and D. T. Grimsrud, 1980, LBL-10852, from memory.
    """
    area = _finite(leakage_area, "leakage area", "m²")
    wind = _finite(wind_speed, "wind speed", "m/s")
    difference = _finite(temperature_difference, "temperature difference", "K")
    _refuse_unless(area >= 0, area, "leakage area must not be negative. [m²]")
    _refuse_unless(wind >= 0, wind, "wind speed must not be negative. [m/s]")
    by_wind = coefficients.wind * wind**2
    # Worked in one buffer: a block of a year's hours is too large to allocate again each step.
    flow = np.empty(
        np.broadcast_shapes(area.shape, difference.shape, coefficients.stack.shape, by_wind.shape)
    )
    np.abs(difference, out=flow)
    flow *= coefficients.stack
    flow += by_wind
    np.sqrt(flow, out=flow)
    flow *= LPS_PER_CM2 * area
    return flow


def basic_mean_flow(
    *,
    leakage_area: Array,
    coefficients: BasicCoefficients,
    indoor_temperature: ArrayLike,
    outdoor_temperature: Array,
    wind_speed: Array,
) -> Array:
    """Mean over the hours of each house's flow: the mean of flows, not the flow at mean weather.

    Parameters
    ----------
    leakage_area : array, one per house
        Effective leakage area. [m²]
    coefficients : BasicCoefficients, one per house
    indoor_temperature : float or array, one per house
        [°C]
    outdoor_temperature, wind_speed : array, one per hour
        [°C], [m/s]

    Returns
    -------
    array, one per house
        [m³/s]
    """
    houses = len(leakage_area)
    indoors = np.broadcast_to(np.asarray(indoor_temperature, dtype=np.float64), (houses,))
    means = np.empty(houses)
    for block in house_blocks(houses):
        means[block] = basic_flow(
            leakage_area=leakage_area[block, None],
            coefficients=coefficients_of(coefficients, block),
            temperature_difference=indoors[block, None] - outdoor_temperature,
            wind_speed=wind_speed,
        ).mean(axis=-1)
    return means


def house_blocks(houses: int) -> Iterator[slice]:
    """Slices that cover `houses` rows in blocks small enough for the processor's cache."""
    for start in range(0, houses, HOUSES_AT_ONCE):
        yield slice(start, min(start + HOUSES_AT_ONCE, houses))


def coefficients_of(coefficients: BasicCoefficients, block: slice) -> BasicCoefficients:
    """The coefficients of a block of houses, as a column to meet a row of hours."""
    return BasicCoefficients(
        stack=np.atleast_1d(coefficients.stack)[block, None],
        wind=np.atleast_1d(coefficients.wind)[block, None],
    )


def _finite(value: ArrayLike, name: str, unit: str) -> Array:
    array = np.asarray(value, dtype=np.float64)
    if not np.isfinite(array).all():
        raise LeakageError(
            f"{name} [{unit}] holds a value that is not a number. Leave out the hours or houses "
            "where it was not measured, and say so."
        )
    return array


def _refuse_unless(allowed: NDArray[np.bool_], values: Array, message: str) -> None:
    if not np.all(allowed):
        worst = np.atleast_1d(values)[~np.atleast_1d(allowed)][0]
        raise LeakageError(f"{worst:g}: {message}")
