"""The waiting list: who is served next, with the points that decide it."""

from typing import Any

from django.http import HttpResponse
from django.urls import reverse
from django.utils import timezone

from agency.intake.models import Application

from .access import DeskRequest, desk_only
from .intake_forms import WaitingFilter
from .pages import page_of, render_page
from .sensitive import note_views


@desk_only
def waiting_list(request: DeskRequest) -> HttpResponse:
    """In rank: emergencies, points, date of application, number; the same every time."""
    form = WaitingFilter(request.GET)
    form.is_valid()
    chosen = form.cleaned_data
    rows = Application.objects.waiting().with_people().with_expiry()
    if chosen.get("program"):
        rows = rows.filter(program=chosen["program"])
    if chosen.get("county"):
        rows = rows.filter(house__county=chosen["county"])
    page = page_of(rows, request.GET.get("page"))
    is_privy, shown = request.user.may_see_sensitive, list(page)
    if is_privy:
        note_views(request, [(one.number, one.pk) for one in shown], "priority points")
    context: dict[str, Any] = {
        "form": form,
        "page": page,
        "ranked": list(enumerate(shown, start=page.start_index())),
        "found": f"{page.paginator.count} waiting",
        "clear_url": reverse("office:waiting_list") if any(chosen.values()) else "",
        "is_privy": is_privy,
        "today": timezone.localdate(),
    }
    return render_page(request, "office/waiting_list.html", context, section="waiting")
