"""A job's way on its page: gates with what is missing, deferrals, findings, contacts, bookings."""

from dataclasses import dataclass
from datetime import timedelta
from typing import Any

from django.forms import BaseForm
from django.utils import timezone

from agency.accounts.models import User
from agency.casework.gates import Gate, gates_of
from agency.jobs.models import CLOSED, ENDED, Booking, Finding, Job
from agency.jobs.states import Status, steps_from
from agency.rulebook.models import Rule
from agency.rulebook.shipped import effective_on

from .casework_forms import (
    ChangeForm,
    CloseFindingForm,
    ContactForm,
    DeferralForm,
    EndDeferralForm,
    LetterForm,
    ProofForm,
    ReopenForm,
    StepForm,
)
from .schedule_forms import PlanVisitForm

SIDE_STEPS = {"deny", "withdraw", "cancel", "reopen", "fail_inspection", "defer", "resume"}
"""Steps that lead off the way; they have forms of their own."""
OWN_BUTTON = {"test_out", "pass_inspection", "approve"}
"""Steps whose button stands among the next steps."""
BUTTONS = {
    "ask_papers": "Papers are asked for",
    "waitlist": "Put on the waiting list",
    "schedule_audit": "The audit is scheduled",
    "begin_audit": "The audit has begun",
    "finish_audit": "The audit is finished",
    "order_work": "Order the work",
    "schedule_work": "The work is scheduled",
    "start": "The work has begun",
    "test_out": "Work is finished and tested out",
    "schedule_inspection": "The final inspection is scheduled",
    "pass_inspection": "Final inspection passed",
    "return_from_rework": "Rework is done",
    "approve": "Approve this job",
    "report": "The job is in a locked quarter",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class GateCard:
    """One way on: what it asks for, and whether this person may take it now."""

    gate: Gate
    title: str
    may_take: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class FindingRow:
    """A finding, and the form that closes it."""

    finding: Finding
    form: BaseForm | None


def close_prefix(finding: Finding) -> str:
    """Names the fields of one finding's form apart from another's."""
    return f"close-{finding.pk}"


def casework(job: Job, user: User, refused: dict[str, Any]) -> dict[str, Any]:
    """Everything of the section; `refused` holds forms that came back, by name."""
    gates = gates_on(job, user)
    is_open = job.status not in ENDED
    findings = list(job.findings.select_related("found_by", "closed_by"))
    forms = _forms(job, user, gates) | refused
    return {
        "gate_cards": [_card(gate, user) for gate in gates],
        "forms": forms,
        "is_open": is_open,
        "proofs": job.proofs.standing().select_related("by"),
        "deferrals": job.deferrals.with_records(),
        "findings": [_finding_row(one, is_open, refused) for one in findings],
        "contacts": job.contacts.select_related("by", "visit"),
        "bookings": job_bookings(job),
        "changes": job.change_orders.select_related("asked_by", "decided_by"),
        "reopenings": job.reopenings.select_related("asked_by", "decided_by"),
        "letters": job.letters.select_related("made_by"),
        "inspections": job.final_inspections.select_related("inspector"),
    }


def gates_on(job: Job, user: User) -> list[Gate]:
    """The gates of the steps that lead on from where the job stands."""
    ways = [step for step in steps_from(job.status) if step.code not in SIDE_STEPS]
    return gates_of(job, ways, by=user, on=timezone.localdate()) if ways else []


def job_bookings(job: Job) -> Any:
    """Bookings of the job's visits with why they were moved."""
    rows = Booking.objects.filter(visit__job=job).with_records().with_claims()
    return rows.prefetch_related("rebookings__by").order_by("starts_at", "id")


def _card(gate: Gate, user: User) -> GateCard:
    step = gate.step
    may_take = user.role in step.roles and step.code not in OWN_BUTTON
    return GateCard(gate=gate, title=BUTTONS[step.code], may_take=may_take)


def _finding_row(finding: Finding, is_open: bool, refused: dict[str, Any]) -> FindingRow:
    if not (finding.is_open and is_open):
        return FindingRow(finding=finding, form=None)
    prefix = close_prefix(finding)
    form = refused.get(prefix) or CloseFindingForm(finding=finding, prefix=prefix)
    return FindingRow(finding=finding, form=form)


def _forms(job: Job, user: User, gates: list[Gate]) -> dict[str, Any]:
    """The forms that this person may fill in now, by name."""
    status = Status(job.status)
    forms: dict[str, Any] = {}
    if status not in ENDED:
        proof = ProofForm(gates=gates, prefix="proof", initial={"dated_on": timezone.localdate()})
        forms["proof"] = proof if proof.has_choices else None
        forms["contact"] = ContactForm(job=job, prefix="contact")
        forms["change"] = ChangeForm(prefix="change")
        if user.may_review:
            forms["visit"] = PlanVisitForm(prefix="visit")
        if user.may_approve:
            forms["cancel"] = StepForm(prefix="cancel")
    if user.may_review:
        language = {"language": job.client.language}
        forms["letter"] = LetterForm(prefix="letter", initial=language)
    if status in {Status.AUDIT_IN_PROGRESS, Status.AUDIT_REVIEW}:
        forms["deferral"] = DeferralForm(prefix="deferral", initial=_deferral_usual(job))
    if status in {Status.APPLICATION, Status.INFO_NEEDED} and user.may_review:
        forms["deny"] = StepForm(prefix="deny")
    if status == Status.DEFERRED and user.may_approve:
        forms["end_deferral"] = EndDeferralForm(prefix="end")
    if status in CLOSED and user.may_approve:
        forms["reopen"] = ReopenForm(prefix="reopen")
    return forms


def _deferral_usual(job: Job) -> dict[str, Any]:
    today = timezone.localdate()
    rules = effective_on(Rule.objects.filter(code__startswith="deferral."), today)
    days = int(rules.setting("deferral.review_days"))
    return {
        "notice_given_on": today,
        "review_on": today + timedelta(days=days),
        "language": job.client.language,
    }
