"""Gates: each asks for what the programme names, refuses in words, and keeps what it saw."""

from datetime import UTC, date, datetime, timedelta

import pytest
from django.utils import timezone

from agency.casework import filing, steps
from agency.casework.gates import gate_of
from agency.errors import ActionRefused
from agency.houses.models import House
from agency.jobs.models import Deferral
from agency.rulebook.models import Rule
from tests.builders import make_comparison, make_credential, make_house, make_stop
from tests.casework_records import make_deferral, make_finding, make_proof, make_visit

pytestmark = pytest.mark.django_db


def lacks(job, step, by):
    gate = gate_of(job, step, by=by, on=timezone.localdate())
    return {piece.code for piece in gate.missing}


# What binds at each gate of a job whose file is empty; common practice, no source.
EMPTY = {
    "ask_papers": ("application", {"papers_asked"}),
    "waitlist": ("application", {"determination", "occupancy"}),
    "deny": ("application", {"denial_notice"}),
    "schedule_audit": (
        "waitlisted",
        {"determination", "priority", "owner_permission", "utility_release", "audit_visit"},
    ),
    "begin_audit": ("scheduled_audit", {"arrival", "consent", "auditor_credential"}),
    "finish_audit": (
        "audit_in_progress",
        {"test_in", "combustion", "photos", "hazards"},
    ),
    "defer": ("audit_review", {"deferral"}),
    "resume": ("deferred", {"end_of_deferral"}),
    "order_work": (
        "audit_review",
        {
            "measures",
            "costs_by_fund",
            "approval_limit",
            "client_signature",
            "owner_signature",
            "lead_safe_need",
            "ventilation_need",
            "historic_review",
        },
    ),
    "schedule_work": (
        "work_ordered",
        {"work_visit", "crew_leader", "renovator", "pamphlet", "materials"},
    ),
    "start": ("scheduled", set()),
    "test_out": ("in_progress", set()),
    "schedule_inspection": ("tested_out", {"after_tests"}),
    "return_from_rework": ("rework", set()),
    "report": ("approved", {"locked_quarter"}),
    "cancel": ("scheduled", set()),
}


@pytest.mark.parametrize("step", EMPTY)
def test_each_gate_names_what_an_empty_file_lacks(cast, make_job, step):
    status, missing = EMPTY[step]
    assert lacks(make_job(status=status), step, cast.manager) == missing


@pytest.mark.parametrize(
    "step",
    ["ask_papers", "waitlist", "schedule_audit", "begin_audit", "finish_audit", "order_work"],
)
def test_a_shut_gate_refuses_in_words_and_moves_nothing(cast, make_job, step):
    job = make_job(status=EMPTY[step][0])
    with pytest.raises(ActionRefused) as refusal:
        getattr(steps, step)(job.pk, cast.manager)
    gate = gate_of(job, step, by=cast.manager, on=timezone.localdate())
    for piece in gate.missing:
        assert f"{piece.name}: {piece.detail} {piece.next_step}" in str(refusal.value)
    job.refresh_from_db()
    assert job.status == EMPTY[step][0]
    assert not job.events.exists()


def test_evidence_opens_the_gate_and_stands_in_the_history_row(cast, make_job):
    job = make_job(status="application")
    proofs = [make_proof(job, cast.office, one) for one in ("determination", "occupancy")]
    steps.waitlist(job.pk, cast.office, device_at=datetime(2026, 11, 2, 9, tzinfo=UTC))
    event = job.events.get()
    assert {f"{proof.piece}:{proof.pk}" for proof in proofs} <= set(event.evidence)
    assert len(event.rule_version) == 12
    assert event.device_at == datetime(2026, 11, 2, 9, tzinfo=UTC)
    assert event.at != event.device_at


def test_the_rule_book_decides_what_binds(cast, make_job):
    job = make_job(status="application")
    Rule.objects.filter(code="gate.waitlist.occupancy").update(severity="advisory")
    make_proof(job, cast.office, "determination")
    steps.waitlist(job.pk, cast.office)
    gate = gate_of(job, "waitlist", by=cast.office, on=timezone.localdate())
    assert [one.state for one in gate.pieces if one.code == "occupancy"] == ["advisory"]


