"""A job's way on its page: gates, evidence, deferrals, findings, contacts, letters."""

import pytest
from django.urls import reverse
from django.utils import timezone

from agency.jobs.models import ChangeOrder
from tests.casework_records import make_deferral, make_finding, make_proof

pytestmark = pytest.mark.django_db


@pytest.fixture
def post(sign_in):
    """`post(user, name, *args, **typed)` posts and follows."""

    def send(user, name, *args, **typed):
        return sign_in(user).post(reverse(f"office:{name}", args=args), typed, follow=True)

    return send


@pytest.fixture
def show(sign_in, cast):
    """The page of a job."""

    def read(job, user=None):
        answer = sign_in(user or cast.office).get(reverse("office:job", args=[job.pk]))
        return answer.content.decode()

    return read


def test_the_page_lists_what_the_next_step_lacks(make_job, show):
    page = show(make_job(status="application"))
    assert "Put on the waiting list" in page
    assert "Proof that the household lives there" in page
    assert "Nothing is on file. Record the paper that shows it." in page


def test_advice_is_listed_and_does_not_bind(make_job, show):
    page = show(make_job(status="in_progress"))
    assert "Installed quantities" in page
    assert "The step does not wait for it." in page


def test_evidence_is_recorded_and_the_step_taken(post, cast, make_job):
    job, today = make_job(status="application"), f"{timezone.localdate():%Y-%m-%d}"
    for piece in ("determination", "occupancy"):
        typed = {"proof-piece": piece, "proof-said": "In the file.", "proof-dated_on": today}
        assert post(cast.office, "record_proof", job.pk, **typed).status_code == 200
    page = post(cast.office, "take_step", job.pk, "waitlist").content.decode()
    assert f"{job} is now: on the waiting list." in page


def test_a_shut_gate_answers_in_words(post, cast, make_job):
    job = make_job(status="application")
    page = post(cast.office, "take_step", job.pk, "waitlist").content.decode()
    assert f"{job} cannot be put on the waiting list yet. Eligibility determination" in page
    job.refresh_from_db()
    assert job.status == "application"


def test_a_step_of_another_role_is_refused_in_words(post, cast, make_job):
    job = make_job(status="audit_review")
    page = post(cast.inspector, "take_step", job.pk, "order_work").content.decode()
    assert "can be ordered to be worked on by a manager only" in page


@pytest.mark.parametrize("step", ["approve", "withdraw", "no-such-step", "reopen"])
def test_only_listed_steps_are_taken_by_address(post, cast, make_job, step):
    job = make_job(status="inspection_passed")
    assert post(cast.admin, "take_step", job.pk, step).status_code == 404


def test_evidence_nobody_asks_for_is_refused(post, cast, make_job):
    job = make_job(status="application")
    typed = {"proof-piece": "measures", "proof-said": "x", "proof-dated_on": "2026-11-01"}
    answer = post(cast.office, "record_proof", job.pk, **typed)
    assert answer.status_code == 422
    assert "This is not asked for now; choose from the list." in answer.content.decode()


def test_cancelling_asks_a_reason_and_a_manager(post, cast, make_job):
    job = make_job()
    assert post(cast.manager, "take_step", job.pk, "cancel").status_code == 422
    page = post(cast.office, "take_step", job.pk, "cancel", **{"cancel-reason": "Silence."})
    assert "can be cancelled by a manager only" in page.content.decode()
    post(cast.manager, "take_step", job.pk, "cancel", **{"cancel-reason": "Silence."})
    job.refresh_from_db()
    assert job.status == "cancelled"
    assert job.events.get().reason == "Silence."


DEFERRAL = {
    "deferral-reasons": ["moisture"],
    "deferral-words": "Roof leaks.",
    "deferral-cure": "Mend it.",
    "deferral-notice_given_on": "2026-11-20",
    "deferral-language": "es",
    "deferral-review_on": "2027-02-01",
}


def test_a_deferral_is_proposed_approved_and_ended(post, cast, make_job):
    job = make_job(status="audit_review")
    post(cast.inspector, "propose_deferral", job.pk, **DEFERRAL)
    deferral = job.deferrals.get()
    assert (deferral.proposed_by, deferral.language) == (cast.inspector, "es")
    post(cast.manager, "decide_deferral", deferral.pk, decision="yes")
    job.refresh_from_db()
    assert job.status == "deferred"
    typed = {"end-how": "cured", "end-proof": "Seen on a visit.", "end-goal": "waitlisted"}
    post(cast.manager, "end_deferral", deferral.pk, **typed)
    job.refresh_from_db()
    assert job.status == "waitlisted"


