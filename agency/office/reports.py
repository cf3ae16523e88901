"""The quarter report: choose a quarter, read it, follow each figure to its jobs, download it."""

from urllib.parse import urlencode

from django.http import Http404, HttpResponse
from django.urls import reverse
from django.utils import timezone

from agency.errors import ActionRefused
from agency.jobs.models import Job
from agency.reports.exports import csv_bytes, csv_bytes_with_mark, xlsx_bytes
from agency.reports.quarter import QuarterReport, quarter_report
from agency.reports.tables import tables_of

from .access import DeskRequest, desk_only
from .drawings import distribution_drawing, pairs_drawing
from .pages import page_of, render_page
from .quarters import Asked, QuarterForm, last_full_quarter
from .report_words import report_words

XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


@desk_only
def reports(request: DeskRequest) -> HttpResponse:
    """The report asked for in the address, else that of the last full calendar quarter."""
    form = _form(request)
    if not form.is_valid():
        return render_page(request, "office/report.html", {"form": form}, section="reports")
    asked = form.asked()
    report = _report(asked)
    shown = report_words(report)
    page = page_of(shown.homes, request.GET.get("page"))
    listed = {home.job for home in page}
    context = {
        "form": form,
        "asked": asked,
        "report": report,
        "words": shown,
        "page": page,
        "pairs": pairs_drawing([row for row in report.rows if row.job_id in listed]),
        "drawing": distribution_drawing(report.bins),
        "query": _query(asked),
        "tables": [(table.name, table.title) for table in tables_of(report)],
    }
    return render_page(request, "office/report.html", context, section="reports")


@desk_only
def report_jobs(request: DeskRequest, key: str) -> HttpResponse:
    """The jobs behind one figure of a report."""
    asked = _asked(request)
    line = report_words(_report(asked)).lines.get(key)
    if line is None:
        raise Http404(f"The report of {asked.period.label} has no figure {key}.")
    jobs = Job.objects.visible_to(request.user).filter(pk__in=line.jobs)
    context = {
        "asked": asked,
        "line": line,
        "page": page_of(jobs.with_people().order_by("number"), request.GET.get("page")),
        "back_url": f"{reverse('office:reports')}?{_query(asked)}",
    }
    return render_page(request, "office/report_jobs.html", context, section="reports")


@desk_only
def report_csv(request: DeskRequest) -> HttpResponse:
    """One table of the report as CSV."""
    asked = _asked(request)
    name = request.GET.get("table", "homes")
    write = csv_bytes_with_mark if request.GET.get("mark") else csv_bytes
    try:
        data = write(_report(asked), name)
    except ActionRefused as refusal:
        raise Http404(str(refusal)) from None
    return _file(data, "text/csv; charset=utf-8", f"{asked.period.code}-{name}.csv")


@desk_only
def report_xlsx(request: DeskRequest) -> HttpResponse:
    """Every table of the report as one workbook."""
    asked = _asked(request)
    return _file(xlsx_bytes(_report(asked)), XLSX, f"{asked.period.code}.xlsx")


def _form(request: DeskRequest) -> QuarterForm:
    today = timezone.localdate()
    asked = request.GET.copy()
    asked.setdefault("quarter", last_full_quarter(today))
    return QuarterForm(asked, today=today)


def _asked(request: DeskRequest) -> Asked:
    form = _form(request)
    if not form.is_valid():
        raise Http404("No such report; choose a quarter on the page of the reports.")
    return form.asked()


def _report(asked: Asked) -> QuarterReport:
    return quarter_report(asked.period, program=asked.program, now=timezone.now())


def _query(asked: Asked) -> str:
    """The report asked for, as it stands in an address."""
    query = {"quarter": asked.quarter}
    if asked.program is not None:
        query["program"] = str(asked.program.pk)
    return urlencode(query)


def _file(data: bytes, kind: str, name: str) -> HttpResponse:
    """A file to be saved; the name is made of a period's code and a table's name only."""
    headers = {
        "Content-Disposition": f'attachment; filename="{name}"',
        "X-Content-Type-Options": "nosniff",
    }
    return HttpResponse(data, content_type=kind, headers=headers)
