"""A crew's own day: the visits of today and tomorrow, with what stops the work."""

from datetime import date, timedelta
from typing import Any

from django.db.models import Prefetch, Q, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from agency.accounts.models import User
from agency.jobs.models import Job, Visit


class CrewRequest(HttpRequest):
    """A request of someone signed in."""

    user: User


def today(request: CrewRequest) -> HttpResponse:
    """Own visits; whoever works at a desk is shown the desk's day instead."""
    if request.user.works_at_desk:
        return redirect("office:today")
    day = timezone.localdate()
    tomorrow = day + timedelta(days=1)
    days = [_day("Today", day, request.user), _day("Tomorrow", tomorrow, request.user)]
    return render(request, "field/today.html", {"days": days, "section": "today"})


def visits_of(user: User) -> "QuerySet[Visit]":
    """Visits of the person's own crew, or of its jobs where the visit names no crew."""
    own = Q(crew__members__user=user) | Q(crew=None, job__crew__members__user=user)
    return Visit.objects.filter(own).exclude(kind=Visit.Kind.FINAL_INSPECTION)


def _day(name: str, on: date, user: User) -> dict[str, Any]:
    jobs = Job.objects.select_related("house", "client").with_stops()
    visits = visits_of(user).filter(planned_on=on).prefetch_related(Prefetch("job", jobs))
    return {"name": name, "on": on, "visits": visits}
