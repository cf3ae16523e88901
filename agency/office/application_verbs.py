"""Taking an application, and the steps taken from its page."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.db import transaction
from django.forms import Form
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.http import require_POST

from agency import intake_workflows
from agency.errors import AgencyError
from agency.houses.models import House
from agency.intake.models import Application, Determination
from agency.people.models import Client

from .access import DeskRequest, privy_only
from .application_steps import STEPS
from .applications import find_application, show_application
from .intake_forms import ApplicationForm, HouseholdForm
from .pages import render_page
from .record_forms import ClientForm, HouseForm
from .records import known_record
from .sensitive import note_view


@require_POST
@privy_only
def application_step(request: DeskRequest, pk: UUID, step: str) -> HttpResponse:
    """Take a step; a refused one comes back in words, with what was typed."""
    if step not in STEPS:
        raise Http404
    application, chosen = find_application(pk), STEPS[step]
    form = chosen.form(request.POST, application)
    if form.is_valid():
        try:
            messages.success(request, chosen.act(request, application, form.cleaned_data))
        except AgencyError as refusal:
            form.add_error(None, str(refusal))
        else:
            return redirect("office:application", pk)
    return show_application(request, application, refused={step: form}, status=422)


@privy_only
def new_application(request: DeskRequest) -> HttpResponse:
    """Take an application: client, dwelling and household on one page."""
    client = known_record(Client, request.GET.get("client"))
    house = known_record(House, request.GET.get("house"))
    forms = _forms(request, has_client=client is not None, has_house=house is not None)
    refusal, wrong = "", [form for form in forms.values() if form.errors]
    if request.method == "POST" and not wrong:
        try:
            taken = _take(request, forms, client=client, house=house)
        except AgencyError as problem:
            refusal = str(problem)
        else:
            messages.success(request, f"{taken} is taken. Record its papers here.")
            return redirect("office:application", taken.pk)
    is_refused = request.method == "POST"
    context = {
        "forms": forms,
        "client": client,
        "house": house,
        "errors": errors_of(forms) + ([("main", refusal)] if refusal else []),
    }
    return render_page(
        request,
        "office/new_application.html",
        context,
        section="applications",
        status=422 if is_refused else 200,
    )


def errors_of(forms: dict[str, Form]) -> list[tuple[str, str]]:
    """Anchors and messages of several forms, for one summary."""
    return [
        (f"{bound.auto_id}_0" if bound.use_fieldset else bound.id_for_label, str(message))
        for form in forms.values()
        for bound in form
        for message in bound.errors
    ]


def _forms(request: DeskRequest, *, has_client: bool, has_house: bool) -> dict[str, Form]:
    data = request.POST if request.method == "POST" else None
    today = timezone.localdate()
    forms: dict[str, Form] = {}
    if not has_client:
        forms["client"] = ClientForm(data, prefix="client", initial={"language": "en"})
    if not has_house:
        forms["house"] = HouseForm(data, prefix="house", today=today)
    forms["application"] = ApplicationForm(
        data, prefix="application", today=today, initial={"received_on": today}
    )
    forms["household"] = HouseholdForm(data, prefix="household")
    return forms


@transaction.atomic
def _take(
    request: DeskRequest, forms: dict[str, Any], *, client: Client | None, house: House | None
) -> Application:
    """All of it or nothing."""
    return intake_workflows.apply(
        request.user,
        client=client or Client.objects.create(**forms["client"].cleaned_data),
        house=house or intake_workflows.register_house(forms["house"].cleaned_data),
        household=forms["household"].cleaned_data,
        **forms["application"].cleaned_data,
    )


@privy_only
def determination(request: DeskRequest, pk: UUID) -> HttpResponse:
    """One frozen determination: method, tables, arithmetic, expiry."""
    known = Determination.objects.select_related(
        "made_by", "application__client", "application__house", "application__program"
    )
    found = get_object_or_404(known, pk=pk)
    note_view(request, found.application.number, found.application_id, "determination")
    context = {
        "determination": found,
        "application": found.application,
        "method": Application.IncomeMethod(found.method).label,
        "today": timezone.localdate(),
    }
    return render_page(request, "office/determination.html", context, section="applications")
