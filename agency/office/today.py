"""The first page of the day: what needs me."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import QuerySet
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone

from agency.accounts.models import Device
from agency.diagnostics.models import RefusedUpload, TestRun
from agency.jobs.models import Job, Visit
from agency.outbox.models import Errand

from . import waiting
from .access import DeskRequest
from .pages import render_page

FIRST_FEW = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """One thing that waits: where it opens, how it is called, what else to know, since when."""

    url: str
    name: str
    detail: str
    since: Any


@dataclass(frozen=True, slots=True, kw_only=True)
class Pile:
    """Things of one kind that wait: their number, the page with all of them, the first few."""

    key: str
    title: str
    nothing: str
    url: str
    count: int
    items: Sequence[Item]

    @property
    def is_longer(self) -> bool:
        """More wait than are shown."""
        return self.count > len(self.items)


def today(request: DeskRequest) -> HttpResponse:
    """Piles that wait for someone; a crew is shown its own day instead."""
    if not request.user.works_at_desk:
        return redirect("field:today")
    now = timezone.now()
    piles = [*_test_run_piles(), *_job_piles(timezone.localdate()), *_machine_piles(now)]
    context = {
        "needing": [pile for pile in piles if pile.count],
        "clear": [pile for pile in piles if not pile.count],
        "day": timezone.localdate(),
        "now": now,
    }
    return render_page(request, "office/today.html", context, section="today")


def _pile(
    key: str, title: str, nothing: str, url: str, rows: "QuerySet[Any]", items: Iterable[Item]
) -> Pile:
    shown = list(items)
    # The count is asked only where the first few do not answer it.
    count = rows.count() if len(shown) == FIRST_FEW else len(shown)
    return Pile(key=key, title=title, nothing=nothing, url=url, count=count, items=shown)


def _test_run_piles() -> Iterable[Pile]:
    lists = reverse("office:test_runs")
    to_review = TestRun.objects.to_review().order_by("received_at", "id")
    yield _pile(
        "to_review",
        "Test runs to review",
        "No test run waits for a review",
        reverse("office:review"),
        to_review,
        [
            _run_item(run, reverse("office:review_run", args=[run.pk]), run.received_at)
            for run in to_review.select_related("job__house")[:FIRST_FEW]
        ],
    )
    weak = waiting.unreportable_runs().order_by("received_at", "id")
    yield _pile(
        "unreportable",
        "Results that cannot be reported",
        "No result is rejected or provisional",
        f"{lists}?show=unreportable",
        weak,
        [
            _run_item(run, reverse("office:test_run", args=[run.pk]), run.received_at)
            for run in weak.select_related("job__house")[:FIRST_FEW]
        ],
    )
    returned = waiting.returned_runs().order_by("reviewed_at", "id")
    yield _pile(
        "returned",
        "Returned and not yet replaced",
        "Every returned test run is replaced",
        f"{lists}?show=returned",
        returned,
        [
            _run_item(run, reverse("office:test_run", args=[run.pk]), run.reviewed_at)
            for run in returned.select_related("job__house")[:FIRST_FEW]
        ],
    )


def _run_item(run: TestRun, url: str, since: datetime | None) -> Item:
    detail = f"{run.get_phase_display()}, {run.job.house.one_line}"
    return Item(url=url, name=str(run.job), detail=detail, since=since)


def _job_piles(day: Any) -> Iterable[Pile]:
    lists = reverse("office:jobs")
    for key, title, nothing, rows, status in (
        (
            "to_inspect",
            "Jobs waiting for inspection",
            "No job waits for an inspection",
            Job.objects.awaiting_inspection(),
            Job.Status.TESTED_OUT,
        ),
        (
            "to_approve",
            "Jobs ready to approve",
            "No job waits for an approval",
            Job.objects.ready_to_approve(),
            Job.Status.INSPECTION_PASSED,
        ),
    ):
        oldest = rows.order_by("opened_on", "number").select_related("house", "crew")
        yield _pile(
            key,
            title,
            nothing,
            f"{lists}?status={status}&sort=oldest",
            rows,
            [
                Item(
                    url=reverse("office:job", args=[job.pk]),
                    name=str(job),
                    detail=f"{job.house.one_line}, {job.crew}",
                    since=job.opened_on,
                )
                for job in oldest[:FIRST_FEW]
            ],
        )
    late = Visit.objects.overdue(day).select_related("job__house", "crew")
    yield _pile(
        "late",
        "Late visits",
        "No visit is late",
        reverse("office:late_visits"),
        late,
        [
            Item(
                url=reverse("office:job", args=[visit.job_id]) + "#visits",
                name=f"{visit.get_kind_display()}, {visit.job}",
                detail=f"{visit.job.house.one_line}, {visit.crew or 'no crew named'}",
                since=visit.planned_on,
            )
            for visit in late[:FIRST_FEW]
        ],
    )


def _machine_piles(now: datetime) -> Iterable[Pile]:
    refused = RefusedUpload.objects.filter(received_at__gte=now - waiting.BATCH)
    yield _pile(
        "refused",
        "Refused uploads of the last 7 days",
        "No upload was refused in the last 7 days",
        reverse("office:refused_uploads"),
        refused,
        [
            Item(
                url=reverse("office:refused_upload", args=[upload.pk]),
                name=upload.device.label,
                detail=f"Carried by {upload.device.user}",
                since=upload.received_at,
            )
            for upload in refused.select_related("device__user")[:FIRST_FEW]
        ],
    )
    stuck = waiting.stuck_errands(now).order_by("created_at", "id")
    yield _pile(
        "stuck",
        "Work the computer could not finish",
        "No work is failed or stuck",
        reverse("office:system"),
        stuck,
        [_errand_item(errand) for errand in stuck[:FIRST_FEW]],
    )
    quiet = waiting.quiet_phones(now).order_by("token__expiry")
    yield _pile(
        "quiet",
        "Phones not heard from for 3 days",
        "Every paired phone has called within 3 days",
        reverse("office:devices"),
        quiet,
        [_phone_item(device) for device in quiet[:FIRST_FEW]],
    )


def _errand_item(errand: Errand) -> Item:
    return Item(
        url=f"{reverse('office:system')}#errand-{errand.pk}",
        name=waiting_work(errand),
        detail=errand.problem or "Promised, and not done yet",
        since=errand.created_at,
    )


def _phone_item(device: Device) -> Item:
    return Item(
        url=f"{reverse('office:devices')}#phone-{device.pk}",
        name=device.label,
        detail=f"Carried by {device.user}",
        since=waiting.last_heard(device),
    )


def waiting_work(errand: Errand) -> str:
    """What a worker was asked to do, in words."""
    name = errand.task.rsplit(".", 1)[-1].replace("_", " ")
    return name[:1].upper() + name[1:]
