"""Refusals that the savings formulas share."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from agency.savings.errors import SavingsError
from agency.savings.plant import HIGHEST_EFFICIENCY

Array = NDArray[np.float64]


def at_least_zero(name: str, value: ArrayLike, *, unit: str) -> Array:
    """`value` as an array, every element of it finite and not negative."""
    numbers = finite(name, value, unit=unit)
    _refuse(name, numbers, numbers >= 0, unit=unit, limit="0 or more")
    return numbers


def above_zero(name: str, value: ArrayLike, *, unit: str) -> Array:
    """`value` as an array, every element of it finite and more than 0."""
    numbers = finite(name, value, unit=unit)
    _refuse(name, numbers, numbers > 0, unit=unit, limit="more than 0")
    return numbers


def share(name: str, value: ArrayLike) -> Array:
    """`value` as an array, every element of it from 0 to 1."""
    numbers = finite(name, value, unit="")
    allowed = (numbers >= 0) & (numbers <= 1)
    _refuse(name, numbers, allowed, unit="", limit="from 0 to 1, a share and not a percentage")
    return numbers


def efficiency(name: str, value: ArrayLike) -> Array:
    """`value` as an array, every element heat out (or heat moved) per energy in."""
    numbers = finite(name, value, unit="")
    allowed = (numbers > 0) & (numbers <= HIGHEST_EFFICIENCY)
    limit = f"more than 0 and at most {HIGHEST_EFFICIENCY:g}, 0.80 and not 80"
    _refuse(name, numbers, allowed, unit="", limit=limit)
    return numbers


def finite(name: str, value: ArrayLike, *, unit: str) -> Array:
    """`value` as an array, every element of it a number."""
    numbers = np.asarray(value, dtype=np.float64)
    _refuse(name, numbers, np.isfinite(numbers), unit=unit, limit="a finite number")
    return numbers


def _refuse(
    name: str, numbers: Array, allowed: NDArray[np.bool_], *, unit: str, limit: str
) -> None:
    if np.all(allowed):
        return
    worst = f"{float(numbers[~allowed].flat[0]):g} {unit}".strip()
    raise SavingsError(f"{name} is {worst}; it must be {limit}. Check the figure and its unit.")
