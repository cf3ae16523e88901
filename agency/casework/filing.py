"""What is written down about a job without moving it: evidence, contacts, findings, changes."""

from datetime import date
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from agency.accounts.models import User
from agency.errors import ActionRefused
from agency.jobs.models import (
    ENDED,
    ChangeOrder,
    ContactAttempt,
    Finding,
    Job,
    Proof,
    Visit,
)
from agency.wording import words

from .steps import locked


@transaction.atomic
def record_proof(
    job_id: UUID, by: User, *, piece: str, said: str, dated_on: date, is_needed: bool
) -> Proof:
    """Write a piece of evidence down by name, or why this job needs none."""
    job = locked(job_id)
    if job.status in ENDED:
        raise ActionRefused(
            f"{job} is {job.get_status_display().lower()}; nothing is added to its file. "
            "Reopen it first."
        )
    if not said.strip():
        raise ActionRefused(
            "Write what the paper says or where it is; an empty note proves nothing."
        )
    today = timezone.localdate()
    if dated_on > today:
        raise ActionRefused(
            f"The paper is dated {words.day(dated_on)}, after today, {words.day(today)}. "
            "Enter the day it was made."
        )
    return Proof.objects.create(
        job=job, piece=piece, words=said.strip(), dated_on=dated_on, is_needed=is_needed, by=by
    )


@transaction.atomic
def withdraw_proof(proof_id: UUID, by: User) -> Proof:
    """Take a piece of evidence back; the row stays with both names."""
    proof = Proof.objects.select_for_update(of=("self",)).select_related("job").get(pk=proof_id)
    if proof.job.status in ENDED:
        raise ActionRefused(f"{proof.job} is closed; its file stays as it is.")
    if proof.withdrawn_at is not None:
        raise ActionRefused(f"{proof.withdrawn_by} has taken this back already.")
    proof.withdrawn_by, proof.withdrawn_at = by, timezone.now()
    proof.save(update_fields=["withdrawn_by", "withdrawn_at"])
    return proof


@transaction.atomic
def log_contact(job_id: UUID, by: User, attempt: ContactAttempt) -> ContactAttempt:
    """Keep an attempt to reach the household; it is never changed."""
    attempt.job, attempt.by = Job.objects.get(pk=job_id), by
    if attempt.visit_id is not None and attempt.visit.job_id != attempt.job_id:  # type: ignore[union-attr]
        raise ActionRefused(f"The visit chosen is not of {attempt.job}. Choose one of its visits.")
    attempt.save(force_insert=True)
    return attempt


@transaction.atomic
def close_finding(
    finding_id: UUID, by: User, *, evidence: str, photo: UUID | None = None
) -> Finding:
    """Close a finding by what shows that it is put right."""
    findings = Finding.objects.select_for_update(of=("self",)).select_related("job")
    finding = findings.get(pk=finding_id)
    if photo is not None and not finding.job.photos.filter(pk=photo).exists():
        raise ActionRefused(f"The photo chosen is not of {finding.job}. Choose one of its photos.")
    finding.close(by, evidence, photo)
    return finding


@transaction.atomic
def ask_change(job_id: UUID, by: User, said: str) -> ChangeOrder:
    """Ask to be allowed other work than ordered."""
    job = locked(job_id)
    if job.status in ENDED:
        raise ActionRefused(f"{job} is {job.get_status_display().lower()}; its work is over.")
    if not said.strip():
        raise ActionRefused("Write what is to be done otherwise than ordered.")
    return ChangeOrder.objects.create(job=job, asked_by=by, words=said.strip())


@transaction.atomic
def decide_change(change_id: UUID, by: User, *, as_approved: bool) -> ChangeOrder:
    """A manager's word on a change order."""
    change = ChangeOrder.objects.select_for_update(of=("self",)).get(pk=change_id)
    change.decide(by, as_approved=as_approved)
    return change


@transaction.atomic
def plan_visit(
    job_id: UUID, by: User, *, kind: str, on: date, inspector: User | None = None
) -> Visit:
    """Plan a visit; its hour, vehicle and instruments come with its booking."""
    job = locked(job_id)
    if job.status in ENDED:
        raise ActionRefused(f"{job} is {job.get_status_display().lower()}; no visit is planned.")
    if kind == Visit.Kind.FINAL_INSPECTION:
        if inspector is None:
            raise ActionRefused("A final inspection names its inspector. Choose one.")
        return Visit.objects.create(job=job, kind=kind, planned_on=on, inspector=inspector)
    return Visit.objects.create(job=job, kind=kind, planned_on=on, crew=job.crew)
