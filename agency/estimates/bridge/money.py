"""First-year and lifetime money of saved energy, by fuel and its price over the years."""

from collections.abc import Mapping, Sequence

import numpy as np

from agency.savings.errors import FuelError
from agency.savings.fuels import heat_content
from agency.savings.house_energy import Use
from agency.savings.present_value import indexed_present_value
from agency.savings.refusals import Array
from agency.savings.stepped import Energies

from ..measures_inputs import MeasuresInputs, Price

ByFuel = Mapping[str, float]
"""A figure of each fuel."""


def prices_of(inputs: MeasuresInputs) -> ByFuel:
    """What a joule of each fuel costs. [$/J]"""
    return {one.fuel: one.price / heat_content(fuel=one.fuel, unit=one.unit).joules
            for one in inputs.prices}  # fmt: skip


def factors_of(inputs: MeasuresInputs, *, years: int, discount_rate: float) -> ByFuel:
    """Present value of a first-year dollar of each fuel over a lifetime. [a]"""
    return {
        one.fuel: float(
            indexed_present_value(
                discount_rate=discount_rate, price_indices=indices_of(one, years=years)
            )
        )
        for one in inputs.prices
    }


def indices_of(price: Price, *, years: int) -> Array:
    """Yearly indices of years 1 to `years`: linear between those the rule book holds."""
    known = {0: 1.0, **price.indices}
    at = sorted(known)
    return np.asarray(np.interp(np.arange(1, years + 1), at, [known[year] for year in at]))


def money_of(saved: Energies, per_joule: ByFuel) -> Array:
    """Sum over the fuels, trial by trial. [$]

    Raises
    ------
    FuelError
        A fuel that is saved, or bought more of, without a price.
    """
    refuse_unpriced(saved, per_joule)
    # Nothing saved costs nothing in as many trials as there are.
    nothing = 0.0 * np.asarray(sum(saved.values()))
    return np.asarray(
        sum((energy * per_joule[use.fuel] for use, energy in saved.items() if energy.any()),
            start=nothing)
    )  # fmt: skip


def lifetime_money(saved: Energies, per_joule: ByFuel, factors: ByFuel) -> Array:
    """Discounted over the lifetime. [$]"""
    return money_of(saved, {fuel: price * factors[fuel] for fuel, price in per_joule.items()})


def refuse_unpriced(saved: Energies, per_joule: ByFuel) -> None:
    """Refuse money for a fuel nobody entered a price of."""
    without = sorted({use.fuel for use in _moved(saved)} - set(per_joule))
    if without:
        fuel = without[0].replace("_", " ")
        raise FuelError(
            f"no price of {fuel} holds on the day of the estimate. Enter a price with its source."
        )


def _moved(saved: Energies) -> Sequence[Use]:
    return [use for use, energy in saved.items() if energy.any()]
