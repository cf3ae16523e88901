"""The jobs list: search, filters, order, pages; all of it in the address."""

from typing import Any

from django.http import HttpResponse
from django.urls import reverse
from django.utils import timezone

from agency.jobs.models import Job, Visit
from agency.jobs.querysets import JobQuerySet
from agency.wording import words

from .access import DeskRequest, desk_only
from .forms import JobFilter
from .pages import page_of, render_page


@desk_only
def jobs(request: DeskRequest) -> HttpResponse:
    """Jobs that match what the address asks for."""
    form = JobFilter(request.GET)
    form.is_valid()
    chosen = form.cleaned_data
    rows = filtered(Job.objects.visible_to(request.user), chosen)
    sort = chosen.get("sort") or "newest"
    ordered = rows.with_people().marking_stopped().order_by(*JobFilter.ORDERS[sort])
    page = page_of(ordered, request.GET.get("page"))
    in_force = [name for name in ("q", "status", "crew", "program") if chosen.get(name)]
    context = {
        "form": form,
        "page": page,
        "found": _found(page.paginator.count, bool(in_force)),
        "clear_url": reverse("office:jobs") if in_force or form.errors else "",
        "why_empty": _why_empty(form, chosen),
        "order": JobFilter.ORDER_WORDS[sort],
    }
    return render_page(request, "office/jobs.html", context, section="jobs")


def filtered(rows: JobQuerySet, chosen: dict[str, Any]) -> JobQuerySet:
    """The jobs that pass every filter in force."""
    rows = rows.matching(chosen.get("q") or "")
    exact = {name: chosen[name] for name in ("status", "crew", "program") if chosen.get(name)}
    return rows.filter(**exact)


def _found(count: int, is_filtered: bool) -> str:
    if not is_filtered:
        return words.count(count, "job")
    return f"{words.number(count)} of {words.count(Job.objects.count(), 'job')}"


def _why_empty(form: JobFilter, chosen: dict[str, Any]) -> str:
    """Which filters leave nothing over, in words."""
    parts = []
    if chosen.get("q"):
        parts.append(f"number, client or address contains “{chosen['q']}”")
    if chosen.get("status"):
        parts.append(f"status is {Job.Status(chosen['status']).label.lower()}")
    if chosen.get("crew"):
        parts.append(f"crew is {chosen['crew']}")
    if chosen.get("program"):
        parts.append(f"program is {chosen['program']}")
    if not parts:
        return "No job has been opened yet. Open one from the waiting list, or with “New job”."
    return f"No job fits all of this: {'; '.join(parts)}. Clear a filter to see more."


@desk_only
def late_visits(request: DeskRequest) -> HttpResponse:
    """Visits planned before today that have no outcome."""
    day = timezone.localdate()
    late = Visit.objects.overdue(day).select_related("job__house", "job__client", "crew")
    page = page_of(late.order_by("planned_on", "id"), request.GET.get("page"))
    context = {"page": page, "day": day}
    return render_page(request, "office/late_visits.html", context, section="today")
