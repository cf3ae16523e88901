"""A job's states: what leads where and by whom, and the history row each step leaves.

Each row of `TABLE` is one of the programme's numbered transitions, written down by hand: common
practice, no source. The code's own table is held against it, never the other way round.
"""

from datetime import date

import pytest

from agency.errors import ActionRefused, TransitionRefused
from agency.jobs.models import Job
from agency.jobs.states import STEPS, Status

WHY = "Client moved away."
CLERKS, MANAGERS = {"office", "manager", "admin"}, {"manager", "admin"}
ON_SITE = CLERKS | {"inspector", "crew_lead"}
OPEN = set(Status.values) - {"approved", "reported", "denied", "withdrawn", "cancelled"}

# step: (from, to, who may take it)
TABLE = {
    "ask_papers": ({"application"}, "info_needed", CLERKS),
    "waitlist": ({"application", "info_needed"}, "waitlisted", CLERKS),
    "deny": ({"application", "info_needed"}, "denied", CLERKS),
    "schedule_audit": ({"waitlisted"}, "scheduled_audit", CLERKS),
    "begin_audit": ({"scheduled_audit"}, "audit_in_progress", ON_SITE),
    "finish_audit": ({"audit_in_progress"}, "audit_review", ON_SITE),
    "defer": ({"audit_in_progress", "audit_review"}, "deferred", MANAGERS),
    "resume": ({"deferred"}, "waitlisted", MANAGERS),
    "order_work": ({"audit_review"}, "work_ordered", MANAGERS),
    "schedule_work": ({"work_ordered"}, "scheduled", CLERKS),
    "start": ({"scheduled"}, "in_progress", ON_SITE),
    "test_out": ({"in_progress", "rework"}, "tested_out", ON_SITE),
    "schedule_inspection": ({"tested_out"}, "inspection_scheduled", ON_SITE),
    "pass_inspection": ({"inspection_scheduled"}, "inspection_passed", {"inspector"}),
    "fail_inspection": ({"inspection_scheduled"}, "rework", {"inspector"}),
    "return_from_rework": ({"rework"}, "inspection_scheduled", ON_SITE),
    "approve": ({"inspection_passed"}, "approved", MANAGERS),
    "report": ({"approved"}, "reported", MANAGERS),
    "withdraw": (OPEN, "withdrawn", CLERKS),
    "cancel": (OPEN, "cancelled", MANAGERS),
    "reopen": ({"approved", "reported"}, "inspection_passed", MANAGERS),
}
SAID = {
    "deny": (WHY,),
    "defer": (WHY,),
    "withdraw": (WHY,),
    "cancel": (WHY,),
    "fail_inspection": ("Attic hatch not sealed.",),
    "pass_inspection": (date(2026, 6, 1),),
    "resume": (WHY, Status.WAITLISTED),
    "reopen": (WHY, Status.INSPECTION_PASSED),
}
ROLES = ("crew_lead", "office", "inspector", "manager", "admin")


def take(job, step, person):
    getattr(job, step)(person, *SAID.get(step, ()))


def test_every_step_of_the_code_stands_in_the_table():
    assert set(STEPS) == set(TABLE)
    for code, (sources, goal, _) in TABLE.items():
        assert STEPS[code].sources == sources
        assert goal in STEPS[code].goals


@pytest.mark.parametrize("step", TABLE)
def test_each_step_from_each_state(cast, make_job, step):
    sources, goal, roles = TABLE[step]
    person = getattr(cast, sorted(roles)[0])
    for status in Status.values:
        job = make_job(status=status)
        if status not in sources:
            with pytest.raises(TransitionRefused, match=f"Job {job.number}"):
                take(job, step, person)
            job.refresh_from_db()
            assert job.status == status
            assert not job.events.exists()
            continue
        if step == "reopen" or status in {"approved", "reported"}:
            assert job.approved_at is not None
        if step == "approve":
            assert job.inspection_passed_on is not None
        take(job, step, person)
        job.refresh_from_db()
        assert job.status == goal
        event = job.events.get()
        assert (event.old, event.new, event.step) == (status, goal, step)
        assert (event.by, event.role) == (person, person.role)


@pytest.mark.parametrize("step", TABLE)
def test_each_step_by_each_role(cast, make_job, step):
    sources, goal, roles = TABLE[step]
    for role in ROLES:
        job, person = make_job(status=sorted(sources)[0]), getattr(cast, role)
        if role in roles:
            take(job, step, person)
            assert job.status == goal
        else:
            with pytest.raises(ActionRefused, match=f"You are signed in as {person}"):
                take(job, step, person)
            assert not job.events.exists()


@pytest.mark.parametrize("goal", ["audit_review", "waitlisted", "cancelled"])
def test_a_deferral_ends_in_one_of_three_ways(cast, make_job, goal):
    job = make_job(status="deferred")
    job.resume(cast.manager, "Roof mended.", Status(goal))
    assert job.status == goal


def test_a_deferral_leads_nowhere_else(cast, make_job):
    with pytest.raises(TransitionRefused, match="does not lead to approved"):
        make_job(status="deferred").resume(cast.manager, "Roof mended.", Status.APPROVED)


def test_only_the_first_pass_sets_the_counting_date(cast, make_job):
    job = make_job(status="inspection_scheduled", inspection_passed_on=date(2026, 3, 30))
    job.pass_inspection(cast.inspector, date(2026, 4, 2))
    job.refresh_from_db()
    assert job.inspection_passed_on == date(2026, 3, 30)


def test_a_refusal_names_the_state(make_job, cast):
    with pytest.raises(TransitionRefused) as refusal:
        make_job(status="scheduled").approve(cast.manager)
    assert "is scheduled; it cannot be approved" in str(refusal.value)


def test_a_reported_job_is_still_counted(make_job):
    closed = [make_job(status=status) for status in ("approved", "reported")]
    make_job(status="cancelled")
    counted = Job.objects.counted_between(date(2026, 5, 1), date(2026, 5, 31))
    assert set(counted) == set(closed)
    assert not Job.objects.open().exists()


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
