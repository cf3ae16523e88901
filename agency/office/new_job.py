"""Opening a job without an application: choose the house, the client, then number and crew."""

from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.db.models import QuerySet
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone

from agency import intake_workflows
from agency.errors import AgencyError
from agency.houses.models import House
from agency.people.models import Client

from .access import DeskRequest, reviewers_only
from .pages import render_page
from .record_forms import NewJobForm
from .records import known_record
from .search import SHOWN, each_word_in


@reviewers_only
def new_job(request: DeskRequest) -> HttpResponse:
    """The form once house and client are chosen; until then the next choice."""
    house = known_record(House, request.GET.get("house"))
    client = known_record(Client, request.GET.get("client"))
    if house is None:
        return _choose(request, "house", House.objects.all(), "address", "city", "parcel")
    if client is None:
        return _choose(request, "client", Client.objects.all(), "name", "phone")
    today = timezone.localdate()
    initial = {"number": intake_workflows.next_job_number(), "on": today}
    form = NewJobForm(request.POST or None, today=today, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            job = intake_workflows.open_job(
                request.user, house=house, client=client, **form.cleaned_data
            )
        except AgencyError as refusal:
            form.add_error(None, str(refusal))
        else:
            messages.success(request, f"{job} is opened.")
            return redirect("office:job", job.pk)
    context = {"form": form, "house": house, "client": client}
    status = 422 if request.method == "POST" else 200
    return render_page(request, "office/new_job.html", context, section="jobs", status=status)


def _choose(request: DeskRequest, kind: str, rows: "QuerySet[Any]", *fields: str) -> HttpResponse:
    """Records that match, each leading on with the other choices kept."""
    asked = " ".join(request.GET.get("q", "").split())
    kept = {name: request.GET[name] for name in ("house", "client") if name in request.GET}
    found = list(rows.filter(each_word_in(asked, *fields))[:SHOWN]) if asked else []
    context = {
        "kind": kind,
        "asked": asked,
        "kept": kept,
        "choices": [
            (f"{reverse('office:new_job')}?{urlencode(kept | {kind: str(one.pk)})}", str(one))
            for one in found
        ],
        "new_url": reverse(f"office:new_{kind}"),
    }
    return render_page(request, "office/choose.html", context, section="jobs")
