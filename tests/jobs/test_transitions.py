"""A job's states: what leads where, and the history row each step leaves."""

from datetime import date

import pytest

from agency.errors import TransitionRefused
from agency.jobs.models import Job

STEPS = {
    "start": (lambda job, who: job.start(who.crew_lead), {"scheduled"}, "in_progress"),
    "test_out": (
        lambda job, who: job.test_out(who.crew_lead),
        {"in_progress", "rework"},
        "tested_out",
    ),
    "pass": (
        lambda job, who: job.pass_inspection(who.inspector, date(2026, 6, 1)),
        {"tested_out"},
        "inspection_passed",
    ),
    "fail": (
        lambda job, who: job.fail_inspection(who.inspector, "Attic hatch not sealed."),
        {"tested_out"},
        "rework",
    ),
    "approve": (lambda job, who: job.approve(who.manager), {"inspection_passed"}, "approved"),
    "withdraw": (
        lambda job, who: job.withdraw(who.office, "Client moved away."),
        {"scheduled", "in_progress", "tested_out", "rework", "inspection_passed"},
        "withdrawn",
    ),
}


@pytest.mark.parametrize("step", STEPS)
@pytest.mark.parametrize("status", Job.Status.values)
def test_each_step_from_each_state(cast, make_job, step, status):
    job = make_job(status=status)
    move, allowed, goal = STEPS[step]
    if status not in allowed:
        with pytest.raises(TransitionRefused, match=f"Job {job.number}"):
            move(job, cast)
        job.refresh_from_db()
        assert job.status == status
        assert not job.events.exists()
        return
    move(job, cast)
    job.refresh_from_db()
    assert job.status == goal
    event = job.events.get()
    assert (event.old, event.new) == (status, goal)
    assert event.role == event.by.role


def test_only_the_first_pass_sets_the_counting_date(cast, make_job):
    job = make_job(status="tested_out", inspection_passed_on=date(2026, 3, 30))
    job.pass_inspection(cast.inspector, date(2026, 4, 2))
    job.refresh_from_db()
    assert job.inspection_passed_on == date(2026, 3, 30)


def test_a_refusal_names_the_state(make_job, cast):
    with pytest.raises(TransitionRefused) as refusal:
        make_job(status="scheduled").approve(cast.manager)
    assert "is scheduled; it cannot be approved" in str(refusal.value)


def test_crews_see_their_own_jobs_only(cast, make_job):
    own, other = make_job(), make_job(crew=cast.other_crew)
    assert list(Job.objects.visible_to(cast.crew_lead)) == [own]
    assert set(Job.objects.visible_to(cast.office)) == {own, other}


def test_search_reads_number_name_and_address(make_job):
    job = make_job()
    make_job()
    for words in (job.number, job.client.name, job.house.address, f"tarn {job.number}"):
        assert job in Job.objects.matching(words)
    assert not Job.objects.matching("nowhere at all")
