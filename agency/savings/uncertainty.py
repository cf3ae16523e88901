"""The yearly saving of less leakage as a range, by a small seeded Monte Carlo."""

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from agency.leakage.infiltration import BasicCoefficients, basic_coefficients
from agency.savings.errors import SavingsError
from agency.savings.humidity import humidity_ratio_from_relative
from agency.savings.infiltration_energy import (
    Hours,
    cooling_load_by_house,
    heating_load_by_house,
)
from agency.savings.plant import bought_energy, refuse_wrong_efficiency
from agency.savings.showing import Range

Array = NDArray[np.float64]

CONFIDENCE = 0.90
"""Share of the trials between low and high. [-]"""
FEWEST_TRIALS = 200
"""Below it a 5 % tail rests on fewer than ten trials. [-]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """Standard uncertainties (k = 1); relative unless a unit is given."""

    before: float
    """Leakage area before the work, all causes together."""
    after: float
    """Leakage area after the work, all causes together."""
    shared: float
    """The part common to both tests: same gauge, same fan, same crew."""
    infiltration_model: float
    """Flow given by the model for one house, leakage and weather known."""
    weather_year: float
    """One real year against the typical year."""
    setpoint: float
    """The household's thermostat. [K]"""
    heating_efficiency: float
    cooling_efficiency: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Leakage:
    """Effective leakage areas and what turns them into flow."""

    before: float
    """[m²]"""
    after: float
    """[m²]"""
    storeys: float
    shelter_class: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Heating:
    """How the house is heated."""

    setpoint: float
    """[°C]"""
    balance_offset: float
    """Set point less balance temperature: what people, sun and appliances give. [K]"""
    efficiency: float
    distribution_efficiency: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Cooling:
    """How the house is cooled."""

    setpoint: float
    """[°C]"""
    indoor_relative_humidity: float
    """Fraction. [-]"""
    pressure: float
    """Station pressure for the indoor humidity ratio. [Pa]"""
    efficiency: float
    distribution_efficiency: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Draws:
    """What varies between trials, an entry a trial; the first entry is the central case."""

    area_before: Array
    """[m²]"""
    area_saved: Array
    """[m²]"""
    flow_factor: Array
    heating_year_factor: Array
    cooling_year_factor: Array
    setpoint_shift: Array
    """[K]"""
    heating_efficiency_factor: Array
    cooling_efficiency_factor: Array


def draw(leakage: Leakage, spread: Spread, *, trials: int, seed: int) -> Draws:
    """Draw the trials; the same seed gives the same trials.

    Relative parts are drawn on the logarithm, so that no area or efficiency turns negative.

    Raises
    ------
    SavingsError
        Too few trials, a negative spread, or a shared part larger than a whole.
    """
    _refuse_wrong_spread(leakage, spread, trials)
    rng = np.random.default_rng(seed)

    def normal(standard: float) -> Array:
        # The central case is drawn too, as zero, so that every array has the same length.
        return np.concatenate(([0.0], standard * rng.standard_normal(trials)))

    shared = normal(spread.shared)
    own_before = normal(np.sqrt(spread.before**2 - spread.shared**2))
    own_after = normal(np.sqrt(spread.after**2 - spread.shared**2))
    before = leakage.before * np.exp(shared + own_before)
    after = leakage.after * np.exp(shared + own_after)
    return Draws(
        area_before=before,
        area_saved=before - after,
        flow_factor=np.exp(normal(spread.infiltration_model)),
        heating_year_factor=np.exp(normal(spread.weather_year)),
        cooling_year_factor=np.exp(normal(spread.weather_year)),
        setpoint_shift=normal(spread.setpoint),
        heating_efficiency_factor=np.exp(normal(spread.heating_efficiency)),
        cooling_efficiency_factor=np.exp(normal(spread.cooling_efficiency)),
    )


def heating_savings(
    draws: Draws, leakage: Leakage, heating: Heating, *, hours: Hours, density: float
) -> Array:
    """Heating energy not bought in each trial; negative when the house leaks more. [J]"""
    refuse_wrong_efficiency(
        efficiency=heating.efficiency, distribution_efficiency=heating.distribution_efficiency
    )
    if heating.balance_offset < 0:
        raise SavingsError(
            f"balance offset is {heating.balance_offset:g} K; it must be 0 or more. Give the set "
            "point less the outdoor temperature at which the heating starts."
        )
    setpoint = heating.setpoint + draws.setpoint_shift
    per_area = heating_load_by_house(
        leakage_area=np.ones_like(setpoint),
        coefficients=_same_for_all(leakage, len(setpoint)),
        setpoint=setpoint,
        balance=setpoint - heating.balance_offset,
        hours=hours,
        density=density,
    )
    return bought_energy(
        load=draws.area_saved * draws.flow_factor * draws.heating_year_factor * per_area,
        efficiency=heating.efficiency * draws.heating_efficiency_factor,
        distribution_efficiency=heating.distribution_efficiency,
    )


def cooling_savings(
    draws: Draws, leakage: Leakage, cooling: Cooling, *, hours: Hours, density: float
) -> Array:
    """Cooling electricity not bought in each trial, sensible plus latent. [J]"""
    refuse_wrong_efficiency(
        efficiency=cooling.efficiency, distribution_efficiency=cooling.distribution_efficiency
    )
    setpoint = cooling.setpoint + draws.setpoint_shift
    per_area = cooling_load_by_house(
        leakage_area=np.ones_like(setpoint),
        coefficients=_same_for_all(leakage, len(setpoint)),
        setpoint=setpoint,
        indoor_humidity_ratio=humidity_ratio_from_relative(
            temperature=setpoint,
            relative_humidity=cooling.indoor_relative_humidity,
            pressure=cooling.pressure,
        ),
        hours=hours,
        density=density,
    )
    both = per_area.sensible + per_area.latent
    return bought_energy(
        load=draws.area_saved * draws.flow_factor * draws.cooling_year_factor * both,
        efficiency=cooling.efficiency * draws.cooling_efficiency_factor,
        distribution_efficiency=cooling.distribution_efficiency,
    )


def range_of(trials: Array) -> Range:
    """The central case with the ends of the middle 90 % of the trials."""
    tail = (1 - CONFIDENCE) / 2
    low, high = np.quantile(trials[1:], [tail, 1 - tail])
    return Range(low=float(low), central=float(trials[0]), high=float(high))


def _same_for_all(leakage: Leakage, count: int) -> BasicCoefficients:
    return basic_coefficients(
        storeys=np.full(count, leakage.storeys), shelter_class=leakage.shelter_class
    )


def _refuse_wrong_spread(leakage: Leakage, spread: Spread, trials: int) -> None:
    if trials < FEWEST_TRIALS:
        raise SavingsError(f"{trials} trials are too few; draw at least {FEWEST_TRIALS}.")
    for name in ("before", "after"):
        if not getattr(leakage, name) >= 0:
            raise SavingsError(
                f"leakage area {name} is {getattr(leakage, name):g} m²; it must be 0 or more."
            )
    for field in fields(spread):
        if not getattr(spread, field.name) >= 0:
            raise SavingsError(
                f"spread of {field.name} is {getattr(spread, field.name):g}; it must be 0 or more."
            )
    smaller = min(spread.before, spread.after)
    if spread.shared > smaller:
        raise SavingsError(
            f"the shared part {spread.shared:g} is larger than a test's whole uncertainty "
            f"{smaller:g}. Give the part common to both tests."
        )
