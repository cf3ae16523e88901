"""Booking a visit, moving it, calling it off, typing a forecast; refused in words."""

from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.http import require_POST

from agency.casework import booking as bookings
from agency.casework import filing
from agency.errors import AgencyError
from agency.jobs.models import Booking, ContactAttempt, Forecast, Job, Visit

from .access import DeskRequest, reviewers_only
from .pages import render_page
from .schedule import week_url
from .schedule_forms import BookForm, CallOffForm, ForecastForm, MoveForm

USUAL_START, USUAL_END = "08:30", "12:00"
"""First offered for a visit without a time. Own choice."""


@reviewers_only
def book(request: DeskRequest, pk: UUID) -> HttpResponse:
    """Give a visit its time."""
    jobs = Job.objects.visible_to(request.user)
    visits = Visit.objects.filter(job__in=jobs).select_related("job__house", "job__client", "crew")
    visit = get_object_or_404(visits, pk=pk)
    form = BookForm(request.POST or None, initial=_usual(visit))
    if form.is_valid():
        try:
            made = bookings.book(visit.pk, request.user, form.plan())
        except AgencyError as refusal:
            form.add_error(None, str(refusal))
        else:
            messages.success(request, f"{made} is booked.")
            return redirect(week_url(timezone.localdate(made.starts_at)))
    context = {"visit": visit, "form": form, "booking": None}
    return _page(request, "office/book.html", context, is_refused=form.is_bound)


@reviewers_only
def move(request: DeskRequest, pk: UUID) -> HttpResponse:
    """Move a booking to another day, time or crew: what dragging its card does, by keyboard."""
    booking = _booking(request, pk)
    form = MoveForm(request.POST or None, initial=_present(booking) | _wanted(request))
    if form.is_valid():
        said = form.cleaned_data
        try:
            made = bookings.move(
                booking.pk, request.user, form.plan(), code=said["code"], said=said["words"]
            )
            if said["told"]:
                _log_told(request, booking, said["told"])
        except AgencyError as refusal:
            form.add_error(None, str(refusal))
        else:
            messages.success(request, f"{made} is moved.")
            return redirect(week_url(timezone.localdate(made.starts_at)))
    context = {
        "visit": booking.visit,
        "form": form,
        "booking": booking,
        "call_off": CallOffForm(prefix="off"),
    }
    return _page(request, "office/book.html", context, is_refused=form.is_bound)


@require_POST
@reviewers_only
def call_off(request: DeskRequest, pk: UUID) -> HttpResponse:
    """Take a booking out of the schedule."""
    booking, form = _booking(request, pk), CallOffForm(request.POST, prefix="off")
    if form.is_valid():
        said = form.cleaned_data
        try:
            bookings.call_off(booking.pk, request.user, code=said["code"], said=said["words"])
        except AgencyError as refusal:
            form.add_error(None, str(refusal))
        else:
            messages.success(request, f"{booking} is called off; its visit waits for a new time.")
            return redirect(week_url(timezone.localdate(booking.starts_at)))
    context = {
        "visit": booking.visit,
        "form": MoveForm(initial=_present(booking)),
        "booking": booking,
        "call_off": form,
        "refused": form,
    }
    return _page(request, "office/book.html", context, is_refused=True)


@require_POST
@reviewers_only
def type_forecast(request: DeskRequest) -> HttpResponse:
    """Type the weather of a day in; a new forecast takes the place of an older one."""
    form = ForecastForm(request.POST, prefix="forecast")
    if not form.is_valid():
        context = {"form": form}
        return render_page(request, "office/forecast.html", context, section="schedule", status=422)
    said = dict(form.cleaned_data)
    day: date = said.pop("day")
    values = said | {"typed_by": request.user, "typed_at": timezone.now()}
    Forecast.objects.update_or_create(day=day, county=said.pop("county"), defaults=values)
    messages.success(request, "The forecast is noted.")
    return redirect(week_url(day))


def _booking(request: DeskRequest, pk: UUID) -> Booking:
    rows = Booking.objects.visible_to(request.user).with_records().with_claims()
    return get_object_or_404(rows, pk=pk)


def _page(
    request: DeskRequest, template: str, context: dict[str, Any], *, is_refused: bool
) -> HttpResponse:
    status = 422 if is_refused else 200
    context = {"refused": context["form"]} | context
    return render_page(request, template, context, section="schedule", status=status)


def _usual(visit: Visit) -> dict[str, Any]:
    kit = [] if visit.crew is None else list(visit.crew.instruments.filter(retired_on=None))
    vehicle = None if visit.crew is None else visit.crew.vehicles.filter(retired_on=None).first()
    return {
        "day": visit.planned_on,
        "starts": USUAL_START,
        "ends": USUAL_END,
        "crew": visit.crew,
        "inspector": visit.inspector,
        "vehicle": vehicle,
        "instruments": kit,
    }


def _present(booking: Booking) -> dict[str, Any]:
    return {
        "day": timezone.localdate(booking.starts_at),
        "starts": _hour(booking.starts_at),
        "ends": _hour(booking.ends_at),
        "crew": booking.crew,
        "inspector": booking.inspector,
        "vehicle": booking.vehicle,
        "instruments": booking.instruments,
    }


def _hour(at: datetime) -> str:
    return timezone.localtime(at).strftime("%H:%M")


def _wanted(request: DeskRequest) -> dict[str, str]:
    """Where the card was dropped, as the address says; the form checks it like any typing."""
    return {name: request.GET[name] for name in ("day", "crew", "inspector") if name in request.GET}


def _log_told(request: DeskRequest, booking: Booking, channel: str) -> None:
    attempt = ContactAttempt(
        visit=booking.visit,
        channel=channel,
        outcome=ContactAttempt.Outcome.REACHED,
        language=booking.visit.job.client.language,
        summary="Told of the move.",
    )
    filing.log_contact(booking.visit.job_id, request.user, attempt)
