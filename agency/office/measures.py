"""The measures of a job: the list, one measure's form, and asking for estimate and package."""

from typing import Any
from uuid import UUID

from django import forms
from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.views.decorators.http import require_POST

from agency import workflows
from agency.errors import AgencyError
from agency.estimates.measure_kinds import KINDS
from agency.estimates.measure_steps import ESTIMATE_MEASURES
from agency.estimates.models import Measure
from agency.jobs.models import ENDED, Job
from agency.outbox.models import Errand
from agency.wording import words

from .access import DeskRequest, desk_only, reviewers_only
from .job import find_job
from .measure_form import MeasureForm, property_rows, started
from .pages import render_page


class BudgetForm(forms.Form):
    """How much may be spent."""

    budget = forms.DecimalField(
        label="Budget, $",
        min_value=0,
        max_digits=10,
        decimal_places=2,
        error_messages={
            "required": "Enter the dollars that may be spent.",
            "invalid": "The budget cannot be read; enter plain dollars such as 6500.",
            "min_value": "The budget must be 0 or more; enter plain dollars such as 6500.",
        },
    )


def measure_tabs(job: Job, current: str) -> list[dict[str, Any]]:
    """Links between the pages about a job's measures."""
    return [
        {"url": reverse(f"office:{name}", args=[job.pk]), "word": word, "current": name == current}
        for name, word in (
            ("measures", "Measures"),
            ("measures_estimate", "Estimate"),
            ("what_if", "What if"),
            ("energy_description", "House"),
        )
    ]


@desk_only
def measures(request: DeskRequest, pk: UUID) -> HttpResponse:
    """Every measure of the job in the order of installation, and what may be added."""
    job = find_job(request, pk)
    rows = list(Measure.objects.of_job(job))
    context = {
        "job": job,
        "tabs": measure_tabs(job, "measures"),
        "rows": [{"measure": one, "properties": property_rows(one)} for one in rows],
        "costs": _costs(rows),
        "kinds": [(code, kind.kind) for code, kind in KINDS.items()],
        "may_change": request.user.may_review and job.status not in ENDED,
        "is_waiting": is_waiting(job),
    }
    return render_page(request, "office/measures.html", context, section="jobs")


def is_waiting(job: Job) -> bool:
    """Whether a worker still owes the job an estimate of its measures."""
    return Errand.objects.open().filter(task=ESTIMATE_MEASURES, subject=job.pk).exists()


def _costs(rows: list[Measure]) -> list[tuple[str, str]]:
    sums = {
        category.label: sum(one.cost for one in rows if one.category == category)
        for category in Measure.Category
    }
    told = [(label, words.money(cost)) for label, cost in sums.items() if cost]
    return [*told, ("Together", words.money(sum(one.cost for one in rows)))] if rows else []


@reviewers_only
def add_measure(request: DeskRequest, pk: UUID, kind: str) -> HttpResponse:
    """The form of a kind; kept, the estimate is worked out anew."""
    job = find_job(request, pk)
    if kind not in KINDS:
        raise Http404
    return _form(request, started(job, kind), "The measure is on the list.")


@reviewers_only
def edit_measure(request: DeskRequest, pk: UUID) -> HttpResponse:
    """The same form with what is known."""
    return _form(request, _find(request, pk), "The measure is changed.")


def _form(request: DeskRequest, measure: Measure, done: str) -> HttpResponse:
    form = MeasureForm(request.POST if request.method == "POST" else None, instance=measure)
    if request.method == "POST" and form.is_valid():
        try:
            workflows.keep_measure(form.instance)
        except AgencyError as refusal:
            form.add_error(None, str(refusal))
        else:
            messages.success(request, f"{done} Its saving is being worked out.")
            return redirect("office:measures", measure.job_id)
    context = {"form": form, "job": measure.job, "kind": measure.about, "measure": measure}
    status = 422 if form.errors else 200
    return render_page(request, "office/measure.html", context, section="jobs", status=status)


@require_POST
@reviewers_only
def remove_measure(request: DeskRequest, pk: UUID) -> HttpResponse:
    """Take a measure off the list."""
    measure = _find(request, pk)
    try:
        workflows.remove_measure(measure.pk)
    except AgencyError as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, f"{measure} is off the list; the history keeps it.")
    return redirect("office:measures", measure.job_id)


@require_POST
@reviewers_only
def ask_measures_estimate(request: DeskRequest, pk: UUID) -> HttpResponse:
    """Have the estimate worked out with what holds today."""
    job = find_job(request, pk)
    try:
        workflows.ask_measures_estimate(job.pk)
    except AgencyError as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, "The estimate is being worked out.")
    return redirect("office:measures_estimate", job.pk)


@require_POST
@reviewers_only
def ask_package(request: DeskRequest, pk: UUID) -> HttpResponse:
    """Have a worker choose what a budget buys."""
    job = find_job(request, pk)
    form = BudgetForm(request.POST)
    if not form.is_valid():
        messages.error(request, " ".join(map(str, form.errors["budget"])))
        return redirect("office:measures_estimate", job.pk)
    try:
        run = workflows.ask_package(job.pk, request.user, form.cleaned_data["budget"])
    except AgencyError as refusal:
        messages.error(request, str(refusal))
    else:
        said = "is chosen below" if run.computed_at else "is being chosen"
        messages.success(request, f"What {words.money(run.budget)} buys {said}.")
    return redirect("office:measures_estimate", job.pk)


def _find(request: DeskRequest, pk: UUID) -> Measure:
    found = Measure.objects.visible_to(request.user).select_related("job__house", "job__client")
    return get_object_or_404(found, pk=pk)
