"""The one job that the demonstration drives from first reading to certificate, as data."""

from datetime import date, timedelta
from typing import Any
from uuid import UUID

import numpy as np

from agency.houses.models import House
from agency.jobs.models import Job, Visit
from agency.people.models import Client
from agency.programs.models import Program

from . import people
from .catalogue import kit_of
from .field_tests import SPOILED, FieldTest, document
from .homes import Home
from .physics import CFM, FOOT, Shell, Weather
from .registers import fixed_id, local_time

CREW = "Crew Alder"
ELEVATION = 262.0
"""[m]"""
FLOW_BEFORE_CFM, REDUCTION = 2640.0, 0.31
"""The truth, known to nobody on site: flow at 50 Pa, and the share the work takes away."""
MILD = Weather(indoor=20.6, outdoor=8.3, wind=1.6)

DAYS_TO_BEFORE, DAYS_TO_WORK, DAYS_TO_AFTER = 3, 5, 7
OPENED_DAYS_AGO = 9

HOME = Home(
    record={
        "address": "27 Heron Pond Road",
        "unit": "",
        "city": "Tarn Hollow",
        "postal_code": "00155",
        "dwelling": "single_family",
        "year_built": 1951,
        "storeys": 1.5,
        "floor_area_sqft": 1380.0,
        "volume_cuft": 11040.0,
        "height_ft": 12.5,
        "envelope_area_sqft": 3390.0,
        "elevation_ft": round(ELEVATION / FOOT),
        "bedrooms": 3,
        "occupants": 4,
        "shelter": 3,
        "heating_fuel": "natural_gas",
        "heating_efficiency": 0.80,
        "cooling_efficiency": None,
        "distribution_efficiency": 0.80,
    },
    county="99001",
    shell=Shell(
        coefficient=FLOW_BEFORE_CFM * CFM / 50**0.66,
        exponent=0.66,
        pressurization_ratio=1.04,
        height=12.5 * FOOT,
        elevation=ELEVATION,
    ),
)


def job_id() -> UUID:
    """The same on every machine."""
    return fixed_id("job", "phone")


def write_phone_job(today: date, grants: list[Program]) -> None:
    """The job with its house, client and visits; nothing has happened to it yet."""
    opened = today - timedelta(days=OPENED_DAYS_AGO)
    house = House.objects.create(
        id=fixed_id("house", "phone"),
        state=people.STATE,
        county_id=HOME.county,
        **HOME.record,
    )
    client = Client.objects.create(
        id=fixed_id("client", "phone"), name="Henrietta Abernathy-Nkemelu", phone="555-0199"
    )
    job = Job.objects.create(
        id=job_id(),
        number=f"QC-{opened:%y}-0900",
        house=house,
        client=client,
        crew_id=fixed_id("crew", CREW),
        program=grants[-1],
        opened_on=opened,
    )
    for place, (kind, days) in enumerate(
        (
            (Visit.Kind.TEST_IN, DAYS_TO_BEFORE),
            (Visit.Kind.WORK, DAYS_TO_WORK),
            (Visit.Kind.TEST_OUT, DAYS_TO_AFTER),
        )
    ):
        Visit.objects.create(
            id=fixed_id("visit", "phone", place),
            job=job,
            kind=kind,
            planned_on=opened + timedelta(days=days),
            crew_id=job.crew_id,
            outcome=Visit.Outcome.DONE,
        )


def work_began(opened_on: date) -> date:
    """First working day of the job."""
    return opened_on + timedelta(days=DAYS_TO_WORK)


def before_test(opened_on: date) -> dict[str, Any]:
    """The test before the work, both directions."""
    return _test(opened_on, "before", DAYS_TO_BEFORE, HOME.shell)


def after_test(opened_on: date) -> dict[str, Any]:
    """The test after the work, both directions."""
    return _test(opened_on, "after", DAYS_TO_AFTER, HOME.shell.sealed(REDUCTION))


def bad_test(opened_on: date) -> dict[str, Any]:
    """A record no program can read: its flow is a text with a comma."""
    return SPOILED["flow_as_text"](_test(opened_on, "during", DAYS_TO_WORK, HOME.shell))


def _test(opened_on: date, phase: str, days: int, shell: Shell) -> dict[str, Any]:
    """The same document whenever it is asked for, so that sending it again is a repeat."""
    test = FieldTest(
        client_key=str(fixed_id("test", "phone", phase)),
        job=str(job_id()),
        phase=phase,
        taken_at=local_time(opened_on + timedelta(days=days), hour=10, minute=40),
        operator=people.CREWS[CREW][0],
        kit=kit_of(CREW),
        weather=MILD,
        routine="both",
    )
    return document(np.random.default_rng([2026, 900, days]), test, shell, HOME)
