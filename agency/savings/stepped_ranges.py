"""Energy saved by several measures as ranges: every state of the house drawn, trial by trial."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from agency.savings.changes import Change
from agency.savings.house_energy import EndUse, House, Site, Use, energy_bought
from agency.savings.showing import Range
from agency.savings.stepped import (
    Calibration,
    Energies,
    less,
    scaled,
    states_of,
)
from agency.savings.uncertainty import Draws, Leakage, Spread, draw, range_of


@dataclass(frozen=True, slots=True, kw_only=True)
class SteppedTrials:
    """What each step saves in every trial; the first entry is the central case. [J]"""

    total: Energies
    steps: Sequence[tuple[str, Energies]]
    """Each measure's name with what it saves."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SteppedRanges:
    """The middle 90 % of the trials; ranges of steps do not add up to that of the total."""

    total: Mapping[Use, Range]
    """[J]"""
    steps: Sequence[tuple[str, Mapping[Use, Range]]]
    """Each measure's name with what it saves. [J]"""


def stepped_ranges(
    house: House,
    changes: Sequence[Change],
    site: Site,
    *,
    calibrations: Mapping[EndUse, Calibration],
    spread: Spread,
    trials: int,
    seed: int,
) -> SteppedRanges:
    """Ranges of `stepped_trials`, whose arguments and refusals these are."""
    drawn = stepped_trials(
        house,
        changes,
        site,
        calibrations=calibrations,
        spread=spread,
        trials=trials,
        seed=seed,
    )
    return SteppedRanges(
        total=_ranges(drawn.total), steps=[(name, _ranges(saved)) for name, saved in drawn.steps]
    )


def stepped_trials(
    house: House,
    changes: Sequence[Change],
    site: Site,
    *,
    calibrations: Mapping[EndUse, Calibration],
    spread: Spread,
    trials: int,
    seed: int,
) -> SteppedTrials:
    """Draw leakage, weather year, set point and efficiency, and run the package in each trial.

    Parameters
    ----------
    house, changes, site, calibrations
        As of `stepped_savings`, of one house; the ratios to the bills are kept through all trials.
    spread, trials, seed
        The same seed gives the same trials.

    Returns
    -------
    SteppedTrials
        Its central figures are those of `stepped_savings`.

    Raises
    ------
    SavingsError
        As of `stepped_savings` and `draw`.
    """
    states = states_of(house, changes)
    draws = draw(_leakage(states), spread, trials=trials, seed=seed)
    energies = [
        scaled(_of_the_year(energy_bought(state, site), draws), calibrations)
        for state in _drawn(states, draws)
    ]
    pairs = zip(changes, pairwise(energies), strict=True)
    return SteppedTrials(
        total=less(energies[0], energies[-1]),
        steps=[(change.name, less(*ends)) for change, ends in pairs],
    )


def _leakage(states: Sequence[House]) -> Leakage:
    """The two tests' areas; `draw` takes nothing else of it."""
    return Leakage(
        before=float(states[0].leakage_area),
        after=float(states[-1].leakage_area),
        storeys=1.0,
        shelter_class=1,
    )


def _drawn(states: Sequence[House], draws: Draws) -> list[House]:
    """Each state with the trials' leakage, set points and efficiencies.

    Between the two tests a state's leakage is drawn at its share of the way.
    """
    before, after = float(states[0].leakage_area), float(states[-1].leakage_area)
    drawn = []
    for state in states:
        done = (before - float(state.leakage_area)) / (before - after) if before != after else 0.0
        heating = state.heating
        drawn.append(
            replace(
                state,
                leakage_area=(draws.area_before - done * draws.area_saved) * draws.flow_factor,
                setpoint=state.setpoint + draws.setpoint_shift,
                heating=replace(
                    heating, efficiency=heating.efficiency * draws.heating_efficiency_factor
                ),
                cooling=state.cooling
                and replace(
                    state.cooling,
                    setpoint=state.cooling.setpoint + draws.setpoint_shift,
                    efficiency=state.cooling.efficiency * draws.cooling_efficiency_factor,
                ),
            )
        )
    return drawn


def _of_the_year(energies: Energies, draws: Draws) -> Energies:
    factors = {
        EndUse.HEATING: draws.heating_year_factor,
        EndUse.COOLING: draws.cooling_year_factor,
    }
    return {use: energy * factors.get(use.end_use, 1.0) for use, energy in energies.items()}


def _ranges(saved: Energies) -> Mapping[Use, Range]:
    return {use: range_of(trials) for use, trials in saved.items()}
