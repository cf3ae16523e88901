"""Things of one kind that wait for someone: how many, and the first few, each a click away."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import QuerySet
from django.urls import reverse

from agency.accounts.models import Device
from agency.diagnostics.models import RefusedUpload, TestRun
from agency.intake.models import Application
from agency.jobs.models import Deferral, Finding, Job, SafetyStop, Visit
from agency.outbox.models import Errand

from .applications import renewal_day

FIRST_FEW = 5

RECENT = timedelta(days=7)
"""Refused uploads stay on the today page for this long. Own choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """One thing that waits: where it opens, how it is called, what else to know, since when."""

    url: str
    name: str
    detail: str
    since: date | datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Pile:
    """Things of one kind that wait: their number, the page with all of them, the first few."""

    key: str
    title: str
    nothing: str
    """What is said when the pile is empty."""
    url: str
    count: int
    items: Sequence[Item]

    @property
    def is_longer(self) -> bool:
        """More wait than are shown."""
        return self.count > len(self.items)


def piles(*, day: date, now: datetime) -> Iterator[Pile]:
    """Every pile of a desk's day, in the order in which it is worked off."""
    yield _safety_stops()
    yield from _test_runs()
    yield from _applications(day)
    yield from _jobs()
    yield _pile(
        "late",
        "Late visits",
        "No visit is late",
        url=reverse("office:late_visits"),
        rows=Visit.objects.overdue(day)
        .select_related("job__house", "crew")
        .order_by("planned_on", "id"),
        item=_visit,
    )
    yield from _follow_ups(day)
    yield from _machines(now)


def _pile(
    key: str,
    title: str,
    nothing: str,
    *,
    url: str,
    rows: "QuerySet[Any]",
    item: Callable[[Any], Item],
) -> Pile:
    shown = [item(row) for row in rows[:FIRST_FEW]]
    # The count is asked only where the first few do not answer it.
    count = rows.count() if len(shown) == FIRST_FEW else len(shown)
    return Pile(key=key, title=title, nothing=nothing, url=url, count=count, items=shown)


def _safety_stops() -> Pile:
    return _pile(
        "safety_stops",
        "Safety stops open",
        "No safety stop is open",
        url=reverse("office:safety_stops"),
        rows=SafetyStop.objects.open().with_people().order_by("raised_at", "id"),
        item=_stop,
    )


def _test_runs() -> Iterator[Pile]:
    lists = reverse("office:test_runs")
    yield _pile(
        "to_review",
        "Test runs to review",
        "No test run waits for a review",
        url=reverse("office:review"),
        rows=TestRun.objects.to_review().select_related("job__house").order_by("received_at", "id"),
        item=lambda run: _run(run, "office:review_run", run.received_at),
    )
    yield _pile(
        "unreportable",
        "Results that cannot be reported",
        "No result is rejected or provisional",
        url=f"{lists}?show=unreportable",
        rows=TestRun.objects.unreportable()
        .select_related("job__house")
        .order_by("received_at", "id"),
        item=lambda run: _run(run, "office:test_run", run.received_at),
    )
    yield _pile(
        "returned",
        "Returned and not yet replaced",
        "Every returned test run is replaced",
        url=f"{lists}?show=returned",
        rows=TestRun.objects.returned().select_related("job__house").order_by("reviewed_at", "id"),
        item=lambda run: _run(run, "office:test_run", run.reviewed_at),
    )


def _applications(day: date) -> Iterator[Pile]:
    lists, known = reverse("office:applications"), Application.objects.select_related
    yield _pile(
        "to_decide",
        "Applications to decide",
        "No application waits for a decision",
        url=f"{lists}?show=undecided&sort=oldest",
        rows=known("client", "house").undecided().order_by("received_on", "number"),
        item=_application,
    )
    yield _pile(
        "to_renew",
        "Waiting, and the determination ends soon",
        "No determination on the waiting list ends soon",
        url=f"{lists}?show=renew&sort=oldest",
        rows=known("client", "house").to_renew(renewal_day(day)).order_by("received_on", "number"),
        item=_application,
    )


def _application(application: Application) -> Item:
    return Item(
        url=reverse("office:application", args=[application.pk]),
        name=str(application),
        detail=f"{application.client}, {application.house.one_line}",
        since=application.received_on,
    )


def _jobs() -> Iterator[Pile]:
    lists = reverse("office:jobs")
    yield _pile(
        "to_inspect",
        "Jobs waiting for inspection",
        "No job waits for an inspection",
        url=f"{lists}?status={Job.Status.TESTED_OUT}&sort=oldest",
        rows=Job.objects.awaiting_inspection().with_people().order_by("opened_on", "number"),
        item=_job,
    )
    yield _pile(
        "to_approve",
        "Jobs ready to approve",
        "No job waits for an approval",
        url=f"{lists}?status={Job.Status.INSPECTION_PASSED}&sort=oldest",
        rows=Job.objects.ready_to_approve().with_people().order_by("opened_on", "number"),
        item=_job,
    )


