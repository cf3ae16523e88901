"""What is known of a house's energy beside its record: shell, plant, fans and bills."""

from uuid import UUID

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect

from agency import workflows
from agency.estimates.models import EnergyDescription

from .access import DeskRequest, reviewers_only
from .job import find_job
from .measures import measure_tabs
from .pages import render_page

GROUPS = (
    ("Air", ("infiltration_model", "foundation", "flue", "exhaust_cfm", "supply_cfm")),
    (
        "Shell",
        (
            "wall_area_sqft",
            "ceiling_area_sqft",
            "window_area_sqft",
            "wall_r",
            "ceiling_r",
            "floor_r",
            "window_u",
        ),
    ),
    (
        "Use",
        (
            "heating_setpoint_f",
            "cooling_setpoint_f",
            "gains_w",
            "water_fuel",
            "water_efficiency",
            "hot_water_gal_a_day",
            "baseload_kwh",
        ),
    ),
    (
        "Bills before the work",
        (
            "billed_heating",
            "billed_cooling_kwh",
            "billed_hot_water",
            "billed_baseload_kwh",
            "billed_source",
        ),
    ),
)


class EnergyDescriptionForm(forms.ModelForm):
    """Every field may stay empty: the rule book's figure is then used, and said so."""

    class Meta:
        model = EnergyDescription
        fields = [name for _, names in GROUPS for name in names]

    def groups(self) -> list[tuple[str, list[forms.BoundField]]]:
        """The fields under their headings."""
        return [(title, [self[name] for name in names]) for title, names in GROUPS]


@reviewers_only
def energy_description(request: DeskRequest, pk: UUID) -> HttpResponse:
    """The form; kept, the house's open jobs are estimated anew."""
    job = find_job(request, pk)
    known = EnergyDescription.objects.filter(house=job.house).first()
    form = EnergyDescriptionForm(
        request.POST if request.method == "POST" else None,
        instance=known or EnergyDescription(house=job.house),
    )
    if request.method == "POST" and form.is_valid():
        workflows.describe_energy(form.instance)
        messages.success(request, "The description is kept; estimates follow it.")
        return redirect("office:measures", job.pk)
    context = {"form": form, "job": job, "tabs": measure_tabs(job, "energy_description")}
    status = 422 if form.errors else 200
    return render_page(
        request, "office/energy_description.html", context, section="jobs", status=status
    )
