"""Buildings of several units: roster, eligible share, and tests by technique."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.db.models import Count, Q
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.http import require_POST

from agency import intake_workflows
from agency.errors import AgencyError
from agency.houses.models import Building, House
from agency.intake.book import rules_on
from agency.intake.buildings import eligible_share, roster, share_words
from agency.reports.building import building_tests
from agency.wording import words

from .access import DeskRequest, desk_only, reviewers_only
from .pages import page_of, render_page
from .record_forms import BuildingForm, UnitForm
from .sensitive import note_views

LARGEST_SMALL = 4
"""Units up to which a building is of the kind "2 to 4 units"."""


@desk_only
def buildings(request: DeskRequest) -> HttpResponse:
    """Every building with the units on its roster."""
    rows = Building.objects.select_related("county").annotate(
        on_roster=Count("houses", filter=Q(houses__units=1))
    )
    context = {"page": page_of(rows.order_by("name", "id"), request.GET.get("page"))}
    return render_page(request, "office/buildings.html", context, section="houses")


@desk_only
def building(request: DeskRequest, pk: UUID) -> HttpResponse:
    """One building: who lives there is eligible, and what the tests say."""
    return show_building(request, _find(pk), UnitForm())


def show_building(
    request: DeskRequest, found: Building, form: UnitForm, *, status: int = 200
) -> HttpResponse:
    """The building page, with the form as it was typed."""
    today = timezone.localdate()
    rows = roster(found, on=today)
    share = eligible_share(found, rows, on=today, rules=rules_on(today))
    is_privy = request.user.may_see_sensitive
    if is_privy:
        known = [row.application for row in rows if row.application is not None]
        note_views(request, [(one.number, one.pk) for one in known], "eligible or not")
    context = {
        "building": found,
        "is_privy": is_privy,
        "rows": rows,
        "share": share,
        "share_words": share_words(share),
        "not_listed": found.units_total - len(rows),
        "techniques": [_worded(technique) for technique in building_tests(found)],
        "form": form,
        "today": today,
    }
    return render_page(request, "office/building.html", context, section="houses", status=status)


def _worded(technique: Any) -> dict[str, Any]:
    """One technique as a table of words."""
    return {
        "code": technique.code,
        "title": Building.Tested(technique.code).label,
        "rows": [
            {
                "job": part.job,
                "unit": part.job.house.unit or "whole building",
                "units": part.units,
                "before": words.flow(part.before),
                "after": words.flow(part.after),
                "reduction": words.percent(part.reduction),
                "says": part.says,
            }
            for part in technique.parts
        ],
        "reduction": words.percent(technique.reduction_by_units),
        "units": words.count(technique.units_measured, "unit"),
    }


@reviewers_only
def new_building(request: DeskRequest) -> HttpResponse:
    """Register a building."""
    form = BuildingForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        made = Building.objects.create(**form.cleaned_data)
        messages.success(request, f"{made} is registered. Enter its units.")
        return redirect("office:building", made.pk)
    return _form_page(request, form, "New building", back="office:buildings")


@reviewers_only
def change_building(request: DeskRequest, pk: UUID) -> HttpResponse:
    """Correct a building, decide how it is tested, or record promised units."""
    found = _find(pk)
    known = {name: getattr(found, name) for name in BuildingForm.base_fields}
    form = BuildingForm(request.POST or None, initial=known)
    if request.method == "POST" and form.is_valid():
        for name, value in form.cleaned_data.items():
            setattr(found, name, value)
        found.save()
        messages.success(request, "The change is recorded.")
        return redirect("office:building", pk)
    return _form_page(request, form, f"Change {found}", back="office:building", pk=pk)


@require_POST
@reviewers_only
def add_unit(request: DeskRequest, pk: UUID) -> HttpResponse:
    """Enter one more unit into the roster."""
    found, form = _find(pk), UnitForm(request.POST)
    if form.is_valid():
        try:
            made = _register_unit(found, **form.cleaned_data)
        except AgencyError as refusal:
            form.add_error("unit", str(refusal))
        else:
            messages.success(request, f"{made.unit} is on the roster.")
            return redirect("office:building", pk)
    return show_building(request, found, form, status=422)


def _register_unit(building: Building, *, unit: str, is_vacant: bool) -> House:
    listed = building.houses.filter(units=1).count()
    if listed >= building.units_total:
        raise AgencyError(
            f"{building} has {words.count(building.units_total, 'unit')}, and as many are listed. "
            "Correct the number of units first."
        )
    small = building.units_total <= LARGEST_SMALL
    return intake_workflows.register_house(
        {
            "building": building,
            "unit": unit,
            "is_vacant": is_vacant,
            "address": building.address,
            "city": building.city,
            "state": building.state,
            "postal_code": building.postal_code,
            "county": building.county,
            "parcel": building.parcel,
            "dwelling": House.Dwelling.TWO_TO_FOUR if small else House.Dwelling.FIVE_OR_MORE,
        }
    )


def _find(pk: UUID) -> Building:
    return get_object_or_404(Building.objects.select_related("county"), pk=pk)


def _form_page(
    request: DeskRequest, form: BuildingForm, title: str, *, back: str, pk: UUID | None = None
) -> HttpResponse:
    context = {"form": form, "title": title, "back": back, "back_pk": pk}
    status = 422 if request.method == "POST" else 200
    return render_page(request, "office/record_form.html", context, section="houses", status=status)
