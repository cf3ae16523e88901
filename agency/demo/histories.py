"""Lives the invented stories through the real records: stored, evaluated, reviewed, approved."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

import numpy as np
from celery import current_app
from django.utils import timezone
from simple_history.utils import bulk_create_with_history

from agency import workflows
from agency.accounts.models import Device, User
from agency.diagnostics.models import Result, TestRun
from agency.diagnostics.results import compare_job
from agency.diagnostics.storing import store_upload
from agency.houses.models import House
from agency.jobs.models import Job, Visit
from agency.outbox.models import Errand
from agency.people.models import Client
from agency.programs.models import Program

from . import people
from .bench_sheets import bench_sheets
from .catalogue import kit_of, kit_with
from .evaluating import Evaluator
from .field_tests import SPOILED, FieldTest, document
from .handovers import hand_over
from .homes import Home, invent_home, reduction, weather_on
from .physics import Shell
from .registers import fixed_id, local_time
from .stories import PlannedTest, Story

CERTIFICATES = 5
"""Printed while seeding; a paper takes longer than all the rest of a job."""
CONFIRMED_BECAUSE = "Looked at the readings with the crew; they stand."
SPILLING = "working"
"""The first job of this fate has a water heater that spills."""
AUDIT_TO_COME = "scheduled"
"""The fate of jobs whose test-in is still to be made."""
HOURS_ON_SITE = {"before": 10, "after": 14, "inspection": 9}


@dataclass(slots=True, kw_only=True)
class Life:
    """One story with its house and its records."""

    story: Story
    home: Home
    after_work: Shell
    rng: np.random.Generator
    job: Job
    runs: list[tuple[PlannedTest, TestRun]] = field(default_factory=list)


@dataclass(frozen=True, slots=True, kw_only=True)
class Staff:
    """Who does what in every story."""

    office: User
    inspector: User
    manager: User
    phones: dict[str, Device]
    """By crew."""


def open_jobs(stories: Iterable[Story], grants: list[Program]) -> list[Life]:
    """Houses, clients, jobs and visits of all stories."""
    lives = [_life(story, grants) for story in stories]
    reason = "Invented for the demo"
    for model, rows in (
        (House, [life.job.house for life in lives]),
        (Client, [life.job.client for life in lives]),
        (Job, [life.job for life in lives]),
    ):
        bulk_create_with_history(rows, model, default_change_reason=reason)
    visits = [row for life in lives for row in _visits(life)]
    bulk_create_with_history(visits, Visit, default_change_reason=reason)
    return lives


def _life(story: Story, grants: list[Program]) -> Life:
    rng = np.random.default_rng([2026, story.number])
    home = invent_home(rng, number=story.number)
    after_work = home.shell.sealed(
        reduction(rng, home.shell, home.record["volume_cuft"]),
        exponent_change=0.012 * rng.standard_normal(),
    )
    name = people.CLIENTS[story.number % len(people.CLIENTS)]
    client = Client(
        id=fixed_id("client", story.number),
        name=name,
        phone=f"555-01{story.number % 90 + 10:02}",
        language="es" if name in people.SPANISH_SPEAKERS else "en",
    )
    house = House(
        id=fixed_id("house", story.number),
        state=people.STATE,
        county_id=home.county,
        **home.record,
    )
    day = story.inspected_on or story.opened_on
    grant = next((one for one in grants if one.first_day <= day <= one.last_day), grants[0])
    job = Job(
        id=fixed_id("job", story.number),
        number=f"QC-{story.opened_on:%y}-{story.number:04}",
        house=house,
        client=client,
        crew_id=fixed_id("crew", story.crew),
        program=grant,
        opened_on=story.opened_on,
        work_started_on=story.work_started_on,
        no_before_test_reason=story.no_before_test_reason,
        status=Job.Status.AUDIT_SCHEDULED if story.fate == AUDIT_TO_COME else Job.Status.SCHEDULED,
    )
    for row in (house, client, job):
        row._history_date = local_time(story.opened_on, hour=9)  # type: ignore[union-attr]
    return Life(story=story, home=home, after_work=after_work, rng=rng, job=job)


def _visits(life: Life) -> list[Visit]:
    visits = [
        Visit(
            id=fixed_id("visit", life.story.number, place),
            job=life.job,
            kind=planned.kind,
            planned_on=planned.day,
            crew_id=None if planned.kind == "final_inspection" else life.job.crew_id,
            inspector_id=fixed_id("user", "inspector")
            if planned.kind == "final_inspection"
            else None,
            outcome=planned.outcome,
            note=planned.note,
        )
        for place, planned in enumerate(life.story.visits)
    ]
    for visit in visits:
        visit._history_date = local_time(life.story.opened_on, hour=9)  # type: ignore[attr-defined]
    return visits


def store_tests(lives: list[Life], staff: Staff) -> None:
    """Every test as its phone sent it, some hours later, bench tests with the tightness test."""
    spilling = next((one.job.pk for one in lives if one.story.fate == SPILLING), None)
    for life in lives:
        for place, planned in enumerate(life.story.tests):
            test, shell = _field_test(life, planned, place)
            sheet = document(life.rng, test, shell, life.home)
            if planned.spoiled:
                sheet = SPOILED[planned.spoiled](sheet)
            received = test.taken_at + timedelta(minutes=int(life.rng.integers(25, 240)))
            _store(life, planned, sheet, staff, received)
            if planned.review != "accepted" or planned.spoiled or planned.phase == "inspection":
                continue
            bench = bench_sheets(
                life.rng,
                test,
                number=life.story.number,
                visit=str(_visit_of(life, planned)),
                spills=life.job.pk == spilling,
            )
            for number, extra in enumerate(bench):
                extra["client_key"] = str(fixed_id("bench", life.story.number, place, number))
                _store(life, planned, extra, staff, received)


def _store(
    life: Life, planned: PlannedTest, sheet: dict[str, Any], staff: Staff, received: datetime
) -> None:
    phone = staff.phones[life.story.crew]
    answer = store_upload(phone, sheet, sent_at=received + timedelta(seconds=3), now=received)
    if (answer.status == 201) != (planned.review != "refused"):
        raise RuntimeError(f"Story {life.story.number}, {planned}: {answer}")
    if answer.status == 201:
        life.runs.append((planned, TestRun.objects.get(pk=answer.body["id"])))


def _visit_of(life: Life, planned: PlannedTest) -> UUID:
    """The visit of the day a test was made on."""
    kind = "test_in" if planned.phase == "before" else "test_out"
    place = next(at for at, one in enumerate(life.story.visits) if one.kind == kind)
    return fixed_id("visit", life.story.number, place)


def _field_test(life: Life, planned: PlannedTest, place: int) -> tuple[FieldTest, Shell]:
    story, crew = life.story, life.story.crew
    kit = kit_of(crew)
    if planned.gauge:
        kit = kit_with(gauge=planned.gauge, fan=kit.fan)
    shell = life.home.shell if planned.phase == "before" else life.after_work
    test = FieldTest(
        client_key=str(fixed_id("test", story.number, place)),
        job=str(life.job.pk),
        phase=planned.phase,
        taken_at=local_time(
            planned.day,
            hour=HOURS_ON_SITE[planned.phase],
            minute=int(life.rng.integers(0, 60)),
        ),
        operator=people.CREWS[crew][0],
        kit=kit,
        weather=weather_on(life.rng, planned.day, shell=shell, calm=planned.calm),
        routine=story.routine,
    )
    return test, shell


def evaluate_tests(lives: list[Life], staff: Staff, evaluator: Evaluator) -> None:
    """Each job's tests in their order, all jobs side by side; odd but true values are confirmed."""
    for place in range(max(len(life.runs) for life in lives)):
        tests = [life.runs[place] for life in lives if place < len(life.runs)]
        evaluator.evaluate([run for _, run in tests])
        asked = [run for planned, run in tests if planned.review == "accepted"]
        evaluator.evaluate(
            [run for run in asked if _confirmed(run, staff.office, second=staff.manager)]
        )


