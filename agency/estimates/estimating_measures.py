"""From a job's measures to their stored estimate, and from a budget to what it buys."""

import hashlib
import json
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.utils import timezone

from agency.errors import ActionRefused
from agency.jobs.models import Job

from .bridge.measures import hash_of, inputs_from, outcome_of
from .bridge.packages import METHOD, package_of
from .gathering import gather
from .inputs import EstimateOutcome, Refusal
from .measures_inputs import MeasuresInputs
from .models import MeasuresEstimate, PackageRun, WeatherStation
from .stations import station_for, year_of
from .weather_year import WeatherFileError, WeatherYear


@dataclass(frozen=True, slots=True, kw_only=True)
class Prepared:
    """A job with all its estimate needs, or what is missing."""

    job: Job
    station: WeatherStation | None
    inputs: MeasuresInputs | None
    weather: WeatherYear | None
    refusals: list[Refusal]


def estimate_measures(job_id: UUID) -> MeasuresEstimate:
    """Estimate the measures of one job; the same inputs give the same row again."""
    prepared = prepare(Job.objects.select_related("house__county").get(pk=job_id))
    if prepared.inputs is not None and prepared.weather is not None:
        input_hash = hash_of(prepared.inputs, prepared.weather)
        known = prepared.job.measures_estimates.filter(input_hash=input_hash).first()
        if known is not None:
            return _newest(known)
    return store_measures_estimate(prepared.job, prepared.station, worked_out(prepared))


def prepare(job: Job) -> Prepared:
    """Read everything from the records; nothing is computed yet."""
    inputs, refusals = gather(job)
    station = station_for(job.house.county)
    weather, trouble = _weather(station)
    return Prepared(
        job=job,
        station=station,
        inputs=inputs,
        weather=weather,
        refusals=[*refusals, *trouble],
    )


def worked_out(prepared: Prepared) -> EstimateOutcome:
    """The estimate, or what is missing for it; asks no database."""
    if prepared.inputs is None or prepared.weather is None:
        return _refused_outcome(prepared.refusals)
    return outcome_of(prepared.inputs, prepared.weather)


def _weather(station: WeatherStation | None) -> tuple[WeatherYear | None, list[Refusal]]:
    if station is None:
        return None, [
            Refusal(
                part="estimate",
                field="weather",
                reason="No weather station was chosen for the county.",
                next_step="Assign one on the page of typical years.",
            )
        ]
    try:
        return year_of(station), []
    except (WeatherFileError, OSError) as error:
        step = "Look at its quality report under typical years, or assign another station."
        return None, [Refusal(part="estimate", field="weather", reason=str(error), next_step=step)]


def _refused_outcome(refusals: list[Refusal]) -> EstimateOutcome:
    """Nothing could be worked out; what is missing makes the row's hash."""
    told = [one.as_dict() for one in refusals]
    return EstimateOutcome(
        method="Not worked out",
        edition="",
        maths_version="",
        weather="",
        inputs={},
        input_hash=_hash_of(told),
        figures={},
        refusals=told,
    )


def store_measures_estimate(
    job: Job, station: WeatherStation | None, outcome: EstimateOutcome
) -> MeasuresEstimate:
    """The row of this outcome, written once however often it is asked for, and standing first."""
    row, _ = MeasuresEstimate.objects.get_or_create(
        job=job,
        input_hash=outcome.input_hash,
        defaults={
            "station": station,
            "method": outcome.method,
            "edition": outcome.edition,
            "maths_version": outcome.maths_version,
            "weather": outcome.weather,
            "inputs": outcome.inputs,
            "figures": outcome.figures,
            "refusals": outcome.refusals,
        },
    )
    return _newest(row)


def _newest(row: MeasuresEstimate) -> MeasuresEstimate:
    """What holds now stands first, also when it held once before."""
    latest = MeasuresEstimate.objects.filter(job=row.job).first()
    if latest is not None and latest.pk != row.pk:
        row.computed_at = timezone.now()
        row.save(update_fields=["computed_at"])
    return row


def run_package(run_id: UUID) -> PackageRun:
    """Choose what the budget buys, from exactly the inputs of the estimate it belongs to."""
    run = PackageRun.objects.select_related("estimate__station").get(pk=run_id)
    if run.computed_at is not None:
        return run
    inputs, weather = case_of(run.estimate)
    outcome = package_of(inputs, weather, budget=float(run.budget))
    basis = [run.estimate.input_hash, str(run.budget), METHOD, outcome.maths_version]
    run.input_hash, run.maths_version = _hash_of(basis), outcome.maths_version
    run.figures, run.refusals = outcome.figures, outcome.refusals
    run.computed_at = timezone.now()
    run.save()
    return run


def case_of(estimate: MeasuresEstimate) -> tuple[MeasuresInputs, WeatherYear]:
    """The stored inputs with the very weather year they were worked out with."""
    if not estimate.figures or estimate.station is None:
        raise ActionRefused(
            "Nothing could be estimated yet. Put right what is missing, and have it worked out."
        )
    weather = year_of(estimate.station)
    if weather.sha256 != estimate.inputs["weather"]["sha256"]:
        raise ActionRefused(
            f"The weather file of {estimate.station} has changed since the estimate. Have the "
            "estimate worked out again."
        )
    return inputs_from(estimate.inputs), weather


def _hash_of(basis: Any) -> str:
    text = json.dumps(basis, sort_keys=True, separators=(",", ":"), allow_nan=False)
    return hashlib.sha256(text.encode()).hexdigest()
