"""Files of a quarter's report that are made while one waits: CSV, XLSX, PDF, the board's packet."""

from collections.abc import Callable

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone

from agency.errors import ActionRefused
from agency.jobs.models import Job
from agency.reports.disclosure import Telling
from agency.reports.export_files import telling_for
from agency.reports.exports import csv_bytes, csv_bytes_with_mark, xlsx_bytes
from agency.reports.quarter import QuarterReport
from agency.reports.report_paper import board_pdf, report_pdf

from .access import DeskRequest, desk_only, managers_only
from .quarters import Asked
from .report_forms import FileForm
from .reports import asked_of, query_of, report_of

XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
MOST_AT_ONCE = 3_000
"""Homes a person waits for; more are written by a worker. Own choice: about five seconds."""


@desk_only
def report_csv(request: DeskRequest) -> HttpResponse:
    """One table of the report as CSV."""
    asked, form = asked_of(request), _file_form(request)
    if _is_long(asked):
        return _sent_to_worker(request, asked)
    name = request.GET.get("table", "homes")
    write = csv_bytes_with_mark if form.cleaned_data["mark"] else csv_bytes
    report = report_of(asked)
    try:
        data = write(report, name, _telling(report, form))
    except ActionRefused as refusal:
        raise Http404(str(refusal)) from None
    return _file(data, "text/csv; charset=utf-8", f"{asked.period.code}-{name}.csv")


@desk_only
def report_xlsx(request: DeskRequest) -> HttpResponse:
    """Every table of the report as one workbook."""
    asked, form = asked_of(request), _file_form(request)
    if _is_long(asked):
        return _sent_to_worker(request, asked)
    report = report_of(asked)
    return _file(xlsx_bytes(report, _telling(report, form)), XLSX, f"{asked.period.code}.xlsx")


@desk_only
def report_pdf_file(request: DeskRequest) -> HttpResponse:
    """The report on paper."""
    return _paper(request, report_pdf, "report")


@managers_only
def board_pdf_file(request: DeskRequest) -> HttpResponse:
    """The packet for a board."""
    return _paper(request, board_pdf, "board")


def _paper(request: DeskRequest, make: Callable[..., bytes], name: str) -> HttpResponse:
    asked, form = asked_of(request), _file_form(request)
    report = report_of(asked)
    data = make(report, _telling(report, form), paper=form.cleaned_data["paper"])
    return _file(data, "application/pdf", f"{asked.period.code}-{name}.pdf")


def _file_form(request: DeskRequest) -> FileForm:
    form = FileForm(request.GET)
    if not form.is_valid():
        raise Http404(" ".join(str(one) for errors in form.errors.values() for one in errors))
    return form


def _telling(report: QuarterReport, form: FileForm) -> Telling:
    said = form.cleaned_data
    return telling_for(report, names=said["names"], withhold=said["withhold"], now=timezone.now())


def _is_long(asked: Asked) -> bool:
    counted = Job.objects.counted_between(asked.period.first, asked.period.last)
    if asked.program is not None:
        counted = counted.filter(program=asked.program)
    return counted.count() > MOST_AT_ONCE


def _sent_to_worker(request: DeskRequest, asked: Asked) -> HttpResponse:
    messages.info(
        request,
        f"This quarter has more than {MOST_AT_ONCE:,} homes. Ask for the file below; it is "
        "written while you do something else.",
    )
    return redirect(f"{reverse('office:exports')}?{query_of(asked)}")


def _file(data: bytes, kind: str, name: str) -> HttpResponse:
    """A file to be saved; the name is made of a period's code and a table's name only."""
    headers = {
        "Content-Disposition": f'attachment; filename="{name}"',
        "X-Content-Type-Options": "nosniff",
    }
    return HttpResponse(data, content_type=kind, headers=headers)
