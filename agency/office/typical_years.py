"""Typical years: what is wrong with their files, their degree days, and their counties."""

from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any
from uuid import UUID

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_POST

from agency import workflows
from agency.estimates.bridge.climate import degree_days
from agency.estimates.models import WeatherStation
from agency.estimates.stations import GAP_READERS, year_with_gaps
from agency.estimates.weather_year import WeatherFileError, WeatherYear
from agency.programs.models import County
from agency.wording import words

from .access import DeskRequest, desk_only, managers_only
from .pages import render_page

USUAL_BASE = 65
"""The trade's base. [°F]"""
NAMED_FAULTS = 100
"""Faults listed by row; beyond, only counted."""
LARGEST_FILE = 8_000_000
"""A typical-year file is about 2 MB. [bytes]"""


class BaseForm(forms.Form):
    """The base of the degree days."""

    base = forms.FloatField(
        label="Base, °F",
        min_value=-20,
        max_value=120,
        error_messages={
            "invalid": "The base cannot be read; enter degrees Fahrenheit such as 65.",
            "required": "Enter a base in degrees Fahrenheit, such as 65.",
            "min_value": "The base must be at least -20 °F; enter one such as 65.",
            "max_value": "The base must be at most 120 °F; enter one such as 65.",
        },
    )


class CountiesForm(forms.Form):
    """The counties a station stands for."""

    counties = forms.ModelMultipleChoiceField(
        County.objects.all(),
        required=False,
        widget=forms.CheckboxSelectMultiple,
        label="Counties",
        help_text="A county has one station: choosing it here takes it from another.",
    )


class StationForm(forms.ModelForm):
    """A new station with its file; the file is read before it is kept."""

    class Meta:
        model = WeatherStation
        fields = ["name", "format", "file"]

    def clean(self) -> dict[str, Any]:
        said: dict[str, Any] = super().clean() or self.cleaned_data
        file, kind = said.get("file"), said.get("format")
        if not file or not kind:
            return said
        if file.size > LARGEST_FILE:
            self.add_error(
                "file",
                f"The file has {file.size:,} bytes; a typical year has at most {LARGEST_FILE:,}. "
                "Choose the hourly file of one typical year.",
            )
            return said
        with TemporaryDirectory() as folder:
            path = Path(folder) / "weather"
            path.write_bytes(file.read())
            file.seek(0)
            try:
                GAP_READERS[WeatherStation.Format(kind)](path)
            except WeatherFileError as refused:
                self.add_error("file", str(refused))
        return said


@desk_only
def typical_years(request: DeskRequest) -> HttpResponse:
    """Every station, and the counties that have none."""
    stations = WeatherStation.objects.prefetch_related("counties")
    context = {
        "stations": stations,
        "without": County.objects.filter(weather_stations=None),
        "may_add": request.user.may_approve,
    }
    return render_page(request, "office/typical_years.html", context, section="typical_years")


@desk_only
def typical_year(request: DeskRequest, pk: UUID) -> HttpResponse:
    """One station: its file, its faults by row, its degree days and its counties."""
    station = get_object_or_404(WeatherStation.objects.prefetch_related("counties"), pk=pk)
    asked = request.GET if "base" in request.GET else {"base": str(USUAL_BASE)}
    form = BaseForm(asked)
    context: dict[str, Any] = {
        "station": station,
        "form": form,
        "counties_form": CountiesForm(initial={"counties": station.counties.all()}),
        "may_assign": request.user.may_approve,
    }
    try:
        year = year_with_gaps(station)
    except (WeatherFileError, OSError) as error:
        context["refusal"] = str(error)
    else:
        context |= _quality(year) | _degree_days(year, form)
    status = 422 if form.errors else 200
    return render_page(
        request, "office/typical_year.html", context, section="typical_years", status=status
    )


def _quality(year: WeatherYear) -> dict[str, Any]:
    quality = year.quality
    faults = [str(one) for one in quality.bad_values] + [
        f"{hour}: no row" for hour in quality.absent_hours
    ]
    return {
        "facts": [
            ("Station in the file", year.station),
            ("Kind", f"{year.kind}, {year.origin}" if year.origin else year.kind),
            ("Elevation", words.quantity(year.elevation / words.FOOT, "ft")),
            ("Rows", words.number(quality.rows)),
            ("Hours that can be used", words.number(year.hours)),
            ("Note in the file", year.comments or "none"),
            ("SHA-256", year.sha256),
        ],
        "is_complete": quality.is_complete,
        "faults": faults[:NAMED_FAULTS],
        "more_faults": max(0, len(faults) - NAMED_FAULTS),
    }


def _degree_days(year: WeatherYear, form: BaseForm) -> dict[str, Any]:
    if not form.is_valid():
        return {}
    base = form.cleaned_data["base"]
    try:
        found = degree_days(year, base=(base - words.ICE_POINT_F) / words.KELVIN_STEP)
    except ValueError as refused:
        text = str(refused)
        return {"no_degree_days": text[:1].upper() + text[1:]}
    return {
        "day_columns": ("Convention", "Heating, °F day", "Cooling, °F day"),
        "base": words.quantity(base, "°F", 0 if base == round(base) else 1),
        "days": [
            [
                one.convention,
                words.number(one.heating * words.KELVIN_STEP),
                words.number(one.cooling * words.KELVIN_STEP),
            ]
            for one in found
        ],
    }


@managers_only
def add_station(request: DeskRequest) -> HttpResponse:
    """Keep a station whose file can be read; gaps are named on its page."""
    if request.method == "POST":
        form = StationForm(request.POST, request.FILES)
        if form.is_valid():
            station = form.save()
            messages.success(request, f"{station} is kept. Look at its quality report.")
            return redirect("office:typical_year", station.pk)
    else:
        form = StationForm()
    status = 422 if form.errors else 200
    return render_page(
        request, "office/add_station.html", {"form": form}, section="typical_years", status=status
    )


@require_POST
@managers_only
def assign_station(request: DeskRequest, pk: UUID) -> HttpResponse:
    """Choose the counties a station stands for."""
    station = get_object_or_404(WeatherStation, pk=pk)
    form = CountiesForm(request.POST)
    if form.is_valid():
        workflows.assign_station(station.pk, list(form.cleaned_data["counties"]))
        messages.success(request, f"The counties of {station} are recorded.")
    else:
        messages.error(request, "A county is not on the list; choose from the list.")
    return redirect("office:typical_year", station.pk)
