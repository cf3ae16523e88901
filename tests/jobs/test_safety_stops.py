"""Safety stops: raised once, acknowledged by name, cleared by someone who did not do the work."""

import uuid
from datetime import UTC, date, datetime

import pytest
from django.db import IntegrityError, transaction
from django.utils import timezone

from agency import workflows
from agency.errors import ActionRefused
from agency.jobs.models import Job, SafetyStop, Visit
from agency.people.models import CrewMember
from tests.builders import make_stop

pytestmark = pytest.mark.django_db

AT = datetime(2026, 4, 14, 16, 5, tzinfo=UTC)


@pytest.fixture
def stop(make_job):
    """An open stop of the crew's job."""
    return make_stop(make_job(status="in_progress"))


@pytest.fixture
def read_stop(stop, cast):
    """The same, acknowledged by the crew lead."""
    stop.acknowledge(cast.crew_lead, "Casimir Oyelaran", AT)
    return stop


def test_the_same_source_raises_a_hazard_once(make_job):
    job, run = make_job(), uuid.uuid4()
    first = make_stop(job, source=run)
    assert make_stop(job, source=run, words="38 ppm, evaluated again.") == first
    assert make_stop(job, source=run, hazard="spillage") != first
    assert make_stop(job, source=uuid.uuid4()) != first
    assert SafetyStop.objects.count() == 3


def test_a_cleared_finding_of_one_run_is_not_raised_again(make_job, cast):
    job, run = make_job(), uuid.uuid4()
    stop = make_stop(job, source=run)
    stop.acknowledge(cast.crew_lead, "Casimir")
    stop.clear(cast.inspector, "Flue pipe was refitted.")
    assert make_stop(job, source=run) == stop
    assert not job.safety_stops.open().exists()


def test_without_a_source_a_hazard_found_anew_stops_anew(read_stop, cast):
    assert make_stop(read_stop.job) == read_stop
    read_stop.clear(cast.inspector, "Flue pipe was refitted.")
    again = make_stop(read_stop.job)
    assert again != read_stop
    assert again.is_open


@pytest.mark.parametrize(
    "missing", [{"words": " "}, {"steps": []}, {"steps": ["Leave.", " "]}, {"cautions": ""}]
)
def test_a_stop_without_words_steps_or_cautions_is_not_raised(make_job, missing):
    with pytest.raises(ValueError, match="needs words, steps and cautions"):
        make_stop(make_job(), **missing)


def test_acknowledged_by_name_at_the_phones_time(stop, cast):
    assert list(SafetyStop.objects.unacknowledged()) == [stop]
    stop.acknowledge(cast.crew_lead, "  Casimir   Oyelaran ", AT)
    stop.refresh_from_db()
    assert (stop.acknowledged_name, stop.acknowledged_at) == ("Casimir Oyelaran", AT)
    assert stop.acknowledged_by == cast.crew_lead
    assert not SafetyStop.objects.unacknowledged().exists()
    assert list(SafetyStop.objects.open()) == [stop]


def test_the_same_name_again_changes_nothing(read_stop, cast):
    rows = read_stop.history.count()
    read_stop.acknowledge(cast.office, "Casimir Oyelaran")
    read_stop.refresh_from_db()
    assert (read_stop.acknowledged_at, read_stop.acknowledged_by) == (AT, cast.crew_lead)
    assert read_stop.history.count() == rows


def test_another_name_does_not_replace_the_first(read_stop, cast):
    with pytest.raises(ActionRefused, match="acknowledged by Casimir Oyelaran already"):
        read_stop.acknowledge(cast.crew_lead, "Brannoch")


@pytest.mark.parametrize("name", ["", "   ", "\n\t"])
def test_a_blank_name_is_refused(stop, cast, name):
    with pytest.raises(ActionRefused, match="Type who has read it"):
        stop.acknowledge(cast.crew_lead, name)


