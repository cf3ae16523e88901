"""The final inspection as it is signed: a visit, a form, and findings when it fails."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from uuid import UUID

from django.db import transaction

from agency.accounts.models import User
from agency.errors import ActionRefused
from agency.jobs.models import Finding, Inspection, Job, Visit
from agency.jobs.states import Status
from agency.people.models import Credential

from .checks import independence_of
from .steps import locked, refuse_while_stopped, through


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """One thing an inspector wants put right."""

    words: str
    severity: str = Finding.Severity.MAJOR
    touches: str = Finding.Touches.NEITHER


@dataclass(frozen=True, slots=True, kw_only=True)
class SignedForm:
    """What an inspector writes and signs."""

    on: date
    passed: bool
    note: str = ""
    basis: str = Inspection.Basis.OWN_TEST
    basis_reason: str = ""
    signed_as: str = ""
    findings: Sequence[Found] = ()


@transaction.atomic
def record_inspection(job_id: UUID, by: User, form: SignedForm) -> Job:
    """Write the final inspection down and move the job; every attempt is a record of its own."""
    if not by.may_inspect:
        raise ActionRefused("Only an inspector records a final inspection.")
    job = locked(job_id)
    if form.basis == Inspection.Basis.RELIED and not form.basis_reason.strip():
        raise ActionRefused(
            "The form relies on the crew's test without a reason. Write why it could be relied on, "
            "or test yourself."
        )
    if form.passed:
        _pass(job, by, form)
    else:
        _fail(job, by, form)
    return job


def _pass(job: Job, by: User, form: SignedForm) -> None:
    refuse_while_stopped(job)
    # An inspector may come unannounced; the gate before the inspection is the same.
    if job.status == Status.TESTED_OUT:
        job.schedule_inspection(by, **through(job, "schedule_inspection", by))
    seen = through(job, "pass_inspection", by, on=form.on)
    _sign(job, by, form)
    job.pass_inspection(by, form.on, **seen)


def _fail(job: Job, by: User, form: SignedForm) -> None:
    """Nothing holds a failure up: what is wrong is written down whatever else is missing."""
    findings = form.findings or _lines(form.note)
    if not findings:
        raise ActionRefused(
            f"{job} failed without a finding. Write what was found; the crew must know what to "
            "put right."
        )
    if job.status == Status.TESTED_OUT:
        job.schedule_inspection(by)
    job.refuse_step("fail_inspection", by)
    visit = _sign(job, by, form)
    job.fail_inspection(by, form.note or "; ".join(one.words for one in findings))
    for one in findings:
        job.findings.create(
            visit=visit,
            severity=one.severity,
            touches=one.touches,
            words=one.words,
            found_by=by,
        )


def _lines(note: str) -> list[Found]:
    """A finding a line, where nobody wrote them one by one."""
    return [Found(words=line.strip()[:400]) for line in note.splitlines() if line.strip()]


def _sign(job: Job, by: User, form: SignedForm) -> Visit:
    outcome = Visit.Outcome.PASSED if form.passed else Visit.Outcome.FAILED
    visit = _visit(job, by, form.on)
    visit.inspector, visit.outcome, visit.note = by, outcome, form.note
    visit.save()
    valid = Credential.objects.held_by(by).filter(kind=Credential.Kind.INSPECTOR)
    credential = valid.valid_on(form.on).first()
    job.final_inspections.create(
        visit=visit,
        attempt=job.final_inspections.count() + 1,
        inspector=by,
        credential_number=credential.number if credential else "",
        independence=independence_of(job, by),
        basis=form.basis,
        basis_reason=form.basis_reason.strip(),
        has_passed=form.passed,
        note=form.note,
        signed_as=form.signed_as.strip() or str(by),
    )
    return visit


def _visit(job: Job, by: User, on: date) -> Visit:
    """The inspector's planned visit of that day, else one of its own."""
    planned = job.visits.filter(kind=Visit.Kind.FINAL_INSPECTION, planned_on=on, outcome="")
    known = (
        planned.filter(inspector__in=[by, None]).first() or planned.filter(inspector=None).first()
    )
    return known or Visit(job=job, kind=Visit.Kind.FINAL_INSPECTION, planned_on=on)
