"""Refusal of values outside the range a formula holds for."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from agency.leakage.errors import NotPositive, OutOfRange

Array = NDArray[np.float64]


def within(name: str, value: ArrayLike, *, low: float, high: float, unit: str) -> Array:
    """`value` as an array, every element of it from `low` to `high`."""
    numbers = np.asarray(value, dtype=np.float64)
    bad = ~((numbers >= low) & (numbers <= high))
    if np.any(bad):
        first = numbers[bad].flat[0]
        raise OutOfRange(
            quantity=name,
            value=float(first),
            unit=unit,
            limit=f"from {low:g} to {high:g}",
            next_step="Check the reading and its unit.",
        )
    return numbers


def above(name: str, value: ArrayLike, *, low: float, unit: str) -> Array:
    """`value` as an array, every element of it finite and more than `low`."""
    numbers = np.asarray(value, dtype=np.float64)
    bad = ~(np.isfinite(numbers) & (numbers > low))
    if np.any(bad):
        first = numbers[bad].flat[0]
        raise NotPositive(
            quantity=name,
            value=float(first),
            unit=unit,
            limit=f"more than {low:g}",
            next_step="Check the reading.",
        )
    return numbers
