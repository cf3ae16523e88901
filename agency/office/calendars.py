"""Each crew's calendar address: made, shown once, revoked; and the file it gives out."""

from datetime import timedelta
from uuid import UUID

from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.db.models import Prefetch
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from agency.casework.feeds import crew_calendar
from agency.jobs.models import Booking, CalendarAddress
from agency.people.models import Crew

from .access import DeskRequest, desk_only, reviewers_only
from .pages import render_page

BACK_DAYS = 31
"""How far back a calendar reaches. Own choice."""


@desk_only
def calendars(request: DeskRequest) -> HttpResponse:
    """Every crew, and whether its calendar has an address."""
    return _show(request)


@require_POST
@reviewers_only
def make_calendar(request: DeskRequest, pk: UUID) -> HttpResponse:
    """A new address, shown this once; an older one of the crew gives nothing out any more."""
    crew = get_object_or_404(Crew, pk=pk)
    key = CalendarAddress.make(crew, made_by=request.user, now=timezone.now())
    address = request.build_absolute_uri(reverse("office:calendar_feed", args=[key]))
    return _show(request, address=address, made_for=crew)


@require_POST
@reviewers_only
def revoke_calendar(request: DeskRequest, pk: UUID) -> HttpResponse:
    """Give nothing out at the crew's address from now on."""
    crew = get_object_or_404(Crew, pk=pk)
    for alive in crew.calendar_addresses.filter(revoked_at=None):
        alive.revoke(timezone.now())
    messages.success(request, f"The calendar address of {crew} is revoked.")
    return redirect("office:calendars")


@require_safe
@login_not_required
def calendar_feed(request: HttpRequest, key: str) -> HttpResponse:
    """The crew's bookings; whoever has the address may read, and nobody is told of others."""
    address = CalendarAddress.find(key)
    if address is None:
        raise Http404
    since = timezone.now() - timedelta(days=BACK_DAYS)
    rows = Booking.objects.filter(crew=address.crew, ends_at__gte=since)
    bookings = rows.with_records().with_claims().order_by("starts_at", "id")
    answer = HttpResponse(
        crew_calendar(address.crew, bookings), content_type="text/calendar; charset=utf-8"
    )
    answer["Referrer-Policy"] = "no-referrer"
    return answer


def _show(request: DeskRequest, *, address: str = "", made_for: Crew | None = None) -> HttpResponse:
    alive = CalendarAddress.objects.filter(revoked_at=None).select_related("made_by")
    crews = Crew.objects.prefetch_related(Prefetch("calendar_addresses", alive, to_attr="alive"))
    context = {"crews": crews, "address": address, "made_for": made_for}
    return render_page(request, "office/calendars.html", context, section="schedule")
