"""Clients and houses: lists, pages, and the forms that register and change them."""

from typing import Any, TypeVar
from uuid import UUID

from django.contrib import messages
from django.db.models import Model, Q
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.http import require_POST

from agency import intake_workflows
from agency.errors import AgencyError
from agency.houses.models import House, OwnerPermission
from agency.intake.dwelling_check import completions
from agency.people.models import Client

from .access import DeskRequest, desk_only, reviewers_only
from .pages import page_of, render_page
from .record_forms import ClientForm, HouseForm, PermissionForm
from .result_words import house_rows

Record = TypeVar("Record", bound=Model)


def known_record(model: type[Record], wanted: str | None) -> Record | None:
    """The record an address names; None when it names none, or none that exists."""
    try:
        return model._default_manager.filter(pk=UUID(wanted or "")).first()
    except ValueError:
        return None


@desk_only
def clients(request: DeskRequest) -> HttpResponse:
    """Clients by name, found by name or telephone."""
    asked = request.GET.get("q", "").strip()
    rows = Client.objects.all()
    for word in asked.split():
        rows = rows.filter(Q(name__icontains=word) | Q(phone__icontains=word))
    context = {"page": page_of(rows, request.GET.get("page")), "asked": asked}
    return render_page(request, "office/clients.html", context, section="clients")


@desk_only
def client(request: DeskRequest, pk: UUID) -> HttpResponse:
    """One client with applications and jobs."""
    found = get_object_or_404(Client, pk=pk)
    context = {
        "client": found,
        "applications": found.applications.select_related("house", "program"),
        "jobs": found.jobs.select_related("house", "program"),
    }
    return render_page(request, "office/client.html", context, section="clients")


@reviewers_only
def new_client(request: DeskRequest) -> HttpResponse:
    """Register a client."""
    form = ClientForm(request.POST or None, initial={"language": "en"})
    if request.method == "POST" and form.is_valid():
        made = Client.objects.create(**form.cleaned_data)
        messages.success(request, f"{made} is registered.")
        return redirect("office:client", made.pk)
    return _form_page(request, form, title="New client", back="office:clients")


@reviewers_only
def change_client(request: DeskRequest, pk: UUID) -> HttpResponse:
    """Correct a client's name, telephone, address or language."""
    found = get_object_or_404(Client, pk=pk)
    names = ("name", "phone", "email", "language")
    known = {name: getattr(found, name) for name in names}
    form = ClientForm(request.POST or None, initial=known)
    if request.method == "POST" and form.is_valid():
        for name in names:
            setattr(found, name, form.cleaned_data[name])
        found.save()
        messages.success(request, "The change is recorded.")
        return redirect("office:client", pk)
    return _form_page(request, form, title=f"Change {found}", back="office:client", back_pk=pk)


@desk_only
def houses(request: DeskRequest) -> HttpResponse:
    """Houses by address, found by address or parcel."""
    asked = request.GET.get("q", "").strip()
    rows = House.objects.select_related("county")
    for word in asked.split():
        rows = rows.filter(
            Q(address__icontains=word) | Q(city__icontains=word) | Q(parcel__icontains=word)
        )
    context = {"page": page_of(rows, request.GET.get("page")), "asked": asked}
    return render_page(request, "office/houses.html", context, section="houses")


@desk_only
def house(request: DeskRequest, pk: UUID) -> HttpResponse:
    """One house with earlier work, owner's permissions, applications and jobs."""
    return show_house(request, _find_house(pk), _permission_form(request))


@require_POST
@reviewers_only
def permit_house(request: DeskRequest, pk: UUID) -> HttpResponse:
    """Record the owner's written permission."""
    found, form = _find_house(pk), _permission_form(request)
    if form.is_valid():
        made = OwnerPermission.objects.create(house=found, **form.cleaned_data)
        messages.success(request, f"{made} is recorded.")
        return redirect("office:house", pk)
    return show_house(request, found, form, status=422)


def show_house(
    request: DeskRequest, found: House, form: PermissionForm, *, status: int = 200
) -> HttpResponse:
    """The house page, with the form as it was typed."""
    context = {
        "house": found,
        "rows": house_rows(found),
        "earlier": completions(found),
        "permissions": found.owner_permissions.all(),
        "form": form,
        "applications": found.applications.select_related("client", "program"),
        "jobs": found.jobs.select_related("client", "program"),
        "today": timezone.localdate(),
    }
    return render_page(request, "office/house.html", context, section="houses", status=status)


@reviewers_only
def new_house(request: DeskRequest) -> HttpResponse:
    """Register a house."""
    form = HouseForm(request.POST or None, today=timezone.localdate())
    if request.method == "POST" and form.is_valid():
        try:
            made = intake_workflows.register_house(form.cleaned_data)
        except AgencyError as refusal:
            form.add_error("address", str(refusal))
        else:
            messages.success(request, f"{made} is registered.")
            return redirect("office:house", made.pk)
    return _form_page(request, form, title="New house", back="office:houses")


@reviewers_only
def change_house(request: DeskRequest, pk: UUID) -> HttpResponse:
    """Correct where a house stands and of what kind it is."""
    found = _find_house(pk)
    names = list(HouseForm.base_fields)
    known = {name: getattr(found, name) for name in names}
    form = HouseForm(request.POST or None, initial=known, today=timezone.localdate())
    if request.method == "POST" and form.is_valid():
        for name in names:
            setattr(found, name, form.cleaned_data[name])
        twin = intake_workflows.twin_of(found)
        if twin is None:
            found.save()
            messages.success(request, "The change is recorded.")
            return redirect("office:house", pk)
        form.add_error("address", f"{twin.one_line} is on file already. Use that house instead.")
    title = f"Change {known['address']}"
    return _form_page(request, form, title=title, back="office:house", back_pk=pk)


def _find_house(pk: UUID) -> House:
    return get_object_or_404(House.objects.select_related("county", "building"), pk=pk)


def _permission_form(request: DeskRequest) -> PermissionForm:
    data = request.POST if request.method == "POST" else None
    return PermissionForm(data, today=timezone.localdate())


def _form_page(
    request: DeskRequest, form: Any, *, title: str, back: str, back_pk: UUID | None = None
) -> HttpResponse:
    """A page that holds one form and nothing else."""
    context = {"form": form, "title": title, "back": back, "back_pk": back_pk}
    section = back.removeprefix("office:")
    status = 422 if request.method == "POST" else 200
    return render_page(request, "office/record_form.html", context, section=section, status=status)