def _confirmed(run: TestRun, by: User, *, second: User) -> bool:
    """Stand for the values a check asks about; False when nothing was asked."""
    result = Result.objects.filter(test_run=run).first()
    # A check may ask about several points; one answer is for all of them.
    codes = {one["code"] for one in result.open_questions} if result else set()
    for code in sorted(codes):
        run.confirm(code, by, CONFIRMED_BECAUSE)
    for one in run.confirmations.filter(second_by=None):
        one.second(second)
    return bool(codes)


def estimate_savings(lives: list[Life], evaluator: Evaluator) -> None:
    """Of every approved job."""
    jobs = Job.objects.filter(pk__in=[life.job.pk for life in lives], status=Job.Status.APPROVED)
    evaluator.estimate(jobs.select_related("house__county").order_by("number"))


def work_off() -> None:
    """Keep the promises that are left as a worker would, in this process."""
    current_app.loader.import_default_modules()
    while due := list(Errand.objects.due(timezone.now())):
        for errand in due:
            current_app.tasks[errand.task](str(errand.pk))


def decide(lives: list[Life], staff: Staff) -> None:
    """Reviews, inspections and approvals; the newest approved jobs get their papers."""
    approved = [life for life in lives if life.story.approved_on]
    printed = {life.job.pk for life in approved[-CERTIFICATES:]}
    for life in lives:
        _review(life, staff)
        _finish(life, staff, is_printed=life.job.pk in printed)


def _review(life: Life, staff: Staff) -> None:
    for planned, run in life.runs:
        if planned.review == "accepted" and _may_be_reported(run):
            run.accept(staff.office)
        elif planned.review == "accepted":
            run.send_back(staff.office, "Its checks hold it back; measure again.")
        elif planned.review == "returned":
            run.send_back(staff.office, planned.reason)
    if life.runs:
        compare_job(life.job)


def _may_be_reported(run: TestRun) -> bool:
    result = run.result
    return result is not None and result.may_be_reported


def _finish(life: Life, staff: Staff, *, is_printed: bool) -> None:
    story, job = life.story, Job.objects.get(pk=life.job.pk)
    carrier = staff.phones[story.crew].user
    if story.withdrawn_because:
        job.withdraw(staff.office, story.withdrawn_because)
    if story.tested_out_on:
        job.test_out(carrier)
    if story.failed_on or story.inspected_on:
        job.schedule_inspection(staff.office)
    if story.failed_on:
        job.fail_inspection(staff.inspector, story.finding)
    if story.failed_on and story.inspected_on:
        job.return_from_rework(carrier)
    if story.inspected_on:
        job.pass_inspection(staff.inspector, story.inspected_on)
    if story.approved_on:
        job.approve(staff.manager)
        # Not `approve_job`: it would have every paper of six quarters printed again.
        estimate = Errand.promise(workflows.ESTIMATE, job.pk)
        if is_printed:
            hand_over(job, staff.office, year=story.approved_on.year)
            Errand.promise(workflows.CERTIFICATE, job.pk, after=estimate)