def test_an_empty_deferral_names_every_field(post, cast, make_job):
    answer = post(cast.inspector, "propose_deferral", make_job(status="audit_review").pk)
    page = answer.content.decode()
    assert answer.status_code == 422
    for words in (
        "Choose at least one reason.",
        "Write what was found; the household reads it.",
        "Write what puts it right; the household reads it.",
        "Enter the day to look again.",
    ):
        assert words in page


def test_a_review_day_before_the_notice_is_refused(post, cast, make_job):
    job = make_job(status="audit_review")
    typed = DEFERRAL | {"deferral-review_on": "2026-11-01"}
    page = post(cast.inspector, "propose_deferral", job.pk, **typed).content.decode()
    assert "The review day Nov 1, 2026 does not lie after the notice of Nov 20, 2026." in page


def test_findings_wait_on_the_page_and_in_the_list(post, sign_in, cast, make_job, show):
    job = make_job(status="rework")
    finding = make_finding(job, cast.inspector)
    assert "To be put right" in show(job)
    assert finding.words in sign_in(cast.office).get(reverse("office:findings")).content.decode()
    prefix = f"close-{finding.pk}"
    answer = post(cast.office, "close_finding", finding.pk)
    assert "without it the finding stays open" in answer.content.decode()
    post(cast.office, "close_finding", finding.pk, **{f"{prefix}-evidence": "Sealed; seen."})
    page = show(job)
    assert "Sealed; seen." in page
    closed = sign_in(cast.office).get(reverse("office:findings") + "?show=closed")
    assert "Sealed; seen." in closed.content.decode()


def test_contacts_keep_language_and_interpreter(post, cast, make_job, show):
    job = make_job()
    typed = {
        "contact-channel": "phone",
        "contact-outcome": "no_answer",
        "contact-language": "es",
        "contact-with_interpreter": "on",
        "contact-summary": "Rang twice.",
    }
    post(cast.office, "log_contact", job.pk, **typed)
    attempt = job.contacts.get()
    assert (attempt.with_interpreter, attempt.by) == (True, cast.office)
    assert "Spanish, interpreter" in show(job)


def test_a_change_order_is_decided_by_another_manager(post, cast, make_job):
    job = make_job(status="in_progress")
    post(cast.office, "ask_change", job.pk, **{"change-said": "A second fan."})
    change = ChangeOrder.objects.get()
    post(cast.manager, "decide_change", change.pk, decision="no")
    change.refresh_from_db()
    assert (change.is_approved, change.decided_by) == (False, cast.manager)


def test_a_letter_is_written_or_refused_in_words(post, cast, make_job, agency):
    job = make_job()
    typed = {"letter-kind": "appointment", "letter-language": "es"}
    answer = post(cast.office, "make_letter", job.pk, **typed)
    assert answer.status_code == 422
    assert "has no visit booked from now on" in answer.content.decode()
    page = post(cast.office, "make_letter", job.pk, **typed | {"letter-kind": "permission"})
    assert f"{job.number}-L1" in page.content.decode()


def test_an_ended_job_offers_no_forms(make_job, show, cast):
    page = show(make_job(status="cancelled"))
    for name in ("record_proof", "log_contact", "ask_change", "plan_visit"):
        assert f"/{name.replace('_', '-')}" not in page


def test_reopening_is_asked_and_decided_on_the_page(post, cast, make_job, show):
    job = make_job(status="approved")
    typed = {"reopen-reason": "Fan fell down.", "reopen-goal": "rework"}
    post(cast.manager, "ask_reopening", job.pk, **typed)
    page = post(cast.manager, "decide_reopening", job.reopenings.get().pk, decision="yes")
    assert "a second person decides" in page.content.decode()
    post(cast.admin, "decide_reopening", job.reopenings.get().pk, decision="yes")
    job.refresh_from_db()
    assert job.status == "rework"


def test_follow_ups_stand_on_the_first_page(sign_in, cast, make_job):
    make_deferral(make_job(status="audit_review"), cast.inspector)
    make_finding(make_job(status="rework"), cast.inspector)
    page = sign_in(cast.manager).get(reverse("office:today")).content.decode()
    assert "Deferrals to decide" in page
    assert "Findings to be put right" in page


def test_evidence_is_taken_back_from_the_page(post, cast, make_job):
    job = make_job(status="waitlisted")
    proof = make_proof(job, cast.office, "priority")
    post(cast.manager, "withdraw_proof", proof.pk)
    proof.refresh_from_db()
    assert proof.withdrawn_by == cast.manager
