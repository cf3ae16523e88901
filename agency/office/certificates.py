"""A certificate's file, for those who may see its job."""

from uuid import UUID

from django.http import FileResponse
from django.shortcuts import get_object_or_404

from agency.certificates.models import Certificate
from agency.jobs.models import Job

from .access import DeskRequest, desk_only
from .files import opened, to_save


@desk_only
def certificate_file(request: DeskRequest, pk: UUID) -> FileResponse:
    """The paper as it was issued, to be saved, never shown inside our pages."""
    visible = Certificate.objects.filter(job__in=Job.objects.visible_to(request.user))
    certificate = get_object_or_404(visible, pk=pk)
    name = f"{certificate.number}.pdf"
    return to_save(opened(certificate.file), name=name, content_type="application/pdf")
