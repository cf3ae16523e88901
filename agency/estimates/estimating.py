"""From an approved job to its stored savings estimate."""

from datetime import date
from typing import Any
from uuid import UUID

from agency.diagnostics.models import Comparison
from agency.errors import ActionRefused
from agency.houses.models import House
from agency.jobs.models import Job
from agency.programs.models import Fuel, FuelPrice
from agency.rulebook.models import Rule
from agency.rulebook.shipped import RuleSet, effective_on

from .evaluate import estimate_infiltration
from .inputs import EstimateInputs, EstimateOutcome, LeakageInput, PriceInput, SpreadInput
from .models import SavingsEstimate
from .stations import station_for, year_of
from .weather_year import WeatherYear

FOOT = 0.3048
"""[m], exact."""


def estimate_job(job_id: UUID) -> SavingsEstimate:
    """Estimate one job and store the row; the same inputs give the same row again."""
    job = Job.objects.select_related("house").get(pk=job_id)
    comparison = job.comparisons.select_related("before", "after").first()
    if comparison is None:
        raise ActionRefused(f"{job} has no comparison yet. Review its test runs first.")
    return store_estimate(job, comparison, estimate_infiltration(inputs_of(job, comparison)))


def store_estimate(job: Job, comparison: Comparison, outcome: EstimateOutcome) -> SavingsEstimate:
    """The row of this outcome, written once however often it is asked for."""
    return SavingsEstimate.objects.get_or_create(
        job=job,
        input_hash=outcome.input_hash,
        defaults={
            "comparison": comparison,
            "method": outcome.method,
            "edition": outcome.edition,
            "maths_version": outcome.maths_version,
            "weather": outcome.weather,
            "inputs": outcome.inputs,
            "figures": outcome.figures,
            "refusals": outcome.refusals,
        },
    )[0]


def inputs_of(job: Job, comparison: Comparison) -> EstimateInputs:
    """Everything the estimate of `job` rests on, in SI units."""
    house = job.house
    day = job.inspection_passed_on or comparison.computed_at.date()
    rules = effective_on(Rule.objects.all(), day)
    before, after = _leakage(comparison, "before"), _leakage(comparison, "after")
    return EstimateInputs(
        before=before,
        after=after,
        shared_uncertainty=_shared(comparison, before, after),
        storeys=house.storeys,
        shelter_class=house.shelter,
        volume=None if house.volume_cuft is None else house.volume_cuft * FOOT**3,
        elevation=None if house.elevation_ft is None else house.elevation_ft * FOOT,
        heating_fuel=house.heating_fuel,
        heating_efficiency=house.heating_efficiency,
        cooling_efficiency=house.cooling_efficiency,
        distribution_efficiency=house.distribution_efficiency,
        heating_setpoint=rules.setting("estimate.heating_setpoint"),
        heating_balance_offset=rules.setting("estimate.heating_balance_offset"),
        cooling_setpoint=rules.setting("estimate.cooling_setpoint"),
        cooling_humidity=rules.setting("estimate.cooling_humidity"),
        heating_price=_price(house.heating_fuel, day),
        electricity_price=_price(Fuel.ELECTRICITY, day),
        spread=_spread(rules),
        trials=int(rules.setting("estimate.trials")),
        seed=int(rules.setting("estimate.seed")),
        weather=_weather(house),
    )


def _leakage(comparison: Comparison, side: str) -> LeakageInput:
    """A side that may not be compared has no leakage to estimate from."""
    result = getattr(comparison, side)
    comparable = comparison.verdict in {
        Comparison.Verdict.DETECTABLE,
        Comparison.Verdict.NOT_DETECTABLE,
    }
    figures: dict[str, Any] = result.figures if result is not None and comparable else {}
    uncertainty = figures.get("uncertainty") or {}
    return LeakageInput(
        result="" if result is None else str(result.pk),
        leakage_area=figures.get("ela"),
        relative_uncertainty=uncertainty.get("flow_4"),
    )


def _shared(comparison: Comparison, *tests: LeakageInput) -> float:
    """What both tests share; it was found at 50 Pa and cannot exceed what each has at 4 Pa."""
    found = comparison.figures.get("shared_uncertainty") or 0.0
    known = [one.relative_uncertainty for one in tests if one.relative_uncertainty is not None]
    return min([found, *known])


def _price(fuel: str, day: date) -> PriceInput | None:
    row = FuelPrice.objects.on(fuel, day)
    if row is None:
        return None
    return PriceInput(
        fuel=fuel,
        unit=row.unit,
        price=float(row.price),
        effective_from=row.effective_from.isoformat(),
        source=row.source,
    )


def _spread(rules: RuleSet) -> SpreadInput:
    return SpreadInput(
        infiltration_model=rules.setting("estimate.model_uncertainty"),
        weather_year=rules.setting("estimate.weather_year_uncertainty"),
        setpoint=rules.setting("estimate.setpoint_uncertainty"),
        heating_efficiency=rules.setting("estimate.heating_efficiency_uncertainty"),
        cooling_efficiency=rules.setting("estimate.cooling_efficiency_uncertainty"),
    )


def _weather(house: House) -> WeatherYear | None:
    """The weather year the agency chose for the house's county."""
    station = station_for(house.county)
    return None if station is None else year_of(station)