@pytest.mark.parametrize(
    ("dated_on", "visit_on", "holds"),
    [
        # Twelve months from the determination to the visit: derived from the setting.
        (date(2026, 1, 15), date(2027, 1, 15), True),
        (date(2026, 1, 15), date(2027, 1, 16), False),
        (date(2024, 2, 29), date(2025, 2, 28), True),
        (date(2024, 2, 29), date(2025, 3, 1), False),
    ],
)
def test_a_determination_holds_on_the_day_of_the_visit(cast, make_job, dated_on, visit_on, holds):
    job = make_job(status="waitlisted")
    make_visit(job, "test_in", visit_on)
    make_proof(job, cast.office, "determination", dated_on=dated_on)
    assert ("determination" not in lacks(job, "schedule_audit", cast.office)) == holds


@pytest.mark.parametrize(
    ("passed_on", "blocks"),
    [(date(2011, 11, 25), False), (date(2012, 1, 5), True), (date(2026, 1, 5), True)],
)
def test_a_home_done_within_fifteen_years_is_not_done_again(
    cast, make_job, time_machine_on, passed_on, blocks
):
    house = make_house()
    make_job(house=house, status="approved", inspection_passed_on=passed_on)
    job = make_job(house=house, status="application")
    assert ("dwelling_not_done" in lacks(job, "waitlist", cast.office)) == blocks


@pytest.fixture
def time_machine_on():
    """Gates are asked on the day of the tests' calendar."""
    import time_machine

    with time_machine.travel("2026-11-25 18:00", tick=False):
        yield


@pytest.mark.parametrize(
    ("expires_on", "holds"), [(date(2026, 12, 1), True), (date(2026, 11, 30), False)]
)
def test_an_auditor_is_certified_on_the_day_of_the_visit_not_today(
    cast, make_job, expires_on, holds
):
    job = make_job(status="scheduled_audit")
    make_visit(job, "test_in", date(2026, 12, 1))
    make_credential(cast.crew_lead, "energy_auditor", expires_on=expires_on)
    assert ("auditor_credential" not in lacks(job, "begin_audit", cast.office)) == holds


@pytest.mark.parametrize(("built", "asks"), [(1977, True), (None, True), (1978, False)])
def test_lead_safe_work_is_asked_for_in_homes_of_lead_paints_time(cast, make_job, built, asks):
    job = make_job(status="work_ordered", house=make_house(year_built=built))
    make_visit(job, "work", date(2026, 12, 1))
    assert ({"renovator", "pamphlet"} <= lacks(job, "schedule_work", cast.office)) == asks
    make_credential(cast.crew_lead, "certified_renovator")
    make_proof(job, cast.office, "pamphlet", dated_on=date(2026, 10, 20))
    assert not {"renovator", "pamphlet"} & lacks(job, "schedule_work", cast.office)


@pytest.mark.parametrize(
    ("given", "in_time"),
    [(date(2026, 10, 2), True), (date(2026, 10, 1), False), (date(2026, 12, 2), False)],
)
def test_the_pamphlet_is_given_within_sixty_days_before_the_work(cast, make_job, given, in_time):
    """40 CFR 745.84: not more than 60 days before; from memory."""
    job = make_job(status="work_ordered")
    make_visit(job, "work", date(2026, 12, 1))
    make_proof(job, cast.office, "pamphlet", dated_on=given)
    assert ("pamphlet" not in lacks(job, "schedule_work", cast.office)) == in_time


def test_an_unapproved_change_order_holds_the_test_out_up(cast, make_job):
    job = make_job(status="in_progress")
    change = filing.ask_change(job.pk, cast.office, "A second bath fan.")
    assert lacks(job, "test_out", cast.office) == {"change_orders"}
    with pytest.raises(ActionRefused, match="decided by a manager"):
        filing.decide_change(change.pk, cast.inspector, as_approved=True)
    filing.decide_change(change.pk, cast.manager, as_approved=True)
    assert not lacks(job, "test_out", cast.office)


