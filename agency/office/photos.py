"""Photos of jobs, large and small, for those who may see the job."""

from uuid import UUID

from django.http import FileResponse
from django.shortcuts import get_object_or_404

from agency.diagnostics.photos import Photo

from .access import DeskRequest, desk_only
from .files import opened, to_show

JPEG = "image/jpeg"


@desk_only
def photo(request: DeskRequest, pk: UUID) -> FileResponse:
    """The photo as it is stored."""
    found = _visible(request, pk)
    return to_show(opened(found.file), name=f"{found.pk}.jpg", content_type=JPEG)


@desk_only
def small_photo(request: DeskRequest, pk: UUID) -> FileResponse:
    """The same, small enough for a page of many."""
    found = _visible(request, pk)
    return to_show(opened(found.small), name=f"{found.pk}-small.jpg", content_type=JPEG)


def _visible(request: DeskRequest, pk: UUID) -> Photo:
    return get_object_or_404(Photo.objects.visible_to(request.user), pk=pk)
