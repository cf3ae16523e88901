"""The quarter report: choose a quarter, read it, follow each figure to its jobs, lock it."""

from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from agency import workflows
from agency.errors import AgencyError
from agency.jobs.models import Job
from agency.reports.locking import not_approved_yet, report_for
from agency.reports.quarter import QuarterReport
from agency.reports.report_words import report_words
from agency.reports.tables import tables_of

from .access import DeskRequest, desk_only, managers_only
from .drawings import distribution_drawing, pairs_drawing
from .pages import page_of, render_page
from .quarters import Asked, QuarterForm, last_full_quarter
from .report_forms import FileForm, LockForm


@desk_only
def reports(request: DeskRequest) -> HttpResponse:
    """The report asked for in the address, else that of the last full calendar quarter."""
    form = quarter_form(request)
    if not form.is_valid():
        return render_page(request, "office/report.html", {"form": form}, section="reports")
    return _show(request, form)


@require_POST
@managers_only
def lock(request: DeskRequest) -> HttpResponse:
    """Freeze the report for good, once its name is typed."""
    asked = asked_of(request)
    form = LockForm(request.POST, code=asked.period.code, prefix="lock")
    if form.is_valid():
        try:
            workflows.lock_quarter(
                asked.period,
                asked.program,
                request.user,
                typed=form.cleaned_data["typed"],
                now=timezone.now(),
            )
        except AgencyError as refusal:
            form.add_error("typed", str(refusal))
        else:
            messages.success(
                request,
                f"{asked.period.code} is locked. Later changes will stand as corrections in the "
                "report of the quarter in which they are noted.",
            )
            return redirect(f"{reverse('office:reports')}?{query_of(asked)}")
    return _show(request, quarter_form(request), lock_form=form, status=422)


def _show(
    request: DeskRequest, form: QuarterForm, *, lock_form: LockForm | None = None, status: int = 200
) -> HttpResponse:
    if not form.is_valid():
        raise Http404("No such report; choose a quarter on the page of the reports.")
    asked = form.asked()
    report = report_of(asked)
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
        "query": query_of(asked),
        "tables": [(table.name, table.title) for table in tables_of(report)],
        "file_form": FileForm(),
        **_lock_context(request, asked, report, lock_form),
    }
    return render_page(request, "office/report.html", context, section="reports", status=status)


def _lock_context(
    request: DeskRequest, asked: Asked, report: QuarterReport, form: LockForm | None
) -> dict[str, Any]:
    """The form for those who may lock a quarter that has ended, and what is still open in it."""
    ended = asked.period.last < timezone.localdate()
    if report.lock is not None or not ended or not request.user.may_approve:
        return {"has_ended": ended}
    return {
        "has_ended": ended,
        "lock_form": form or LockForm(code=asked.period.code, prefix="lock"),
        "not_approved": not_approved_yet(asked.period, asked.program),
    }


@desk_only
def report_jobs(request: DeskRequest, key: str) -> HttpResponse:
    """The jobs behind one figure of a report."""
    asked = asked_of(request)
    line = report_words(report_of(asked)).lines.get(key)
    if line is None:
        raise Http404(f"The report of {asked.period.label} has no figure {key}.")
    jobs = Job.objects.visible_to(request.user).filter(pk__in=line.jobs)
    context = {
        "asked": asked,
        "line": line,
        "page": page_of(jobs.with_people().order_by("number"), request.GET.get("page")),
        "back_url": f"{reverse('office:reports')}?{query_of(asked)}",
    }
    return render_page(request, "office/report_jobs.html", context, section="reports")


def quarter_form(request: DeskRequest) -> QuarterForm:
    """The quarter and grant in the address; without any the last full calendar quarter."""
    today = timezone.localdate()
    asked = request.GET.copy()
    asked.setdefault("quarter", last_full_quarter(today))
    return QuarterForm(asked, today=today)


def asked_of(request: DeskRequest) -> Asked:
    """The report asked for; there is none for a quarter that is not on the list."""
    form = quarter_form(request)
    if not form.is_valid():
        raise Http404("No such report; choose a quarter on the page of the reports.")
    return form.asked()


def report_of(asked: Asked) -> QuarterReport:
    """As it was locked, else as things stand now."""
    return report_for(asked.period, asked.program, now=timezone.now())


def query_of(asked: Asked) -> str:
    """The report asked for, as it stands in an address."""
    query = {"quarter": asked.quarter}
    if asked.program is not None:
        query["program"] = str(asked.program.pk)
    return urlencode(query)
