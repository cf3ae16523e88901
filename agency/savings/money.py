"""Money for energy, by a table of dated prices that the caller hands in."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import ArrayLike, NDArray

from agency.savings.errors import FuelError
from agency.savings.fuels import heat_content

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class PriceRow:
    """What one unit of a fuel costs from a day on."""

    fuel: str
    unit: str
    price: float
    """[$ per unit]"""
    effective_from: date
    source: str


def price_on(rows: Iterable[PriceRow], *, fuel: str, day: date) -> PriceRow:
    """The newest price of `fuel` that holds on `day`.

    Raises
    ------
    FuelError
        When no row holds on that day.
    """
    holding = [row for row in rows if row.fuel == fuel and row.effective_from <= day]
    if not holding:
        raise FuelError(
            f"no price of {fuel} holds on {day.isoformat()}. Enter a price with its source that "
            "is effective on or before that day."
        )
    return max(holding, key=lambda row: row.effective_from)


def cost_of(energy: ArrayLike, *, price: PriceRow) -> Array:
    """Cost of energy bought at one price; a negative energy costs a negative sum. [$]

    Parameters
    ----------
    energy : float or array
        [J]
    price : PriceRow
        Its fuel and unit name the heat content used.
    """
    if not price.price > 0:
        raise FuelError(
            f"the price of {price.fuel} is {price.price:g} $/{price.unit}; it must be above 0. "
            "Correct the price."
        )
    content = heat_content(fuel=price.fuel, unit=price.unit)
    return np.asarray(np.asarray(energy, dtype=np.float64) / content.joules * price.price)