def test_nobody_decides_what_they_asked_for(cast, make_job):
    change = filing.ask_change(make_job(status="in_progress").pk, cast.manager, "A fan.")
    with pytest.raises(ActionRefused, match="a second person decides"):
        filing.decide_change(change.pk, cast.manager, as_approved=True)


def test_an_open_stop_holds_the_start_up(cast, make_job):
    job = make_job(status="scheduled")
    make_stop(job)
    with pytest.raises(ActionRefused, match="Carbon monoxide in the room air is 38 ppm"):
        steps.start(job.pk, cast.crew_lead)


def test_rejected_readings_hold_the_audit_up(cast, make_job, make_run):
    job = make_job(status="audit_in_progress")
    make_run(job, "before", verdict="rejected")
    assert "test_in_stands" in lacks(job, "finish_audit", cast.inspector)


def test_a_coded_reason_stands_for_a_test_that_was_not_safe(cast, make_job):
    job = make_job(status="audit_in_progress", no_before_test_reason="Vermiculite in the attic.")
    assert "test_in" not in lacks(job, "finish_audit", cast.inspector)


def test_sizes_not_measured_hold_the_audit_up(cast, make_job):
    job = make_job(status="audit_in_progress")
    House.objects.filter(pk=job.house_id).update(volume_cuft=None)
    job.refresh_from_db()
    assert "dimensions" in lacks(job, "finish_audit", cast.inspector)


def test_a_pair_that_cannot_be_compared_holds_the_inspection_up(cast, make_job, make_run):
    job = make_job(status="tested_out")
    before, after = make_run(job, "before", 2000.0), make_run(job, "after", 1400.0)
    comparison = make_comparison(job, before, after)
    assert not lacks(job, "schedule_inspection", cast.office)
    comparison.verdict = "not_comparable"
    comparison.save()
    assert lacks(job, "schedule_inspection", cast.office) == {"after_tests"}


@pytest.mark.parametrize(
    ("kind", "answer", "piece"),
    [
        ("combustion_zone", "action", "combustion_safe"),
        ("ventilation_need", "missed", "ventilation_met"),
    ],
)
def test_a_bad_answer_after_the_work_holds_the_inspection_up(  # noqa: PLR0917  fixtures
    cast, make_job, make_run, kind, answer, piece
):
    job = make_job(status="tested_out")
    run = make_run(job, "after")
    run.kind = kind
    run.save()
    run.results.update(answer=answer)
    assert piece in lacks(job, "schedule_inspection", cast.office)
    run.results.update(answer="met")
    assert piece not in lacks(job, "schedule_inspection", cast.office)


def test_each_finding_is_closed_by_its_own_evidence(cast, make_job):
    job = make_job(status="rework")
    first, second = make_finding(job, cast.inspector), make_finding(job, cast.inspector, words="B.")
    filing.close_finding(first.pk, cast.office, evidence="Sealed with tape; seen by the crew.")
    with pytest.raises(ActionRefused, match="Open: B"):
        steps.return_from_rework(job.pk, cast.office)
    with pytest.raises(ActionRefused, match="needs evidence to be closed"):
        filing.close_finding(second.pk, cast.office, evidence="  ")
    filing.close_finding(second.pk, cast.office, evidence="Done.")
    steps.return_from_rework(job.pk, cast.office)
    job.refresh_from_db()
    assert job.status == "inspection_scheduled"


def test_a_finding_in_the_envelope_asks_for_a_new_test(cast, make_job, make_run):
    job = make_job(status="rework")
    finding = make_finding(job, cast.inspector, touches="envelope")
    filing.close_finding(finding.pk, cast.office, evidence="Sealed.")
    make_run(job, "after", taken_at=finding.found_at - timedelta(hours=1))
    assert lacks(job, "return_from_rework", cast.office) == {"tested_again"}
    make_run(job, "after", taken_at=finding.found_at + timedelta(hours=1))
    assert not lacks(job, "return_from_rework", cast.office)


