"""Lists that someone follows up: deferrals by their review day, open findings, credentials."""

from django.http import HttpResponse
from django.urls import reverse
from django.utils import timezone

from agency.jobs.models import Deferral, Finding
from agency.people.models import Credential

from .access import DeskRequest, desk_only
from .pages import page_of, render_page

DEFERRALS = {
    "due": ("To look at again", "No deferral is due to be looked at again."),
    "proposed": ("Proposed", "No deferral waits for a manager."),
    "in_force": ("In force", "No job is deferred."),
}
FINDINGS = {
    "open": ("Open", "Every finding is closed."),
    "closed": ("Closed", "No finding has been closed yet."),
}


@desk_only
def deferrals(request: DeskRequest) -> HttpResponse:
    """Deferrals that are due, proposed or in force."""
    shown = _shown(request, DEFERRALS)
    day = timezone.localdate()
    rows = Deferral.objects.with_records()
    found = {"due": rows.due(day), "proposed": rows.proposed(), "in_force": rows.in_force()}[shown]
    page = page_of(found.order_by("review_on", "id"), request.GET.get("page"))
    context = _context("office:deferrals", DEFERRALS, shown) | {"page": page, "day": day}
    return render_page(request, "office/deferrals.html", context, section="deferrals")


@desk_only
def findings(request: DeskRequest) -> HttpResponse:
    """Findings of final inspections, open ones the oldest first."""
    shown = _shown(request, FINDINGS)
    rows = Finding.objects.with_records()
    found = rows.open() if shown == "open" else rows.exclude(closed_at=None)
    order = "found_at" if shown == "open" else "-closed_at"
    page = page_of(found.order_by(order, "id"), request.GET.get("page"))
    context = _context("office:findings", FINDINGS, shown) | {"page": page}
    return render_page(request, "office/findings.html", context, section="today")


@desk_only
def credentials(request: DeskRequest) -> HttpResponse:
    """Who is certified for what, and until when; the next to expire first."""
    day = timezone.localdate()
    rows = Credential.objects.select_related("member__crew", "user").order_by("expires_on", "id")
    page = page_of(rows, request.GET.get("page"))
    for one in page:
        one.state = "current" if one.is_valid_on(day) else "expired"
    context = {"page": page, "day": day}
    return render_page(request, "office/credentials.html", context, section="schedule")


def _shown(request: DeskRequest, lists: dict[str, tuple[str, str]]) -> str:
    shown = request.GET.get("show", "")
    return shown if shown in lists else next(iter(lists))


def _context(name: str, lists: dict[str, tuple[str, str]], shown: str) -> dict[str, object]:
    here = reverse(name)
    tabs = [
        {"url": f"{here}?show={key}", "word": word, "current": key == shown}
        for key, (word, _) in lists.items()
    ]
    title, nothing = lists[shown]
    return {"tabs": tabs, "shown": shown, "title": title, "nothing": nothing}
