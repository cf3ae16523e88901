"""A job's certificate is written once; a reissue adds a new one and leaves the old as it is."""

import hashlib
import uuid
from collections.abc import Mapping
from typing import Any
from uuid import UUID

from django.conf import settings
from django.core.files.base import ContentFile
from django.db import transaction
from django.utils import timezone

from agency.accounts.models import User
from agency.diagnostics.models import Comparison
from agency.errors import ActionRefused
from agency.estimates.models import SavingsEstimate
from agency.jobs.models import CLOSED, Job
from agency.programs.models import Agency
from agency.wording import words

from .chain import hash_of
from .figures import certificate_figures
from .models import Certificate
from .papers import certificate_pdf

CHECK_LENGTH = 8


@transaction.atomic
def issue_certificate(job_id: UUID) -> Certificate:
    """Write the certificate of an approved job; a second call returns the same one."""
    job = _locked(job_id)
    figures, estimate = _frozen(job)
    present = current_certificate(job)
    if present is None:
        return _write(job, figures, estimate, replaces=None, reason="")
    if present.input_hash == _hash_of(figures, replaces=present.replaces, reason=present.reason):
        return present
    raise ActionRefused(
        f"{present} was issued from other figures than {job} has now. "
        "Reissue it with a reason; the old one is kept."
    )


@transaction.atomic
def reissue(job: Job, reason: str, by: User) -> Certificate:
    """Write a certificate that replaces the present one, which keeps its figures and file.

    Asked twice with the same reason and unchanged figures, it returns the one already written.
    """
    if not by.may_approve:
        raise ActionRefused("Only a manager reissues a certificate.")
    reason = " ".join(reason.split())
    if not reason:
        raise ActionRefused("Say why the certificate is reissued.")
    most = Certificate._meta.get_field("reason").max_length
    if most is not None and len(reason) > most:
        raise ActionRefused(f"The reason has {len(reason)} characters; {most} are the most.")
    job = _locked(job.pk)
    present = current_certificate(job)
    if present is None:
        raise ActionRefused(f"{job} has no certificate to replace. Approve the job first.")
    figures, estimate = _frozen(job)
    repeated = present.replaces is not None and present.reason == reason
    if repeated and present.input_hash == _hash_of(
        figures, replaces=present.replaces, reason=reason
    ):
        return present
    return _write(job, figures, estimate, replaces=present, reason=reason)


def current_certificate(job: Job) -> Certificate | None:
    """The one that no other replaces."""
    return job.certificates.select_related("replaces").filter(replaced_by=None).first()


def _locked(job_id: UUID) -> Job:
    job = Job.objects.select_for_update(of=("self",)).select_related("house").get(pk=job_id)
    if job.status not in CLOSED:
        raise ActionRefused(f"{job} is not approved; it gets its certificate once it is.")
    return job


def _frozen(job: Job) -> tuple[dict[str, Any], SavingsEstimate]:
    """What the newest records say today, and the estimate they rest on."""
    comparison: Comparison | None = job.comparisons.select_related(
        "before__test_run", "after__test_run"
    ).first()
    estimate: SavingsEstimate | None = job.estimates.first()
    agency = Agency.objects.first()
    if comparison is None:
        raise ActionRefused(f"{job} has no comparison yet. Review its test runs first.")
    if estimate is None:
        raise ActionRefused(f"{job} has no savings estimate yet. Have it estimated first.")
    if agency is None:
        raise ActionRefused("The agency has no name and address yet. Enter them first.")
    return certificate_figures(job, comparison, estimate, agency), estimate


def _write(
    job: Job,
    figures: dict[str, Any],
    estimate: SavingsEstimate,
    *,
    replaces: Certificate | None,
    reason: str,
) -> Certificate:
    number = f"{job.number}-C{job.certificates.count() + 1}"
    input_hash = _hash_of(figures, replaces=replaces, reason=reason)
    issued_at, code = timezone.now(), check_code(number, input_hash)
    numbered = {
        **figures,
        "number": number,
        "check_code": code,
        "verify_at": f"{settings.PUBLIC_ADDRESS}/verify/{code}",
        "issued_on": words.iso(timezone.localdate(issued_at)),
        "replaces": replaces.number if replaces else "",
    }
    pdf = certificate_pdf(numbered)
    certificate = Certificate(
        job=job,
        estimate=estimate,
        number=number,
        check_code=code,
        issued_at=issued_at,
        replaces=replaces,
        reason=reason,
        input_hash=input_hash,
        figures=numbered,
        file_hash=hashlib.sha256(pdf).hexdigest(),
    )
    # A name that nobody can guess from a job or certificate number.
    certificate.file.save(f"{uuid.uuid4().hex}.pdf", ContentFile(pdf), save=False)
    try:
        _append(certificate)
    except Exception:
        certificate.file.delete(save=False)
        raise
    return certificate


def _append(certificate: Certificate) -> None:
    """Put it at the end of the chain; the agency's row is the place where papers queue."""
    Agency.objects.select_for_update().get(pk=Agency.objects.values("pk")[:1])
    certificate.append_to(Certificate.objects.order_by("position").last())
    certificate.save(force_insert=True)


def _hash_of(figures: Mapping[str, Any], *, replaces: Certificate | None, reason: str) -> str:
    return hash_of([figures, replaces.number if replaces else "", reason])


def check_code(number: str, input_hash: str) -> str:
    """Eight letters that belong to this number and these figures: "7K3M-Q2XD"."""
    left = int.from_bytes(hashlib.sha256(f"{number} {input_hash}".encode()).digest())
    letters = []
    for _ in range(CHECK_LENGTH):
        left, place = divmod(left, len(words.UNMISTAKABLE))
        letters.append(words.UNMISTAKABLE[place])
    code = "".join(letters)
    return f"{code[:4]}-{code[4:]}"
