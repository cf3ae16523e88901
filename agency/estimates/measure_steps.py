"""Steps on a job's measures; the caller holds the transaction and the locked job."""

from decimal import Decimal

from django.core.exceptions import ValidationError

from agency.accounts.models import User
from agency.errors import ActionRefused
from agency.jobs.models import ENDED, Job
from agency.outbox.models import Errand
from agency.programs.models import County

from .models import EnergyDescription, Measure, PackageRun, WeatherStation

ESTIMATE_MEASURES = "agency.estimates.tasks.estimate_measures"
RUN_PACKAGE = "agency.estimates.tasks.run_package"


def promise_measures(job: Job) -> None:
    """One open promise is enough: the worker reads what stands when it starts."""
    waiting = Errand.objects.filter(
        task=ESTIMATE_MEASURES, subject=job.pk, state=Errand.State.QUEUED
    )
    if job.measures.exists() and not waiting.exists():
        Errand.promise(ESTIMATE_MEASURES, job.pk)


def refuse_without_measures(job: Job) -> None:
    """There is nothing to estimate yet."""
    if not job.measures.exists():
        raise ActionRefused(f"{job} has no measure yet. Add the planned measures first.")


def keep(measure: Measure, job: Job) -> Measure:
    """Write a planned or installed measure down."""
    _refuse_closed(job)
    try:
        measure.validate_constraints()
    except ValidationError as refused:
        raise ActionRefused(" ".join(refused.messages)) from refused
    measure.save()
    promise_measures(job)
    return measure


def remove(measure: Measure, job: Job) -> None:
    """Take a measure off the list; the history keeps it."""
    _refuse_closed(job)
    held_by = measure.repairs.first()
    if held_by is not None:
        raise ActionRefused(
            f"{held_by} is a repair for {measure}. Remove the repair first, or let it name "
            "another measure."
        )
    measure.delete()
    promise_measures(job)


def describe(description: EnergyDescription) -> EnergyDescription:
    """Write down what is known of a house's energy; its open jobs are estimated anew."""
    description.save()
    for job in Job.objects.open().filter(house=description.house):
        promise_measures(job)
    return description


def order_package(job: Job, by: User, budget: Decimal) -> PackageRun:
    """What a budget buys of the newest estimate; asked twice, it is the same row."""
    estimate = job.measures_estimates.first()
    if estimate is None or not (estimate.figures or {}).get("package"):
        raise ActionRefused(
            "There is no estimate with money to choose from yet. Put right what it lacks, and "
            "have it worked out first."
        )
    run, is_new = PackageRun.objects.get_or_create(
        estimate=estimate, budget=budget, defaults={"asked_by": by}
    )
    if is_new:
        Errand.promise(RUN_PACKAGE, run.pk)
    return run


def assign(station: WeatherStation, counties: list[County]) -> WeatherStation:
    """The station stands for these counties and no others; each county has one station."""
    for county in counties:
        county.weather_stations.set([station])
    station.counties.set(counties)
    return station


def _refuse_closed(job: Job) -> None:
    if job.status in ENDED:
        raise ActionRefused(
            f"{job} is {job.get_status_display().lower()}; its list of measures is closed."
        )
