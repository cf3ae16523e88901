"""Steps taken from the job page, each refused in words when the job is not ready for it."""

import pytest
from django.urls import reverse
from django.utils import timezone

from agency.jobs.models import Job
from agency.outbox.models import Errand

pytestmark = pytest.mark.django_db


@pytest.fixture
def step(sign_in):
    """`step(user, job, name, **typed)` posts and follows."""

    def post(user, job, name, **typed):
        address = reverse(f"office:{name}", args=[job.pk])
        answer = sign_in(user).post(address, typed, follow=True)
        job.refresh_from_db()
        return answer

    return post


def test_finish_work(step, cast, make_job):
    job = make_job(status="in_progress")
    answer = step(cast.office, job, "finish_work")
    assert job.status == "tested_out"
    assert "an inspector is due" in answer.content.decode()


def test_finished_job_cannot_be_finished_again(step, cast, make_job):
    job = make_job(status="tested_out")
    page = step(cast.office, job, "finish_work").content.decode()
    assert f"{job} is tested out; it cannot be tested out." in page


def test_inspection_passed(step, cast, make_job):
    job, today = make_job(status="inspection_scheduled"), timezone.localdate()
    typed = {"inspection-on": f"{today:%Y-%m-%d}", "inspection-passed": "yes"}
    step(cast.inspector, job, "record_inspection", **typed)
    assert (job.status, job.inspection_passed_on) == ("inspection_passed", today)
    assert job.visits.get().inspector == cast.inspector


def test_failed_inspection_goes_back_with_its_finding(step, cast, make_job):
    job = make_job(status="tested_out")
    typed = {
        "inspection-on": f"{timezone.localdate():%m/%d/%Y}",
        "inspection-passed": "no",
        "inspection-note": "Attic hatch is not sealed.",
    }
    page = step(cast.inspector, job, "record_inspection", **typed).content.decode()
    assert job.status == "rework"
    assert "Attic hatch is not sealed." in page


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({}, "Enter the day of the inspection."),
        ({"inspection-on": "2026-01-05"}, "Choose whether the inspection was passed or failed."),
        ({"inspection-on": "soon"}, "Enter a real date such as 11/25/2026"),
        ({"inspection-on": "2999-01-05"}, "The inspection cannot lie after today"),
        (
            {"inspection-on": "2026-01-05", "inspection-passed": "no"},
            "Write what was found; the crew must know what to put right.",
        ),
    ],
)
def test_incomplete_inspection_is_answered_in_words(step, cast, make_job, typed, words):
    job = make_job(status="tested_out")
    answer = step(cast.inspector, job, "record_inspection", **typed)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert words in page
    assert "There is a problem" in page
    assert f"<title>Error: {job} - Hearthledger" in page
    assert job.status == "tested_out"


def test_approve_promises_estimate_and_certificate(step, cast, make_job):
    job = make_job(status="inspection_passed")
    step(cast.manager, job, "approve_job")
    assert job.status == "approved"
    tasks = Errand.objects.filter(subject=job.pk).values_list("task", flat=True)
    assert {task.rsplit(".", 1)[-1] for task in tasks} == {"estimate_job", "print_certificate"}


def test_job_with_runs_to_review_cannot_be_approved(step, cast, make_job, make_run):
    job = make_job(status="inspection_passed")
    make_run(job)
    page = step(cast.manager, job, "approve_job").content.decode()
    assert job.status == "inspection_passed"
    assert "still has 1 test run(s) to review" in page


def test_withdraw_asks_for_reason_and_number(step, cast, make_job):
    job = make_job(number="QC-2026-0555")
    typed = {"withdraw-reason": "Client moved away.", "withdraw-number": "QC-2026-0556"}
    answer = step(cast.office, job, "withdraw_job", **typed)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "Type QC-2026-0555 to withdraw this job. You entered QC-2026-0556." in page
    assert "Client moved away." in page
    assert job.status == "scheduled"


def test_withdraw(step, cast, make_job):
    job = make_job()
    typed = {"withdraw-reason": "Client moved away.", "withdraw-number": job.number}
    step(cast.office, job, "withdraw_job", **typed)
    assert job.status == "withdrawn"
    assert job.events.get().reason == "Client moved away."


def test_approved_job_cannot_be_withdrawn(step, cast, make_job):
    job = make_job(status="approved")
    typed = {"withdraw-reason": "Client moved away.", "withdraw-number": job.number}
    answer = step(cast.office, job, "withdraw_job", **typed)
    assert answer.status_code == 422
    assert f"{job} is approved; it cannot be withdrawn." in answer.content.decode()


def test_first_working_day(step, cast, make_job):
    job = make_job()
    step(cast.office, job, "start_work", **{"work_started-on": "2026-04-02"})
    assert f"{job.work_started_on:%Y-%m-%d}" == "2026-04-02"


def test_reason_why_there_is_no_test_before(step, cast, make_job):
    job = make_job()
    typed = {"no_before_test-reason": "Combustion safety."}
    step(cast.office, job, "explain_no_before_test", **typed)
    assert job.no_before_test_reason == "Combustion safety."
    assert Job.history.filter(id=job.pk).latest().history_user == cast.office


@pytest.mark.parametrize(
    ("reason", "words"),
    [
        ("   ", "Write why no test before the work could be made."),
        ("x" * 241, "Shorten the reason to 240 characters; it has 241."),
    ],
)
def test_empty_or_endless_reason_is_refused(step, cast, make_job, reason, words):
    job = make_job()
    answer = step(cast.office, job, "explain_no_before_test", **{"no_before_test-reason": reason})
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert job.no_before_test_reason == ""


def test_approved_job_is_given_no_reason(step, cast, make_job):
    job = make_job(status="approved")
    typed = {"no_before_test-reason": "Late thought."}
    answer = step(cast.office, job, "explain_no_before_test", **typed)
    assert answer.status_code == 422
    assert job.no_before_test_reason == ""