def test_a_deferral_takes_two_people_and_ends_with_proof(cast, make_job):
    job = make_job(status="audit_review")
    proposed = steps.propose_deferral(
        job.pk,
        cast.manager,
        Deferral(
            reasons=["moisture"],
            words="Roof leaks.",
            cure="Mend it.",
            notice_given_on=date(2026, 11, 20),
            language="es",
            review_on=date(2027, 2, 1),
        ),
    )
    with pytest.raises(ActionRefused, match="another manager decides"):
        steps.decide_deferral(proposed.pk, cast.manager, as_approved=True)
    steps.decide_deferral(proposed.pk, cast.admin, as_approved=True)
    job.refresh_from_db()
    assert job.status == "deferred"
    with pytest.raises(ActionRefused, match="needs proof to be ended"):
        steps.resume(proposed.pk, cast.manager, how="cured", proof=" ", goal="waitlisted")
    steps.resume(
        proposed.pk, cast.manager, how="cured", proof="Seen on a visit.", goal="audit_review"
    )
    job.refresh_from_db()
    assert job.status == "audit_review"


@pytest.mark.parametrize(
    ("how", "goal", "words"),
    [("timed_out", "audit_review", "the house was not put right")],
)
def test_time_that_is_up_does_not_lead_back_to_review(cast, make_job, how, goal, words):
    job = make_job(status="deferred")
    deferral = in_force(make_deferral(job, cast.inspector), cast.manager)
    with pytest.raises(ActionRefused, match=words):
        steps.resume(deferral.pk, cast.manager, how=how, proof="Letter.", goal=goal)


def in_force(deferral, manager):
    deferral.decide(manager, as_approved=True)
    return deferral


def test_an_old_test_in_leads_to_the_waiting_list_only(cast, make_job, make_run):
    job = make_job(status="deferred")
    deferral = in_force(make_deferral(job, cast.inspector), cast.manager)
    make_run(job, "before", taken_at=timezone.now() - timedelta(days=400))
    told = {"how": "cured", "proof": "Seen."}
    with pytest.raises(ActionRefused, match="more than 12 months ago"):
        steps.resume(deferral.pk, cast.manager, **told, goal="audit_review")
    steps.resume(deferral.pk, cast.manager, **told, goal="waitlisted")
    job.refresh_from_db()
    assert job.status == "waitlisted"


def test_a_closed_job_is_opened_again_by_two_people_only(cast, make_job):
    job = make_job(status="approved")
    with pytest.raises(ActionRefused, match="The reason is empty"):
        steps.ask_reopening(job.pk, cast.manager, reason=" ", goal="rework")
    asked = steps.ask_reopening(job.pk, cast.manager, reason="Fan fell down.", goal="rework")
    with pytest.raises(ActionRefused, match="a second person decides"):
        steps.decide_reopening(asked.pk, cast.manager, as_approved=True)
    steps.decide_reopening(asked.pk, cast.admin, as_approved=True)
    job.refresh_from_db()
    assert job.status == "rework"
    assert job.events.get().reason == f"Fan fell down. (asked by {cast.manager})"


def test_a_refused_reopening_leaves_the_job_closed(cast, make_job):
    job = make_job(status="reported")
    asked = steps.ask_reopening(job.pk, cast.manager, reason="Typo.", goal="inspection_passed")
    steps.decide_reopening(asked.pk, cast.admin, as_approved=False)
    job.refresh_from_db()
    assert job.status == "reported"


def test_evidence_is_taken_back_and_never_lost(cast, make_job):
    job = make_job(status="waitlisted")
    proof = make_proof(job, cast.office, "priority")
    assert "priority" not in lacks(job, "schedule_audit", cast.office)
    filing.withdraw_proof(proof.pk, cast.manager)
    assert "priority" in lacks(job, "schedule_audit", cast.office)
    proof.refresh_from_db()
    assert (proof.by, proof.withdrawn_by) == (cast.office, cast.manager)


def test_evidence_of_tomorrow_is_refused(cast, make_job):
    with pytest.raises(ActionRefused, match="Enter the day it was made"):
        filing.record_proof(
            make_job(status="waitlisted").pk,
            cast.office,
            piece="priority",
            said="42 points.",
            dated_on=timezone.localdate() + timedelta(days=1),
            is_needed=True,
        )
