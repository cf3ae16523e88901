"""A job whose fan tests, measures, prices and weather an estimate can rest on."""

from decimal import Decimal
from math import exp, log, sqrt
from typing import Any

from agency.accounts.models import Device
from agency.diagnostics.models import Result
from agency.estimates.measure_kinds import KINDS
from agency.estimates.models import Measure
from agency.jobs.models import Job
from agency.people.models import Crew
from agency.programs.models import County
from agency.rulebook.models import Rule
from tests import builders

EXPONENT = 0.65
CEILING = {"assembly": "ceiling", "area_sqft": 1200, "r_before": 11, "r_after": 44}
FURNACE = {"fuel_after": "natural_gas", "efficiency_after": 0.95}


def make_tested_job(
    *, crew: Crew, device: Device, after_cfm: float | None = 2100.0, **changes: Any
) -> Job:
    """Tested before at 3,000 cfm and, where given, after the work; few trials, to be quick."""
    Rule.objects.filter(code="measures.trials").update(limit=200)
    job = builders.make_job(crew=crew, status="in_progress", **changes)
    before = _run(job, "before", 3000.0, device)
    after = None if after_cfm is None else _run(job, "after", after_cfm, device)
    builders.make_comparison(job, before, after)
    return job


def county_with_weather_and_prices() -> County:
    """The county of `builders.make_house`, with a station and the usual prices."""
    county, _ = County.objects.get_or_create(code="99001", defaults={"name": "Quillmoor"})
    builders.make_weather(county)
    builders.make_price("natural_gas", "therm", "1.20")
    builders.make_price("electricity", "kWh", "0.15")
    return county


def _run(job: Job, phase: str, flow_cfm: float, device: Device) -> Any:
    run = builders.make_run(job, phase, flow_cfm, device=device, review="accepted")
    result = Result.objects.get(test_run=run)
    flow_50 = flow_cfm * builders.CFM
    flow_4 = flow_50 * exp(EXPONENT * log(4 / 50))
    figures = result.figures | {
        "flows": {"4": {"value": flow_4}, "50": {"value": flow_50}},
        "ela": flow_4 / sqrt(2 * 4 / 1.2041),
        "uncertainty": {"flow_50": 0.03, "flow_4": 0.05},
    }
    Result.objects.filter(pk=result.pk).update(figures=figures)
    return run


def make_measure(job: Job, kind: str, properties: dict[str, Any], **changes: Any) -> Measure:
    """A measure of $1,000 at its kind's usual place."""
    about = KINDS[kind].kind
    values: dict[str, Any] = {
        "name": about.title,
        "place": about.rank,
        "quantity": 1,
        "unit": about.unit,
        "material_cost": Decimal(600),
        "labour_cost": Decimal(400),
        "supervision_cost": Decimal(0),
    }
    return Measure.objects.create(job=job, kind=kind, properties=properties, **(values | changes))


def usual_measures(job: Job) -> list[Measure]:
    """Air sealing, the ceiling and a furnace."""
    return [
        make_measure(job, "air_sealing", {}),
        make_measure(job, "insulation", CEILING),
        make_measure(job, "heating", FURNACE, material_cost=Decimal(3600)),
    ]