def test_a_time_without_its_zone_is_refused(stop, cast):
    with pytest.raises(ActionRefused, match="Send the time's zone too"):
        stop.acknowledge(cast.crew_lead, "Casimir", AT.replace(tzinfo=None))


@pytest.mark.parametrize("role", ["inspector", "manager", "admin"])
def test_inspectors_and_managers_clear(read_stop, cast, role):
    who = getattr(cast, role)
    read_stop.clear(who, "  Flue pipe was refitted; 0 ppm measured. ")
    read_stop.refresh_from_db()
    assert not read_stop.is_open
    assert read_stop.cleared_by == who
    assert read_stop.cleared_reason == "Flue pipe was refitted; 0 ppm measured."
    assert list(SafetyStop.objects.cleared()) == [read_stop]


@pytest.mark.parametrize("role", ["crew_lead", "stranger", "office"])
def test_others_do_not_clear(read_stop, cast, role):
    with pytest.raises(ActionRefused, match="cleared by an inspector or manager only"):
        read_stop.clear(getattr(cast, role), "It looked well.")
    assert read_stop.is_open


def join(crew, user):
    CrewMember.objects.create(name=str(user), crew=crew, user=user)


def test_the_crew_of_the_job_does_not_clear_in_another_role(read_stop, cast):
    join(cast.crew, cast.inspector)
    with pytest.raises(ActionRefused, match="whose crew has worked on this job"):
        read_stop.clear(cast.inspector, "It looked well.")


def test_a_crew_that_visited_does_not_clear(read_stop, cast):
    join(cast.other_crew, cast.manager)
    Visit.objects.create(
        job=read_stop.job, kind="work", planned_on=date(2026, 4, 14), crew=cast.other_crew
    )
    with pytest.raises(ActionRefused, match="Ask an inspector or manager who has not"):
        read_stop.clear(cast.manager, "It looked well.")


def test_a_crew_that_had_the_job_before_does_not_clear(read_stop, cast):
    join(cast.crew, cast.inspector)
    job = read_stop.job
    job.crew = cast.other_crew
    job.save()
    with pytest.raises(ActionRefused, match="whose crew has worked on this job"):
        read_stop.clear(cast.inspector, "It looked well.")


def test_another_crews_visit_to_another_job_is_no_hindrance(read_stop, cast, make_job):
    join(cast.other_crew, cast.inspector)
    elsewhere = make_job(crew=cast.other_crew)
    Visit.objects.create(
        job=elsewhere, kind="work", planned_on=date(2026, 4, 14), crew=cast.other_crew
    )
    read_stop.clear(cast.inspector, "Flue pipe was refitted.")
    assert not read_stop.is_open


def test_an_unread_stop_is_not_cleared(stop, cast):
    with pytest.raises(ActionRefused, match="is not acknowledged yet"):
        stop.clear(cast.inspector, "Flue pipe was refitted.")


@pytest.mark.parametrize("reason", ["", "  \n"])
def test_clearing_needs_a_reason(read_stop, cast, reason):
    with pytest.raises(ActionRefused, match="Write what was found and put right"):
        read_stop.clear(cast.inspector, reason)


def test_a_cleared_stop_is_not_cleared_again(read_stop, cast):
    read_stop.clear(cast.inspector, "Flue pipe was refitted.")
    with pytest.raises(ActionRefused, match="is cleared already, by ignatius"):
        read_stop.clear(cast.manager, "Seen again.")


def test_crews_see_the_stops_of_their_own_jobs_only(stop, cast, make_job):
    other = make_stop(make_job(crew=cast.other_crew))
    assert list(SafetyStop.objects.visible_to(cast.crew_lead)) == [stop]
    assert list(SafetyStop.objects.visible_to(cast.stranger)) == [other]
    assert set(SafetyStop.objects.visible_to(cast.office)) == {stop, other}


