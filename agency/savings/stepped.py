"""Energy saved by measures in the order they are installed, and what bounds it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import accumulate, pairwise

import numpy as np

from agency.savings.changes import Change
from agency.savings.errors import SavingsError
from agency.savings.house_energy import (
    EndUse,
    House,
    Site,
    Use,
    energy_bought,
    mean_balance_temperature,
)
from agency.savings.refusals import Array, above_zero

Energies = Mapping[Use, Array]
"""A year's energy of each end use and fuel, an entry a house. [J]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Calibration:
    """Billed over modelled energy of one end use before any work."""

    ratio: float
    lowest: float
    highest: float

    @property
    def holds(self) -> bool:
        """Whether the model is near enough to the bill to be scaled to it."""
        return self.lowest <= self.ratio <= self.highest


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """What one measure saves."""

    name: str
    saved: Energies
    """From the state the earlier measures left."""
    alone: Energies
    """As if it were the only one; these overcount when added up."""
    balance_temperature: Array
    """Of the house after this step. [°C]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class SteppedSavings:
    """A package's savings; the steps sum to the total exactly."""

    before: Energies
    after: Energies
    balance_temperature: Array
    """Of the house before any work. [°C]"""
    steps: Sequence[Step]

    @property
    def saved(self) -> Energies:
        """Before less after."""
        return less(self.before, self.after)


@dataclass(frozen=True, slots=True, kw_only=True)
class AboveBill:
    """A saving larger than what was billed: it cannot be, and nobody may be promised it."""

    use: Use
    saved: float
    """[J]"""
    billed: float
    """[J]"""


def calibrate(*, modelled: float, billed: float, lowest: float, highest: float) -> Calibration:
    """Hold the model of the house before any work against its bill, one end use.

    Parameters
    ----------
    modelled, billed : float
        A year's energy in the same weather, more than 0. [J]
    lowest, highest : float
        Ratios within which the model may be scaled to the bill, a setting of the program. [-]

    Returns
    -------
    Calibration
        Also when it does not hold: `stepped_savings` refuses it then, and cuts nothing to a limit.
    """
    above_zero("Modelled energy", modelled, unit="J")
    above_zero("Billed energy", billed, unit="J")
    return Calibration(ratio=billed / modelled, lowest=lowest, highest=highest)


def stepped_savings(
    house: House,
    changes: Sequence[Change],
    site: Site,
    *,
    calibrations: Mapping[EndUse, Calibration],
) -> SteppedSavings:
    """Savings of measures taken one after the other, each from the state the last one left.

    Parameters
    ----------
    house : House
        Before any work.
    changes : sequence
        In the order of installation. Each step depends on it; the total only where two measures
        set the same figure anew.
    site : Site
    calibrations : mapping
        Of the end uses whose bill is known; the others stay as modelled.

    Raises
    ------
    SavingsError
        A measure that takes away more than there is, a calibration that does not hold.
    """
    states = states_of(house, changes)
    energies = [scaled(energy_bought(state, site), calibrations) for state in states]
    alone = [scaled(energy_bought(change.apply(house), site), calibrations) for change in changes]
    return SteppedSavings(
        before=energies[0],
        after=energies[-1],
        balance_temperature=mean_balance_temperature(house, site),
        steps=[
            Step(
                name=change.name,
                saved=less(*ends),
                alone=less(energies[0], only),
                balance_temperature=mean_balance_temperature(state, site),
            )
            for change, ends, only, state in zip(
                changes, pairwise(energies), alone, states[1:], strict=True
            )
        ],
    )


def states_of(house: House, changes: Sequence[Change]) -> list[House]:
    """The house before any work and after each measure."""
    return list(accumulate(changes, lambda last, change: change.apply(last), initial=house))


def scaled(energies: Energies, calibrations: Mapping[EndUse, Calibration]) -> Energies:
    """Modelled energies brought to their bills, in whole joules.

    Whole joules below 2**53 subtract and add without rounding, so the steps of a package sum to
    its total exactly.
    """
    return {
        use: np.rint(energy * _ratio(use.end_use, calibrations)) for use, energy in energies.items()
    }


def less(before: Energies, after: Energies) -> Energies:
    """Difference of each use; a fuel that only one side has counts as nothing on the other."""
    nothing = np.zeros(1)
    uses = before.keys() | after.keys()
    return {
        use: np.asarray(before.get(use, nothing) - after.get(use, nothing)) for use in sorted(uses)
    }


def above_bill(saved: Energies, billed: Mapping[Use, float]) -> list[AboveBill]:
    """Savings of one house that exceed what was billed for the same use, with both amounts.

    Uses without a bill are not held against anything.
    """
    whole_joule = 1.0
    return [
        AboveBill(use=use, saved=float(saved[use].max()), billed=amount)
        for use, amount in sorted(billed.items())
        if use in saved and saved[use].max() > amount + whole_joule
    ]


def _ratio(end_use: EndUse, calibrations: Mapping[EndUse, Calibration]) -> float:
    if end_use not in calibrations:
        return 1.0
    found = calibrations[end_use]
    if not found.holds:
        raise SavingsError(
            f"billed over modelled energy for {end_use} is {found.ratio:.2f}; it must be "
            f"{found.lowest:g} to {found.highest:g}. Check the bills, the fuels and the house's "
            "description before any saving is promised."
        )
    return found.ratio
