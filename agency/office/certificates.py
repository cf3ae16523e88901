"""A certificate's file, for those who may see its job."""

from uuid import UUID

from django.http import FileResponse, Http404
from django.shortcuts import get_object_or_404

from agency.certificates.models import Certificate
from agency.jobs.models import Job

from .access import DeskRequest, desk_only


@desk_only
def certificate_file(request: DeskRequest, pk: UUID) -> FileResponse:
    """The paper as it was issued, to be saved, never shown inside our pages."""
    visible = Certificate.objects.filter(job__in=Job.objects.visible_to(request.user))
    certificate = get_object_or_404(visible, pk=pk)
    try:
        paper = certificate.file.open("rb")
    except (FileNotFoundError, ValueError):
        raise Http404(f"The file of {certificate} is not in the store.") from None
    response = FileResponse(
        paper,
        as_attachment=True,
        filename=f"{certificate.number}.pdf",
        content_type="application/pdf",
    )
    response["X-Content-Type-Options"] = "nosniff"
    response["Content-Security-Policy"] = "default-src 'none'; sandbox"
    return response
