"""A test run on paper for the file: readings, result, checks, instruments, and who decided what."""

from io import BytesIO
from uuid import UUID

from django.conf import settings
from django.contrib import messages
from django.http import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect
from django.template.loader import render_to_string
from django.utils import timezone

from agency.diagnostics.doubting import doubted_uses_of
from agency.diagnostics.models import TestRun
from agency.diagnostics.photos import Photo
from agency.errors import AgencyError
from agency.papers.assets import REPORT_STYLE
from agency.papers.printing import printed
from agency.programs.models import Agency

from .access import DeskRequest, desk_only
from .files import to_save
from .history import history_of_run
from .judging import case_of
from .run_record import instruments_of, overrides_of


@desk_only
def test_report(request: DeskRequest, pk: UUID) -> HttpResponseBase:
    """The report of one test run as PDF, reviewed or not."""
    runs = TestRun.objects.visible_to(request.user).with_result()
    run = get_object_or_404(runs.select_related("visit", "job__house"), pk=pk)
    try:
        paper = printed(test_report_html(run))
    except AgencyError as refusal:
        messages.error(request, str(refusal))
        return redirect("office:test_run", run.pk)
    name = f"{run.job.number}-{run.kind}-{run.phase}-{str(run.pk)[:8]}.pdf".replace("_", "-")
    return to_save(BytesIO(paper), name=name, content_type="application/pdf")


def test_report_html(run: TestRun) -> str:
    """The page to be printed; no name of the household is on it."""
    doubted = doubted_uses_of(run, on=timezone.localdate())
    context = {
        "style": REPORT_STYLE,
        "paper": settings.PAPER_SIZE,
        "agency": Agency.objects.first(),
        "run": run,
        "job": run.job,
        "case": case_of(run),
        "instruments": instruments_of(run, doubted),
        "overrides": overrides_of(run, doubted),
        "earlier": list(run.results.all())[1:],
        "photos": Photo.objects.filter(job=run.job, test_key=run.client_key),
        "history": history_of_run(run),
        "printed_at": timezone.now(),
    }
    return render_to_string("papers/test_report.html", context)
