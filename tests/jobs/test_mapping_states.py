"""Jobs stored before the long way of states: mapped with their data, and back again."""

from datetime import date

import pytest
from django.db import connection
from django.db.migrations.executor import MigrationExecutor

from agency.jobs.models import Job, Visit
from tests import builders

BEFORE, AFTER = [("jobs", "0004_no_double_booking")], [("jobs", "0005_map_states")]
# What each state of before is afterwards.
OLD = {
    "scheduled": "scheduled",
    "in_progress": "in_progress",
    "tested_out": "tested_out",
    "rework": "rework",
    "inspection_passed": "inspection_passed",
    "approved": "approved",
    "withdrawn": "withdrawn",
}
BACK = {
    "application": "scheduled",
    "waitlisted": "scheduled",
    "deferred": "scheduled",
    "work_ordered": "scheduled",
    "audit_review": "in_progress",
    "inspection_scheduled": "tested_out",
    "reported": "approved",
    "cancelled": "withdrawn",
    "denied": "withdrawn",
}


def migrate(targets):
    executor = MigrationExecutor(connection)
    executor.migrate(targets)


@pytest.fixture
def crew(transactional_db):
    yield builders.Crew.objects.create(name="Crew Alder")
    migrate(MigrationExecutor(connection).loader.graph.leaf_nodes())


@pytest.mark.django_db(transaction=True, serialized_rollback=True)
def test_every_old_state_stays_but_for_jobs_that_wait_for_their_audit(crew):
    jobs = {status: builders.make_job(crew=crew, status=status) for status in OLD}
    waiting, tested = builders.make_job(crew=crew), builders.make_job(crew=crew)
    begun = builders.make_job(crew=crew, work_started_on=date(2026, 4, 1))
    for job, outcome in ((waiting, ""), (tested, "done"), (begun, "")):
        Visit.objects.create(job=job, kind="test_in", planned_on=date(2026, 4, 1), outcome=outcome)
    absent = Visit.objects.create(
        job=waiting, kind="test_in", planned_on=date(2026, 3, 1), outcome="client_absent"
    )
    jobs["approved"].events.create(
        old="inspection_passed",
        new="approved",
        by=builders.make_user("manager", "marisol"),
        role="manager",
    )

    migrate(BEFORE)
    migrate(AFTER)

    now = dict(Job.objects.values_list("pk", "status"))
    assert {status: now[job.pk] for status, job in jobs.items()} == OLD
    assert now[waiting.pk] == "scheduled_audit"
    assert (now[tested.pk], now[begun.pk]) == ("scheduled", "scheduled")
    event = jobs["approved"].events.get()
    assert (event.new, event.step, event.evidence, event.rule_version) == ("approved", "", [], "")
    assert Visit.objects.filter(pk=absent.pk).exists()


@pytest.mark.django_db(transaction=True, serialized_rollback=True)
def test_new_states_go_back_to_the_nearest_old_one(crew):
    jobs = {status: builders.make_job(crew=crew, status=status) for status in BACK}
    migrate(BEFORE)
    now = dict(Job.objects.values_list("pk", "status"))
    assert {status: now[job.pk] for status, job in jobs.items()} == BACK
