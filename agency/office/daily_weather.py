"""The weather that was: which days of a station are known, and entering more of them."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.db.models import Count, Max, Min
from django.forms import BaseForm
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.http import require_POST

from agency import bill_workflows
from agency.errors import AgencyError
from agency.estimates.bill_files import RowError
from agency.estimates.daily_means import Degrees, celsius
from agency.estimates.daily_weather import DailyWeatherFile, gaps_in
from agency.estimates.day_importing import DaysRefused
from agency.estimates.models import WeatherStation
from agency.wording import words
from agency.wording.templatetags.wording import day

from .access import DeskRequest, desk_only, reviewers_only
from .bill_forms import DaysForm, TypedDayForm, UndoForm
from .pages import render_page


@desk_only
def weather(request: DeskRequest) -> HttpResponse:
    """Every station with the days that are known."""
    stations = WeatherStation.objects.annotate(
        known=Count("days"), first=Min("days__day"), last=Max("days__day")
    ).prefetch_related("counties")
    return render_page(request, "office/weather.html", {"stations": stations}, section="weather")


@desk_only
def weather_station(request: DeskRequest, pk: UUID) -> HttpResponse:
    """One station: its known days, every gap among them, and its files."""
    return _show(request, _found(pk))


@require_POST
@reviewers_only
def upload_days(request: DeskRequest, pk: UUID) -> HttpResponse:
    """Take a file of daily means in, all of it or nothing."""
    station = _found(pk)
    form = DaysForm(request.POST, request.FILES, prefix="days")
    errors: tuple[RowError, ...] = ()
    if form.is_valid():
        file = form.cleaned_data["file"]
        try:
            kept = bill_workflows.take_days_in(
                station.pk,
                request.user,
                name=file.name,
                content=file.read(),
                degrees=Degrees(form.cleaned_data["degrees"]),
                now=timezone.now(),
            )
        except DaysRefused as refusal:
            errors = refusal.errors
            form.add_error("file", str(refusal))
        except AgencyError as refusal:
            form.add_error("file", str(refusal))
        else:
            days = words.count(kept.days.count(), "day")
            messages.success(request, f"{days} of {kept.name} are stored.")
            return redirect("office:weather_station", pk)
    return _show(request, station, refused={"days": form}, errors=errors, status=422)


@require_POST
@reviewers_only
def type_day(request: DeskRequest, pk: UUID) -> HttpResponse:
    """Take one day in."""
    station = _found(pk)
    form = TypedDayForm(request.POST, today=timezone.localdate(), prefix="day")
    if form.is_valid():
        said = form.cleaned_data
        try:
            mean = celsius(said["mean"], Degrees(said["degrees"]), "The mean")
            bill_workflows.type_day_in(station.pk, request.user, day=said["day"], mean=mean)
        except AgencyError as refusal:
            form.add_error("mean", str(refusal))
        else:
            messages.success(request, f"The mean of {day(said['day'])} is stored.")
            return redirect("office:weather_station", pk)
    return _show(request, station, refused={"day": form}, status=422)


@require_POST
@reviewers_only
def undo_days(request: DeskRequest, pk: UUID) -> HttpResponse:
    """Take a file's days out again."""
    kept = get_object_or_404(DailyWeatherFile, pk=pk)
    form = UndoForm(request.POST, prefix=f"undo-{pk}")
    if form.is_valid():
        try:
            bill_workflows.take_days_out(
                pk, request.user, form.cleaned_data["reason"], now=timezone.now()
            )
        except AgencyError as refusal:
            form.add_error(None, str(refusal))
        else:
            messages.success(request, f"The import of {kept.name} is undone; the file stays.")
            return redirect("office:weather_station", kept.station_id)
    return _show(request, _found(kept.station_id), refused={f"undo-{pk}": form}, status=422)


def _found(pk: UUID) -> WeatherStation:
    return get_object_or_404(WeatherStation.objects.prefetch_related("counties"), pk=pk)


def _show(
    request: DeskRequest,
    station: WeatherStation,
    *,
    refused: dict[str, BaseForm] | None = None,
    errors: tuple[RowError, ...] = (),
    status: int = 200,
) -> HttpResponse:
    known = list(station.days.values_list("day", flat=True))
    refused = refused or {}
    may_change = request.user.may_review
    today = timezone.localdate()
    forms: dict[str, Any] = {}
    if may_change:
        forms = {"days": DaysForm(prefix="days"), "day": TypedDayForm(prefix="day", today=today)}
    context = {
        "station": station,
        "known": known,
        "first": known[0] if known else None,
        "last": known[-1] if known else None,
        "gaps": gaps_in(known, first=known[0], last=known[-1]) if known else [],
        "files": _files(station, refused, may_change=may_change),
        "forms": forms | refused,
        "row_errors": errors,
        "refused": next(iter(refused.values()), None),
    }
    page = "office/weather_station.html"
    return render_page(request, page, context, section="weather", status=status)


def _files(
    station: WeatherStation, refused: dict[str, BaseForm], *, may_change: bool
) -> list[dict[str, Any]]:
    files = station.day_files.select_related("sent_by", "undone_by").defer("content")
    rows = []
    for kept in files.annotate(held=Count("days")):
        name = f"undo-{kept.pk}"
        form = refused.get(name) or UndoForm(prefix=name)
        may_undo = may_change and kept.state == "imported"
        rows.append({"record": kept, "form": form if may_undo else None})
    return rows
