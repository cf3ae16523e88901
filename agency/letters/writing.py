"""What a letter tells, gathered from the records of its job and frozen; refused where it lacks."""

from collections.abc import Callable, Mapping
from typing import Any
from uuid import UUID

from django.conf import settings
from django.db import transaction
from django.utils import timezone

from agency.accounts.models import User
from agency.errors import ActionRefused
from agency.jobs.models import Booking, Job, Visit
from agency.programs.models import Agency

from .models import Letter

ORDERED = ("measures", "costs_by_fund", "materials", "lead_safe_need", "ventilation_need")
"""Pieces of evidence that a work order repeats, in this order."""


@transaction.atomic
def write_letter(job_id: UUID, by: User, *, kind: str, language: str) -> Letter:
    """Write one letter or form of a job; what it tells stays as it is now."""
    jobs = Job.objects.select_for_update(of=("self",)).select_related("house", "client", "crew")
    job = jobs.get(pk=job_id)
    agency = Agency.objects.first()
    if agency is None:
        raise ActionRefused("The agency has no name and address yet. Enter them first.")
    number = f"{job.number}-L{job.letters.count() + 1}"
    figures = {
        "agency": {
            "name": agency.name,
            "address": agency.address,
            "phone": agency.phone,
            "complaint_route": agency.complaint_route,
        },
        "home": {
            "street": ", ".join(part for part in (job.house.address, job.house.unit) if part),
            "place": f"{job.house.city}, {job.house.state} {job.house.postal_code}",
        },
        "client": str(job.client),
        "job": job.number,
        "number": number,
        "written_on": timezone.localdate().isoformat(),
        "paper": settings.PAPER_SIZE,
        **TOLD[Letter.Kind(kind)](job),
    }
    return Letter.objects.create(
        job=job, kind=kind, language=language, number=number, figures=figures, made_by=by
    )


def _appointment(job: Job) -> dict[str, Any]:
    now = timezone.now()
    coming = Booking.objects.standing().filter(visit__job=job, starts_at__gte=now)
    booking = coming.select_related("visit", "crew", "inspector").order_by("starts_at").first()
    if booking is None:
        raise ActionRefused(
            f"{job} has no visit booked from now on. Book one on the schedule first."
        )
    return {
        "visit": booking.visit.kind,
        "starts_at": timezone.localtime(booking.starts_at).isoformat(),
        "ends_at": timezone.localtime(booking.ends_at).isoformat(),
        "who": booking.who,
    }


def _deferral(job: Job) -> dict[str, Any]:
    deferral = job.deferrals.exclude(is_approved=False).filter(ended_at=None).first()
    if deferral is None:
        raise ActionRefused(f"{job} has no deferral. Propose it first.")
    return {
        "reasons": deferral.reasons,
        "found": deferral.words,
        "cure": deferral.cure,
        "referral": deferral.referral,
        "review_on": deferral.review_on.isoformat(),
    }


def _permission(job: Job) -> dict[str, Any]:
    return {}


def _work_order(job: Job) -> dict[str, Any]:
    newest = {proof.piece: proof for proof in job.proofs.standing().order_by("at")}
    lines = [[piece, newest[piece].words] for piece in ORDERED if piece in newest]
    if "measures" not in newest:
        raise ActionRefused(
            f"{job} has no list of measures on file. Record it among the evidence first."
        )
    visit = job.visits.filter(kind=Visit.Kind.WORK).order_by("-planned_on").first()
    return {
        "lines": lines,
        "crew": str(job.crew),
        "work_on": visit.planned_on.isoformat() if visit else None,
    }


def _inspection(job: Job) -> dict[str, Any]:
    """The last attempt as it was signed; an empty form where none was made."""
    inspection = job.final_inspections.select_related("visit").last()
    findings = job.findings.filter(visit=inspection.visit) if inspection else job.findings.none()
    return {
        "attempt": inspection.attempt if inspection else job.final_inspections.count() + 1,
        "inspected_on": inspection.visit.planned_on.isoformat() if inspection else None,
        "has_passed": inspection.has_passed if inspection else None,
        "credential": inspection.credential_number if inspection else "",
        "independence": inspection.independence if inspection else "",
        "basis": inspection.basis if inspection else "",
        "basis_reason": inspection.basis_reason if inspection else "",
        "signed_as": inspection.signed_as if inspection else "",
        "findings": [[one.severity, one.words, one.evidence] for one in findings],
    }


TOLD: Mapping[Letter.Kind, Callable[[Job], dict[str, Any]]] = {
    Letter.Kind.APPOINTMENT: _appointment,
    Letter.Kind.DEFERRAL: _deferral,
    Letter.Kind.PERMISSION: _permission,
    Letter.Kind.WORK_ORDER: _work_order,
    Letter.Kind.INSPECTION: _inspection,
}