@pytest.mark.parametrize(
    "changes",
    [
        {"acknowledged_name": "Casimir"},
        {"acknowledged_at": AT},
        {"cleared_at": AT, "cleared_reason": "Refitted."},
    ],
)
def test_the_database_refuses_half_an_acknowledgement_or_clearance(stop, changes):
    with pytest.raises(IntegrityError), transaction.atomic():
        SafetyStop.objects.filter(pk=stop.pk).update(**changes)


def test_the_database_refuses_clearance_without_reason_or_acknowledgement(stop, cast):
    cleared = {"cleared_at": AT, "cleared_by": cast.inspector}
    rows = SafetyStop.objects.filter(pk=stop.pk)
    with pytest.raises(IntegrityError), transaction.atomic():
        rows.update(**cleared, cleared_reason="Refitted.")
    stop.acknowledge(cast.crew_lead, "Casimir")
    with pytest.raises(IntegrityError), transaction.atomic():
        rows.update(**cleared)
    assert rows.update(**cleared, cleared_reason="Refitted.") == 1


@pytest.mark.parametrize("source", [None, uuid.UUID(int=9)])
def test_the_database_refuses_the_same_open_stop_twice(make_job, source):
    stop = make_stop(make_job(), source=source)
    with pytest.raises(IntegrityError), transaction.atomic():
        SafetyStop.objects.create(
            job=stop.job, hazard=stop.hazard, source=source, words="Again.", cautions="Ask."
        )


def finish(job, cast):
    workflows.finish_work(job.pk, cast.crew_lead)


def pass_inspection(job, cast):
    day = timezone.localdate()
    workflows.record_inspection(job.pk, cast.inspector, on=day, passed=True, note="")


def approve(job, cast):
    workflows.approve_job(job.pk, cast.manager)


STEPS = {
    "finish": (finish, "in_progress", "tested_out"),
    "pass inspection": (pass_inspection, "inspection_scheduled", "inspection_passed"),
    "approve": (approve, "inspection_passed", "approved"),
}


@pytest.mark.parametrize("name", STEPS)
def test_no_step_calls_the_work_well_until_the_stop_is_cleared(make_job, cast, name):
    step, status, goal = STEPS[name]
    job = make_job(status=status, number="12")
    stop = make_stop(job, words="The flue spilled for 300 s; the limit is 60 s.")
    with pytest.raises(ActionRefused) as refusal:
        step(job, cast)
    assert str(refusal.value) == (
        "Job 12 has an open safety stop: The flue spilled for 300 s; the limit is 60 s; "
        "it must be cleared by an inspector or manager first."
    )
    job.refresh_from_db()
    assert job.status == status
    workflows.acknowledge_stop(stop.pk, cast.crew_lead, "Casimir")
    workflows.clear_stop(stop.pk, cast.inspector, "Flue pipe was refitted.")
    step(job, cast)
    job.refresh_from_db()
    assert job.status == goal


def test_every_open_stop_is_named(make_job, cast):
    job = make_job(status="in_progress")
    make_stop(job, words="Gas smells.", hazard="gas_smell")
    make_stop(job, words="The flue spills.", hazard="spillage")
    with pytest.raises(ActionRefused) as refusal:
        finish(job, cast)
    assert "has open safety stops: " in str(refusal.value)
    for words in ("Gas smells; ", "The flue spills; ", "each must be cleared"):
        assert words in str(refusal.value)


def test_a_failed_inspection_is_written_down_all_the_same(make_job, cast):
    job = make_job(status="tested_out")
    make_stop(job)
    workflows.record_inspection(
        job.pk, cast.inspector, on=date(2026, 6, 1), passed=False, note="Flue spills."
    )
    job.refresh_from_db()
    assert job.status == Job.Status.REWORK


def test_each_change_leaves_a_row_of_history(read_stop, cast):
    read_stop.clear(cast.inspector, "Flue pipe was refitted.")
    assert [row.history_type for row in read_stop.history.order_by("history_id")] == ["+", "~", "~"]
