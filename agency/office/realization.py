"""What a grant's homes saved by their bills against what was predicted for them."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.text import slugify
from django.views.decorators.http import require_POST

from agency import bill_workflows
from agency.estimates.bill_studies import ProgramRealization
from agency.outbox.models import Errand
from agency.programs.models import Program
from agency.reports.exports import csv_of
from agency.reports.realization_table import realization_head, realization_table
from agency.reports.rows import fuel_word
from agency.wording import words

from .access import DeskRequest, desk_only, reviewers_only
from .bill_drawings import realization_drawing
from .bill_forms import GrantForm
from .bill_words import realization_basis, share_range
from .pages import page_of, render_page


@desk_only
def realization(request: DeskRequest) -> HttpResponse:
    """The rate of the grant asked for, else of the one worked out last."""
    form = _form(request)
    context: dict[str, Any] = {"form": form}
    if form.is_valid():
        program = form.cleaned_data["program"]
        found = program.realizations.first()
        context |= {
            "program": program,
            "found": found,
            "is_waiting": Errand.objects.open()
            .filter(task=bill_workflows.REALIZE, subject=program.pk)
            .exists(),
            "csv_url": f"{reverse('office:realization_csv')}?program={program.pk}",
        }
        if found is not None:
            context |= _found_words(request, found)
    return render_page(request, "office/realization.html", context, section="reports")


@desk_only
def realization_csv(request: DeskRequest) -> HttpResponse:
    """Every home, counted or left out, as CSV."""
    form = _form(request)
    found = form.cleaned_data["program"].realizations.first() if form.is_valid() else None
    if found is None:
        raise Http404("Nothing is worked out for this program yet.")
    name = slugify(found.program.grant_number) or "program"
    return HttpResponse(
        csv_of(realization_table(found), realization_head(found, now=timezone.now())),
        content_type="text/csv; charset=utf-8",
        headers={
            "Content-Disposition": f'attachment; filename="realization-{name}.csv"',
            "X-Content-Type-Options": "nosniff",
        },
    )


@require_POST
@reviewers_only
def work_out_realization(request: DeskRequest) -> HttpResponse:
    """Have a grant's rate worked out anew."""
    form = GrantForm(request.POST)
    if not form.is_valid():
        messages.error(request, "Choose a program from the list.")
        return redirect("office:realization")
    program = form.cleaned_data["program"]
    bill_workflows.work_out_realization(program.pk)
    messages.success(request, "A worker works the rate out; look again in a minute.")
    return redirect(f"{reverse('office:realization')}?program={program.pk}")


def _form(request: DeskRequest) -> GrantForm:
    asked = request.GET.copy()
    if "program" not in asked:
        newest = ProgramRealization.objects.select_related("program").first()
        program = newest.program if newest else Program.objects.first()
        if program is not None:
            asked["program"] = str(program.pk)
    return GrantForm(asked)


def _found_words(request: DeskRequest, found: ProgramRealization) -> dict[str, Any]:
    homes, left_out = found.inputs["homes"], found.inputs["left_out"]
    groups = (found.figures or {}).get("groups") or {}
    return {
        "rates": [_rate(name, group) for name, group in groups.items()],
        "confidence": words.percent((found.figures or {}).get("confidence")),
        "drawing": realization_drawing(homes),
        "page": page_of([_home(one) for one in homes], request.GET.get("page")),
        "left_out": [one | {"fuel": fuel_word(one["fuel"])} for one in left_out],
        "basis": realization_basis(found),
    }


def _rate(name: str, group: dict[str, Any] | None) -> dict[str, str]:
    told = {"name": "All fuels, site energy" if name == "all" else fuel_word(name)}
    if group is None:
        few = "fewer than two homes"
        return told | {"homes": "", "sums": few, "ratios": few, "predicted": "", "measured": ""}
    return told | {
        "homes": words.number(group["homes"]),
        "sums": share_range(group["ratio_of_sums"]),
        "ratios": share_range(group["mean_of_ratios"]),
        "predicted": words.quantity(group["predicted"], "MMBtu"),
        "measured": words.quantity(group["measured"], "MMBtu"),
    }


def _home(one: dict[str, Any]) -> dict[str, str]:
    return {
        "job": one["job"],
        "number": one["number"],
        "fuel": fuel_word(one["fuel"]),
        "predicted": words.quantity(one["predicted"], "MMBtu", 1),
        "measured": words.quantity(one["measured"], "MMBtu", 1),
        "range": words.quantity_range(one["low"], one["high"], "MMBtu", 1),
        "ratio": words.percent(one["measured"] / one["predicted"]),
    }
