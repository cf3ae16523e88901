"""The estimate of a job's measures on one page a client can read too."""

from typing import Any
from uuid import UUID

from django.http import HttpResponse

from agency.estimates.models import MeasuresEstimate
from agency.jobs.models import Job

from .access import DeskRequest, desk_only
from .job import find_job
from .measures import BudgetForm, is_waiting, measure_tabs
from .measures_words import (
    air_rows,
    assumption_rows,
    basis_rows,
    calibration_rows,
    energy_rows,
    model_rows,
    month_rows,
    package_rows,
    package_words,
    refusal_words,
    step_rows,
    turning_words,
)
from .pages import render_page
from .tornado_drawing import tornado_drawing


@desk_only
def measures_estimate(request: DeskRequest, pk: UUID) -> HttpResponse:
    """Breakdown by step, what it is worth, what a budget buys, and what it all rests on."""
    job = find_job(request, pk)
    estimate = job.measures_estimates.first()
    context = {
        "job": job,
        "tabs": measure_tabs(job, "measures_estimate"),
        "estimate": estimate,
        "has_measures": estimate is None and job.measures.exists(),
        "is_waiting": is_waiting(job),
        "budget_form": BudgetForm(),
        "may_ask": request.user.may_review,
        **_told(job, estimate),
    }
    return render_page(request, "office/measures_estimate.html", context, section="jobs")


def _told(job: Job, estimate: MeasuresEstimate | None) -> dict[str, Any]:
    if estimate is None:
        return {}
    told: dict[str, Any] = {
        "refusals": refusal_words(estimate.refusals),
        "basis": basis_rows(estimate),
    }
    figures = estimate.figures
    if not figures:
        return told
    names = {one["id"]: one["name"] for one in estimate.inputs["measures"]}
    return told | {
        "sentences": figures["words"],
        "steps": step_rows(estimate),
        "package": package_rows(figures["package"], names),
        "tornado": tornado_drawing(figures["tornado"]),
        "turning": turning_words(figures["tornado"]),
        "energy_columns": ("End use", "Before", "After"),
        "calibration_columns": ("End use", "Billed over modelled", "Allowed"),
        "air_columns": ("", "Before", "After"),
        "energy": energy_rows(figures),
        "calibration": calibration_rows(figures),
        "air": air_rows(figures["natural_air"]),
        "model": model_rows(figures["natural_air"]),
        "months": month_rows(figures["natural_air"]),
        "assumptions": assumption_rows(estimate.inputs),
        "runs": [
            package_words(run, names) for run in estimate.package_runs.select_related("asked_by")
        ],
    }
