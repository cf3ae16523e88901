"""A certificate's file, for those who may see its job; what it will tell, and its reissue."""

from collections.abc import Mapping, Sequence
from typing import Any
from uuid import UUID

from django.http import FileResponse
from django.shortcuts import get_object_or_404

from agency.accounts.models import User
from agency.certificates.models import Certificate, Handover
from agency.jobs.models import Job

from .access import DeskRequest, desk_only
from .files import opened, to_save
from .forms import HandoverForm, ReissueForm

FORMS = ("handover", "reissue")
"""Names of the forms about a job's papers."""


@desk_only
def certificate_file(request: DeskRequest, pk: UUID) -> FileResponse:
    """The paper as it was issued, to be saved, never shown inside our pages."""
    visible = Certificate.objects.filter(job__in=Job.objects.visible_to(request.user))
    certificate = get_object_or_404(visible, pk=pk)
    name = f"{certificate.number}.pdf"
    return to_save(opened(certificate.file), name=name, content_type="application/pdf")


def paper_forms(
    user: User, job: Job, *, certificates: Sequence[Certificate], refused: Mapping[str, Any]
) -> dict[str, Any]:
    """What this person may write for the job's papers; a refused form comes back as it was."""
    forms: dict[str, Any] = {}
    if user.may_review and job.status != Job.Status.WITHDRAWN:
        forms["handover"] = handover_form(job)
    if user.may_approve and certificates:
        forms["reissue"] = ReissueForm(prefix="reissue")
    return forms | {name: form for name, form in refused.items() if name in FORMS}


def handover_form(job: Job, data: Any = None) -> HandoverForm:
    """What is written down so far, or what was typed instead."""
    return HandoverForm(
        data,
        instance=Handover.objects.filter(job=job).first(),
        language=job.client.get_language_display(),
        prefix="handover",
    )
