"""A stored file handed out by itself: nothing in it may run, and no browser guesses its kind."""

from typing import IO

from django.db.models.fields.files import FieldFile
from django.http import FileResponse, Http404


def opened(file: FieldFile) -> IO[bytes]:
    """The file's bytes; not found where the store has lost them."""
    try:
        body: IO[bytes] = file.open("rb")
    except (FileNotFoundError, ValueError):
        raise Http404(f"{file} is not in the store.") from None
    return body


def to_save(body: IO[bytes], *, name: str, content_type: str) -> FileResponse:
    """For the person's own folder, never inside our pages."""
    return _sealed(FileResponse(body, as_attachment=True, filename=name, content_type=content_type))


def to_show(body: IO[bytes], *, name: str, content_type: str) -> FileResponse:
    """For a page of its own, or as a picture inside one of ours."""
    return _sealed(FileResponse(body, filename=name, content_type=content_type))


def _sealed(response: FileResponse) -> FileResponse:
    response["X-Content-Type-Options"] = "nosniff"
    response["Content-Security-Policy"] = "default-src 'none'; sandbox"
    return response
