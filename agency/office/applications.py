"""The applications list, and one application with its checklist, decisions and history."""

from datetime import date, timedelta
from typing import Any
from uuid import UUID

from django.forms import BaseForm
from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone

from agency.intake.book import rules_on, whole
from agency.intake.checklist import checklist
from agency.intake.models import Application
from agency.intake.priority import energy_burden, facts_of
from agency.intake.querysets import ApplicationQuerySet
from agency.wording import words

from .access import DeskRequest, desk_only
from .application_steps import offered
from .intake_forms import BAND_WORDS, ApplicationFilter
from .pages import page_of, render_page
from .sensitive import note_view

SENSITIVE_PART = "household, income, benefits, energy bills"


@desk_only
def applications(request: DeskRequest) -> HttpResponse:
    """Applications that match what the address asks for."""
    form = ApplicationFilter(request.GET)
    form.is_valid()
    chosen, today = form.cleaned_data, timezone.localdate()
    sort = chosen.get("sort") or "newest"
    rows = filtered(Application.objects.all(), chosen, today=today)
    ordered = rows.with_people().with_expiry().order_by(*ApplicationFilter.ORDERS[sort])
    page = page_of(ordered, request.GET.get("page"))
    in_force = [name for name in ("q", "show", "status", "program") if chosen.get(name)]
    context = {
        "form": form,
        "page": page,
        "found": _found(page.paginator.count, is_filtered=bool(in_force)),
        "clear_url": reverse("office:applications") if in_force or form.errors else "",
        "why_empty": _why_empty(chosen),
        "order": ApplicationFilter.ORDER_WORDS[sort],
        "today": today,
    }
    return render_page(request, "office/applications.html", context, section="applications")


def filtered(
    rows: ApplicationQuerySet, chosen: dict[str, Any], *, today: date
) -> ApplicationQuerySet:
    """The applications that pass every filter in force."""
    rows = rows.matching(chosen.get("q") or "")
    shown = chosen.get("show")
    if shown == "open":
        rows = rows.open()
    elif shown == "undecided":
        rows = rows.undecided()
    elif shown == "overdue":
        rows = rows.papers_overdue(today)
    elif shown == "renew":
        rows = rows.to_renew(renewal_day(today))
    elif shown == "no_permission":
        rows = rows.open().lacking_permission(today)
    exact = {name: chosen[name] for name in ("status", "program") if chosen.get(name)}
    return rows.filter(**exact)


def renewal_day(today: date) -> date:
    """A determination that ends by then is to be renewed."""
    days = whole(rules_on(today), "eligibility.renewal_notice_days", on=today)
    return today + timedelta(days=days)


def _found(count: int, *, is_filtered: bool) -> str:
    if not is_filtered:
        return words.count(count, "application")
    return f"{words.number(count)} of {words.count(Application.objects.count(), 'application')}"


def _why_empty(chosen: dict[str, Any]) -> str:
    parts = []
    if chosen.get("q"):
        parts.append(f"number, client or address contains “{chosen['q']}”")
    if chosen.get("show"):
        parts.append(f"list is {ApplicationFilter.SHOWN[chosen['show']].lower()}")
    if chosen.get("status"):
        parts.append(f"status is {Application.Status(chosen['status']).label.lower()}")
    if chosen.get("program"):
        parts.append(f"program is {chosen['program']}")
    if not parts:
        return "No application has been taken yet."
    return f"No application fits all of this: {'; '.join(parts)}. Clear a filter to see more."


@desk_only
def application(request: DeskRequest, pk: UUID) -> HttpResponse:
    """The application and what may be done with it."""
    return show_application(request, find_application(pk))


def find_application(pk: UUID) -> Application:
    """The application with all its facts and decisions."""
    known = Application.objects.with_people().with_facts().with_decisions()
    return get_object_or_404(known.select_related("job"), pk=pk)


def show_application(
    request: DeskRequest,
    application: Application,
    *,
    refused: dict[str, BaseForm] | None = None,
    status: int = 200,
) -> HttpResponse:
    """The application page; `refused` is a form that was not accepted, by its step."""
    is_privy, today = request.user.may_see_sensitive, timezone.localdate()
    rules = rules_on(today)
    pieces = checklist(application, on=today, rules=rules)
    missing = sum(not piece.is_there for piece in pieces)
    context: dict[str, Any] = {
        "application": application,
        "determination": application.determination,
        "is_privy": is_privy,
        "pieces": pieces if is_privy else [],
        "missing": _missing_words(missing, len(pieces)),
        "steps": offered(request, application, refused=refused or {}) if is_privy else [],
        "refused": next(iter((refused or {}).values()), None),
        "events": application.events.select_related("by"),
    }
    if is_privy:
        note_view(request, application.number, application.pk, SENSITIVE_PART)
        facts = facts_of(application, on=today, rules=rules)
        burden = energy_burden(facts)
        context |= {
            "household_rows": household_rows(application),
            "burden": "not known" if burden is None else words.percent(burden, 1),
            "determinations": list(application.determinations.all()),
            "scores": list(application.scores.all()),
        }
    return render_page(
        request, "office/application.html", context, section="applications", status=status
    )


def household_rows(application: Application) -> list[tuple[str, str]]:
    """Who lives there, by band; bands without anyone are left out."""
    household = application.household
    counted = [(word, getattr(household, band)) for band, word in BAND_WORDS.items()]
    people = words.count(household.size, "person", "people")
    return [("Household", people), *((word, words.number(n)) for word, n in counted if n)]


def _missing_words(missing: int, asked: int) -> str:
    if not missing:
        return "Nothing is missing."
    return f"{words.number(missing)} of {words.count(asked, 'piece')} not there yet."