def _follow_ups(day: date) -> Iterator[Pile]:
    lists = reverse("office:deferrals")
    deferrals = Deferral.objects.with_records()
    yield _pile(
        "deferrals_to_decide",
        "Deferrals to decide",
        "No deferral waits for a manager",
        url=f"{lists}?show=proposed",
        rows=deferrals.proposed().order_by("proposed_at", "id"),
        item=lambda one: _deferral(one, one.proposed_at),
    )
    yield _pile(
        "deferrals_due",
        "Deferrals to look at again",
        "No deferral is due to be looked at again",
        url=f"{lists}?show=due",
        rows=deferrals.due(day).order_by("review_on", "id"),
        item=lambda one: _deferral(one, one.review_on),
    )
    yield _pile(
        "findings",
        "Findings to be put right",
        "Every finding of an inspection is closed",
        url=reverse("office:findings"),
        rows=Finding.objects.open().with_records().order_by("found_at", "id"),
        item=_finding,
    )


def _machines(now: datetime) -> Iterator[Pile]:
    yield _pile(
        "refused",
        "Refused uploads of the last 7 days",
        "No upload was refused in the last 7 days",
        url=reverse("office:refused_uploads"),
        rows=RefusedUpload.objects.filter(received_at__gte=now - RECENT)
        .select_related("device__user")
        .defer("document"),
        item=_upload,
    )
    yield _pile(
        "stuck",
        "Work the computer could not finish",
        "No work is failed or stuck",
        url=reverse("office:system"),
        rows=Errand.objects.needing_a_person(now).order_by("created_at", "id"),
        item=_errand,
    )
    yield _pile(
        "quiet",
        "Phones not heard from for 3 days",
        "Every paired phone has called within 3 days",
        url=reverse("office:devices"),
        rows=Device.objects.quiet(now).order_by("token__expiry"),
        item=_phone,
    )


def _stop(stop: SafetyStop) -> Item:
    read = f"acknowledged by {stop.acknowledged_name}" if stop.is_acknowledged else "not read yet"
    return Item(
        url=reverse("office:job", args=[stop.job_id]),
        name=str(stop.job),
        detail=f"{stop.words} {stop.job.house.one_line}, {stop.job.crew}; {read}",
        since=stop.raised_at,
    )


def _run(run: TestRun, page: str, since: datetime | None) -> Item:
    return Item(
        url=reverse(page, args=[run.pk]),
        name=str(run.job),
        detail=f"{run.get_phase_display()}, {run.job.house.one_line}",
        since=since,
    )


def _job(job: Job) -> Item:
    return Item(
        url=reverse("office:job", args=[job.pk]),
        name=str(job),
        detail=f"{job.house.one_line}, {job.crew}",
        since=job.opened_on,
    )


def _visit(visit: Visit) -> Item:
    return Item(
        url=reverse("office:job", args=[visit.job_id]) + "#visits",
        name=f"{visit.get_kind_display()}, {visit.job}",
        detail=f"{visit.job.house.one_line}, {visit.crew or 'no crew named'}",
        since=visit.planned_on,
    )


def _deferral(deferral: Deferral, since: date | datetime) -> Item:
    return Item(
        url=reverse("office:job", args=[deferral.job_id]) + f"#deferral-{deferral.pk}",
        name=str(deferral.job),
        detail=f"{deferral.reason_words}; {deferral.job.house.one_line}",
        since=since,
    )


def _finding(finding: Finding) -> Item:
    return Item(
        url=reverse("office:job", args=[finding.job_id]) + "#findings",
        name=str(finding.job),
        detail=f"{finding.words} {finding.job.house.one_line}, {finding.job.crew}",
        since=finding.found_at,
    )


def _upload(upload: RefusedUpload) -> Item:
    return Item(
        url=reverse("office:refused_upload", args=[upload.pk]),
        name=upload.device.label,
        detail=f"Carried by {upload.device.user}",
        since=upload.received_at,
    )


def _errand(errand: Errand) -> Item:
    return Item(
        url=f"{reverse('office:system')}#errand-{errand.pk}",
        name=errand.work,
        detail=errand.problem or "Promised, and not done yet",
        since=errand.created_at,
    )


def _phone(device: Device) -> Item:
    return Item(
        url=f"{reverse('office:devices')}#phone-{device.pk}",
        name=device.label,
        detail=f"Carried by {device.user}",
        since=device.last_heard,
    )
