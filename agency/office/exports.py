"""Files a worker writes: ask for one, see how far it is, fetch it in as many pieces as needed."""

import re
from collections.abc import Iterator
from typing import IO
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpResponse, HttpResponseBase, StreamingHttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from agency import workflows
from agency.reports.models import Export
from agency.reports.tables import TABLE_TITLES

from .access import DeskRequest, desk_only
from .pages import page_of, render_page
from .report_forms import ExportForm
from .reports import asked_of, query_of

PIECE = 1 << 16
"""Bytes read from a file at once. Own choice."""
RANGE = re.compile(r"bytes=(?P<first>\d*)-(?P<last>\d*)")
KINDS: dict[str, str] = {
    Export.Form.CSV: "text/csv; charset=utf-8",
    Export.Form.XLSX: "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
}


@desk_only
def exports(request: DeskRequest) -> HttpResponse:
    """What was asked for, newest first, and a form to ask for more."""
    return _show(request, ExportForm(tables=list(TABLE_TITLES.items())))


@require_POST
@desk_only
def ask(request: DeskRequest) -> HttpResponse:
    """Have a worker write a file."""
    asked = asked_of(request)
    form = ExportForm(request.POST, tables=list(TABLE_TITLES.items()))
    if not form.is_valid():
        return _show(request, form, status=422)
    workflows.ask_for_file(
        Export(
            asked_by=request.user,
            quarter=asked.period.code,
            program=asked.program,
            **form.asked,
        )
    )
    messages.success(request, "The file is being written. This page shows how far it is.")
    return redirect(f"{reverse('office:exports')}?{query_of(asked)}")


def _show(request: DeskRequest, form: ExportForm, *, status: int = 200) -> HttpResponse:
    asked, now = asked_of(request), timezone.now()
    found = Export.objects.visible_to(request.user).select_related("errand", "asked_by", "program")
    page = page_of(found, request.GET.get("page"))
    context = {
        "form": form,
        "asked": asked,
        "query": query_of(asked),
        "page": page,
        "ready": {one.pk for one in page if one.is_ready(now)},
        "is_writing": any(one.state in {"queued", "running"} for one in page),
    }
    return render_page(request, "office/exports.html", context, section="reports", status=status)


@desk_only
def export_file(request: DeskRequest, pk: UUID) -> HttpResponseBase:
    """The file, or the piece of it that is asked for."""
    export = get_object_or_404(Export.objects.visible_to(request.user), pk=pk)
    if not export.is_ready(timezone.now()):
        raise Http404(f"{export} is not there (any more). Ask for it again.")
    try:
        file = export.file.open("rb").file
    except FileNotFoundError:
        raise Http404(f"The file of {export} is not in the store. Ask for it again.") from None
    size, tag = export.file_size or 0, f'"{export.file_hash}"'
    piece = _piece(request, size, tag)
    if piece is None:
        file.close()
        return HttpResponse(status=416, headers={"Content-Range": f"bytes */{size}"})
    first, last = piece
    answer = StreamingHttpResponse(_read(file, first, last), content_type=KINDS[export.form])
    answer["Accept-Ranges"], answer["ETag"] = "bytes", tag
    answer["Content-Length"] = str(last - first + 1)
    answer["Content-Disposition"] = f'attachment; filename="{export.file_name}"'
    answer["X-Content-Type-Options"] = "nosniff"
    if _wants_piece(request, tag):
        answer.status_code = 206
        answer["Content-Range"] = f"bytes {first}-{last}/{size}"
    return answer


def _wants_piece(request: DeskRequest, tag: str) -> bool:
    """One range of this very file; several, or one of an older file, get the whole (RFC 9110)."""
    wanted = RANGE.fullmatch(request.headers.get("Range", ""))
    same = request.headers.get("If-Range", tag) == tag
    return bool(same and wanted and (wanted["first"] or wanted["last"]))


def _piece(request: DeskRequest, size: int, tag: str) -> tuple[int, int] | None:
    """First and last byte to send; None when the file has none of those asked for."""
    if not _wants_piece(request, tag):
        return 0, size - 1
    wanted = RANGE.fullmatch(request.headers["Range"])
    assert wanted is not None
    if not wanted["first"]:
        length = int(wanted["last"])
        return (max(0, size - length), size - 1) if length else None
    first = int(wanted["first"])
    last = min(int(wanted["last"] or size - 1), size - 1)
    return (first, last) if first <= last else None


def _read(file: IO[bytes], first: int, last: int) -> Iterator[bytes]:
    with file:
        file.seek(first)
        left = last - first + 1
        while left and (data := file.read(min(PIECE, left))):
            left -= len(data)
            yield data
