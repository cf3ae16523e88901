"""One job: its stops, state, people, house, tests, result, papers and history on one page."""

from typing import Any
from uuid import UUID

from django.forms import BaseForm
from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.utils import timezone

from agency.diagnostics.models import Comparison
from agency.jobs.models import ENDED, Job

from .access import DeskRequest, desk_only
from .casework import casework
from .certificates import FORMS, paper_forms
from .drawings import Drawing, fit_drawing
from .evidence import evidence_for, missing_words
from .forms import NoBeforeTestForm, WithdrawForm, WorkStartedForm
from .history import history_of
from .inspection_form import InspectionForm
from .kinds import listed_kinds
from .measures_words import measures_words
from .pages import render_page
from .result_words import comparison_words, estimate_words, house_rows
from .stops import cards
from .visits import visit_rows


@desk_only
def job(request: DeskRequest, pk: UUID) -> HttpResponse:
    """The job and what may be done with it."""
    return show_job(request, find_job(request, pk))


def find_job(request: DeskRequest, pk: UUID) -> Job:
    """The job, if this person may see it."""
    jobs = Job.objects.visible_to(request.user).with_people().with_stops()
    return get_object_or_404(jobs, pk=pk)


def show_job(
    request: DeskRequest,
    job: Job,
    *,
    refused: dict[str, Any] | None = None,
    refused_way: dict[str, Any] | None = None,
    refused_stop: BaseForm | None = None,
    status: int = 200,
) -> HttpResponse:
    """The page; `refused`, `refused_way` and `refused_stop` came back with their errors."""
    runs = list(job.test_runs.with_result().order_by("taken_at", "received_at"))
    comparison = job.comparisons.select_related("before__test_run", "after__test_run").first()
    estimate = job.estimates.first()
    certificates = list(job.certificates.select_related("replaced_by"))
    pieces = evidence_for(
        job, runs=runs, comparison=comparison, estimate=estimate, certificates=certificates
    )
    context = {
        "job": job,
        "stops": cards(job, user=request.user, runs=runs, refused=refused_stop),
        "house": house_rows(job.house),
        "runs": runs,
        "kinds": listed_kinds(),
        "pieces": pieces,
        "missing": missing_words(pieces),
        "comparison": comparison_words(comparison),
        "charts": _fits(comparison),
        "estimate": estimate_words(estimate),
        "measures_words": measures_words(job.measures_estimates.first()),
        "certificates": certificates,
        "visits": visit_rows(job),
        "photos": job.photos.select_related("sent_by"),
        "history": history_of(job),
        "way": casework(job, request.user, refused_way or {}),
        "acts": _acts(request, job)
        | {name: form for name, form in (refused or {}).items() if name not in FORMS},
        "papers": paper_forms(request.user, job, certificates=certificates, refused=refused or {}),
        "refused": refused_stop
        or next(iter(((refused or {}) | (refused_way or {})).values()), None),
    }
    return render_page(request, "office/job.html", context, section="jobs", status=status)


def _fits(comparison: Comparison | None) -> list[Drawing]:
    """The fits of the two results that were compared."""
    if comparison is None:
        return []
    sides = ((comparison.before, "Before the work"), (comparison.after, "After the work"))
    drawn = [fit_drawing(result, f"{side}: flow against house pressure") for result, side in sides]
    return [drawing for drawing in drawn if drawing is not None]


def _acts(request: DeskRequest, job: Job) -> dict[str, Any]:
    """The steps this person may take now; a form where something must be said."""
    user, status = request.user, Job.Status(job.status)
    today, is_stopped = timezone.localdate(), bool(job.open_stops)
    acts: dict[str, Any] = {}
    if not is_stopped and user.may_review and status in {Job.Status.IN_PROGRESS, Job.Status.REWORK}:
        acts["finish"] = True
    if user.may_inspect and status in {
        Job.Status.TESTED_OUT,
        Job.Status.INSPECTION_SCHEDULED,
    }:
        acts["inspection"] = InspectionForm(today=today, initial={"on": today}, prefix="inspection")
    if not is_stopped and user.may_approve and status == Job.Status.INSPECTION_PASSED:
        acts["approve"] = True
    if user.may_review and status not in ENDED:
        acts["work_started"] = WorkStartedForm(
            initial={"on": job.work_started_on}, prefix="work_started"
        )
        acts["no_before_test"] = NoBeforeTestForm(
            initial={"reason": job.no_before_test_reason}, prefix="no_before_test"
        )
        acts["withdraw"] = WithdrawForm(job=job, prefix="withdraw")
    return acts
