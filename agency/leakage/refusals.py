"""Refusals that the formulas for ducts, fans, ventilation and vents share."""

import math

import numpy as np
from numpy.typing import ArrayLike

from agency.leakage.errors import OutOfRange
from agency.leakage.ranges import Array


def at_least(name: str, value: ArrayLike, *, low: float, unit: str) -> Array:
    """`value` as an array, every element of it finite and not below `low`."""
    numbers = np.asarray(value, dtype=np.float64)
    bad = ~(np.isfinite(numbers) & (numbers >= low))
    if np.any(bad):
        raise OutOfRange(
            quantity=name,
            value=float(numbers[bad].flat[0]),
            unit=unit,
            limit=f"at least {low:g}",
            next_step="Check the reading and its sign.",
        )
    return numbers


def finite(name: str, value: ArrayLike, *, unit: str) -> Array:
    """`value` as an array, every element of it a finite number of either sign."""
    numbers = np.asarray(value, dtype=np.float64)
    bad = ~np.isfinite(numbers)
    if np.any(bad):
        raise OutOfRange(
            quantity=name,
            value=float(numbers[bad].flat[0]),
            unit=unit,
            limit="a finite number",
            next_step="Read it again, or leave it out and say so.",
        )
    return numbers


def single(name: str, value: float | None, *, unit: str) -> float:
    """`value` as one finite number; None, which is not measured, is refused."""
    if value is None or not math.isfinite(value):
        raise OutOfRange(
            quantity=name,
            value=value,
            unit=unit,
            limit="a finite number",
            next_step="Read it again, or leave the test out and say so.",
        )
    return float(value)
