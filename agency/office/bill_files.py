"""One bill file: what it holds, what is wrong with it, taking its bills in and out again."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.utils.text import slugify
from django.views.decorators.http import require_POST

from agency import bill_workflows
from agency.errors import AgencyError
from agency.estimates.bill_importing import look_through
from agency.estimates.bill_sentences import UNIT_WORDS
from agency.estimates.billing import BillFile
from agency.estimates.bridge.units import shown_unit
from agency.reports.exports import csv_of
from agency.reports.table import Column, Kind, Table
from agency.wording import words
from agency.wording.templatetags.wording import day, moment

from .access import DeskRequest, desk_only, reviewers_only
from .bill_forms import UndoForm
from .files import opened, to_save
from .pages import page_of, render_page

TYPES = {BillFile.Kind.CSV: "text/csv", BillFile.Kind.ESPI: "application/xml"}


@desk_only
def bill_file(request: DeskRequest, pk: UUID) -> HttpResponse:
    """What the file holds; nothing is stored by looking."""
    return _show(request, _found(pk), UndoForm(prefix="undo"))


@desk_only
def bill_file_errors(request: DeskRequest, pk: UUID) -> HttpResponse:
    """Every row that stands in the way, as a file."""
    kept = _found(pk)
    errors = look_through(kept).errors
    columns = (Column(name="place", kind=Kind.TEXT), Column(name="error", kind=Kind.TEXT))
    table = Table(
        name="errors",
        title="Errors",
        columns=columns,
        rows=tuple((one.place, one.message) for one in errors),
    )
    head = (("file", kept.name), ("sha256", kept.sha256), ("errors", len(errors)))
    return HttpResponse(
        csv_of(table, head),
        content_type="text/csv; charset=utf-8",
        headers={
            "Content-Disposition": f'attachment; filename="errors-{kept.sha256[:8]}.csv"',
            "X-Content-Type-Options": "nosniff",
        },
    )


@desk_only
def bill_file_as_sent(request: DeskRequest, pk: UUID) -> HttpResponseBase:
    """The file as it came."""
    kept = _found(pk)
    stem = slugify(kept.name.rpartition(".")[0]) or "bills"
    ending = "xml" if kept.kind == BillFile.Kind.ESPI else "csv"
    return to_save(
        opened(kept.file), name=f"{stem}.{ending}", content_type=TYPES[BillFile.Kind(kept.kind)]
    )


@require_POST
@reviewers_only
def import_bill_file(request: DeskRequest, pk: UUID) -> HttpResponse:
    """Store every bill of the file."""
    kept = _found(pk)
    try:
        bill_workflows.import_bills(pk, request.user, now=timezone.now())
    except AgencyError as refusal:
        messages.error(request, str(refusal))
    else:
        bills = words.count(kept.bills.count(), "bill")
        messages.success(request, f"{bills} of {kept.name} are stored; the import can be undone.")
    return redirect("office:bill_file", pk)


@require_POST
@reviewers_only
def undo_bill_file(request: DeskRequest, pk: UUID) -> HttpResponse:
    """Take every bill of the file out again."""
    kept = _found(pk)
    form = UndoForm(request.POST, prefix="undo")
    if form.is_valid():
        try:
            bill_workflows.undo_bills(
                pk, request.user, form.cleaned_data["reason"], now=timezone.now()
            )
        except AgencyError as refusal:
            form.add_error(None, str(refusal))
        else:
            messages.success(request, f"The import of {kept.name} is undone; the file stays.")
            return redirect("office:bill_file", pk)
    return _show(request, kept, form, status=422)


def _found(pk: UUID) -> BillFile:
    files = BillFile.objects.select_related("account__house", "sent_by", "imported_by", "undone_by")
    return get_object_or_404(files, pk=pk)


def _show(
    request: DeskRequest, kept: BillFile, form: UndoForm, *, status: int = 200
) -> HttpResponse:
    preview = look_through(kept)
    unit, joules = shown_unit(kept.account.fuel)
    rows = [
        (
            one.place,
            day(one.start),
            day(one.end),
            words.quantity(one.energy / joules, UNIT_WORDS[unit], 1),
            "estimated" if one.estimated else "read",
        )
        for one in preview.bills
    ]
    context = {
        "kept": kept,
        "jobs": kept.account.house.jobs.visible_to(request.user),
        "about": _about(kept),
        "preview": preview,
        "page": page_of(rows, request.GET.get("page")),
        "may_change": request.user.may_review,
        "form": form,
        "refused": form if form.errors else None,
    }
    return render_page(request, "office/bill_file.html", context, section="jobs", status=status)


def _about(kept: BillFile) -> list[tuple[str, str]]:
    told = kept.reading
    rows = [
        ("Account", f"{kept.account}, {kept.account.house.one_line}"),
        ("Kind", str(kept.get_kind_display())),
        ("Sent", f"{moment(kept.sent_at)}, by {kept.sent_by}"),
        ("Size", f"{words.number(kept.size)} bytes"),
        ("SHA-256", kept.sha256),
    ]
    if kept.kind == BillFile.Kind.CSV:
        named = ", ".join(f"{name}: {told[name] or 'none'}" for name in
                          ("start", "end", "energy", "estimated"))  # fmt: skip
        rows += [("Columns", named), ("Energy in", told["unit"])]
    else:
        rows += [("One bill is", told["grouping"]), ("Local days of", told["zone"])]
    if told["btu_per_cubic_foot"] is not None:
        rows.append(("Heat content", f"{told['btu_per_cubic_foot']:g} Btu per cubic foot"))
    if kept.imported_at:
        rows.append(("Imported", f"{moment(kept.imported_at)}, by {kept.imported_by}"))
    if kept.undone_at:
        rows.append(
            ("Undone", f"{moment(kept.undone_at)}, by {kept.undone_by}: {kept.undone_reason}")
        )
    return rows
