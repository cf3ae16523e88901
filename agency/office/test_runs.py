"""Test runs: lists of them by what they need, and one run at its permanent address."""

import json
from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone

from agency.diagnostics.doubting import doubted_uses_of
from agency.diagnostics.models import TestRun
from agency.wording import words

from .access import DeskRequest, desk_only
from .judging import case_of
from .pages import page_of, render_page

LISTS = {
    "to_review": ("To review", TestRun.objects.to_review, "No test run waits for a review."),
    "unreportable": (
        "Cannot be reported",
        TestRun.objects.unreportable,
        "No result is rejected, provisional or without figures.",
    ),
    "returned": (
        "Returned, not replaced",
        TestRun.objects.returned,
        "Every returned test run has been replaced by a later one.",
    ),
    "all": ("All", TestRun.objects.all, "No phone has sent a test run yet."),
}


@desk_only
def test_runs(request: DeskRequest) -> HttpResponse:
    """One of the lists, oldest first."""
    shown = request.GET.get("show", "all")
    shown = shown if shown in LISTS else "all"
    title, rows, nothing = LISTS[shown]
    found = rows().visible_to(request.user).with_result().order_by("received_at", "id")
    page = page_of(found, request.GET.get("page"))
    here = reverse("office:test_runs")
    tabs = [
        {"url": f"{here}?show={key}", "word": word, "current": key == shown}
        for key, (word, _, _) in LISTS.items()
    ]
    context = {
        "page": page,
        "title": title,
        "nothing": nothing,
        "tabs": tabs,
        "found": words.count(page.paginator.count, "test run"),
    }
    return render_page(request, "office/test_runs.html", context, section="review")


@desk_only
def test_run(request: DeskRequest, pk: UUID) -> HttpResponse:
    """One run with all its result rests on, whether reviewed or not."""
    runs = TestRun.objects.visible_to(request.user).with_result()
    run = get_object_or_404(runs.select_related("visit"), pk=pk)
    context = {
        "case": case_of(run),
        "run": run,
        "job": run.job,
        "doubted": doubted_uses_of(run, on=timezone.localdate()),
        "document": json.dumps(json.loads(run.document), indent=2, ensure_ascii=False),
        "earlier": list(run.results.all())[1:],
        "may_undo": run.review != TestRun.Review.TO_REVIEW and request.user.may_review,
    }
    return render_page(request, "office/test_run.html", context, section="review")
