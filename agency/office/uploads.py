"""Uploads that could not be stored as test runs: the document and the reasons, in words."""

import json
from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import get_object_or_404

from agency.diagnostics.models import RefusedUpload

from .access import DeskRequest, desk_only
from .pages import page_of, render_page


@desk_only
def refused_uploads(request: DeskRequest) -> HttpResponse:
    """Newest first."""
    uploads = RefusedUpload.objects.select_related("device__user").defer("document")
    context = {"page": page_of(uploads, request.GET.get("page"))}
    return render_page(request, "office/refused_uploads.html", context, section="today")


@desk_only
def refused_upload(request: DeskRequest, pk: UUID) -> HttpResponse:
    """One of them, word for word."""
    upload = get_object_or_404(RefusedUpload.objects.select_related("device__user"), pk=pk)
    context = {"upload": upload, "document": _readable(upload.document)}
    return render_page(request, "office/refused_upload.html", context, section="today")


def _readable(document: str) -> str:
    """Indented where it is JSON at all, else as it came."""
    try:
        return json.dumps(json.loads(document), indent=2, ensure_ascii=False)
    except ValueError:
        return document
