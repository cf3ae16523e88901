"""Fills an empty database with the invented agency; a filled one is left as it is."""

from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.utils import timezone

from agency.accounts.models import User
from agency.diagnostics.models import TestRun
from agency.errors import ActionRefused
from agency.jobs.models import Job
from agency.programs.models import Agency

from . import registers
from .bill_histories import write_bills
from .dating import date_everything
from .evaluating import Evaluator
from .handovers import hand_over
from .histories import (
    Staff,
    decide,
    estimate_savings,
    evaluate_tests,
    open_jobs,
    store_tests,
    work_off,
)
from .intake import write_intake
from .people import CREW_LOG_INS
from .phone_job import job_id, write_phone_job
from .planned_measures import write_measures
from .stories import COUNTED_JOBS, stories
from .way import write_way


@dataclass(frozen=True, slots=True, kw_only=True)
class Seeded:
    """What the database holds after seeding."""

    was_there: bool
    jobs: int
    test_runs: int


def seed(now: datetime, *, counted_jobs: int = COUNTED_JOBS) -> Seeded:
    """Write the invented agency with six quarters of jobs, all of it or nothing.

    Parameters
    ----------
    now : datetime
        The stories end here. A second call, at any time, changes nothing.
    counted_jobs : int
        Approved jobs; fewer are faster.

    Raises
    ------
    ActionRefused
        When the database already holds records of someone else.
    """
    was_there = Agency.objects.filter(pk=registers.agency_id()).exists()
    if not was_there:
        _refuse_strangers()
        with transaction.atomic():
            _write(now, counted_jobs)
    return Seeded(was_there=was_there, jobs=Job.objects.count(), test_runs=TestRun.objects.count())


def _refuse_strangers() -> None:
    if User.objects.exists() or Job.objects.exists():
        raise ActionRefused(
            "This database already holds log-ins or jobs that are not of the demo. "
            "Point DATA_DIR or DATABASE_URL at an empty one."
        )


def _write(now: datetime, counted_jobs: int) -> None:
    today = timezone.localtime(now).date()
    registers.write_agency()
    users = registers.write_people()
    phones = registers.pair_phones(users, now)
    registers.write_instruments(today)
    registers.write_counties()
    grants = registers.write_grants(today)
    registers.write_required_tests(grants)
    staff = Staff(
        office=users["office"],
        inspector=users["inspector"],
        manager=users["manager"],
        phones={crew: phones[name] for name, crew in CREW_LOG_INS.items()},
    )
    lives = open_jobs(stories(today, counted_jobs=counted_jobs), grants)
    store_tests(lives, staff)
    with Evaluator() as evaluator:
        evaluate_tests(lives, staff, evaluator)
        decide(lives, staff)
        estimate_savings(lives, evaluator)
        write_measures(lives, evaluator)
    work_off()
    date_everything(lives)
    write_bills(lives, staff, now)
    write_phone_job(today, grants)
    write_intake(today, grants, [life.job for life in lives], office=staff.office)
    hand_over(Job.objects.get(pk=job_id()), staff.office, year=today.year)
    write_way(lives, staff, grants, today=today)
