"""Safety stops at the desk: those open on one job with what may be done, and lists of all."""

from collections.abc import Iterable
from dataclasses import dataclass
from uuid import UUID

from django.forms import BaseForm
from django.http import HttpResponse
from django.urls import reverse

from agency.accounts.models import User
from agency.diagnostics.models import TestRun
from agency.jobs.models import Job, SafetyStop
from agency.wording import words

from .access import DeskRequest, desk_only
from .forms import AcknowledgeStopForm, ClearStopForm
from .pages import page_of, render_page

LISTS = {
    "open": (
        "Open",
        SafetyStop.objects.open,
        ("raised_at", "id"),
        "Every safety stop that was raised is cleared.",
    ),
    "cleared": (
        "Cleared",
        SafetyStop.objects.cleared,
        ("-cleared_at", "id"),
        "No safety stop has been cleared yet.",
    ),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """One open stop, the test it came from, and the forms this person may fill in now."""

    stop: SafetyStop
    run: TestRun | None
    acknowledge: BaseForm | None
    clear: BaseForm | None
    may_clear: bool


def acknowledge_prefix(pk: UUID) -> str:
    """Names the fields of one stop's form apart from another's."""
    return f"acknowledge-{pk}"


def clear_prefix(pk: UUID) -> str:
    """The same for clearing."""
    return f"clear-{pk}"


def cards(job: Job, *, user: User, runs: Iterable[TestRun], refused: BaseForm | None) -> list[Card]:
    """The open stops of a job; `refused` is a form that came back with its errors."""
    stops = job.open_stops
    if not stops:
        return []
    may_clear = user.may_clear_stops and not job.was_worked_by(user)
    by_pk = {run.pk: run for run in runs}
    back = {} if refused is None else {refused.prefix: refused}
    return [
        Card(
            stop=stop,
            run=by_pk.get(stop.source) if stop.source else None,
            acknowledge=back.get(acknowledge_prefix(stop.pk)) or _acknowledge(stop),
            clear=back.get(clear_prefix(stop.pk)) or (_clear(stop) if may_clear else None),
            may_clear=may_clear,
        )
        for stop in stops
    ]


def _acknowledge(stop: SafetyStop) -> BaseForm | None:
    if stop.is_acknowledged:
        return None
    return AcknowledgeStopForm(prefix=acknowledge_prefix(stop.pk))


def _clear(stop: SafetyStop) -> BaseForm | None:
    return ClearStopForm(prefix=clear_prefix(stop.pk)) if stop.is_acknowledged else None


@desk_only
def safety_stops(request: DeskRequest) -> HttpResponse:
    """Open stops, the oldest first, or cleared ones, the newest first."""
    shown = request.GET.get("show", "open")
    shown = shown if shown in LISTS else "open"
    title, rows, order, nothing = LISTS[shown]
    found = rows().visible_to(request.user).with_people().order_by(*order)
    page = page_of(found, request.GET.get("page"))
    here = reverse("office:safety_stops")
    tabs = [
        {"url": f"{here}?show={key}", "word": word, "current": key == shown}
        for key, (word, *_) in LISTS.items()
    ]
    context = {
        "page": page,
        "shown": shown,
        "title": title,
        "nothing": nothing,
        "tabs": tabs,
        "found": words.count(page.paginator.count, "safety stop"),
    }
    return render_page(request, "office/safety_stops.html", context, section="today")
