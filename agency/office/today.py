"""The first page of the day: what needs me."""

from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils import timezone

from .access import DeskRequest
from .pages import render_page
from .piles import piles


def today(request: DeskRequest) -> HttpResponse:
    """Piles that wait for someone; a crew is shown its own day instead."""
    if not request.user.works_at_desk:
        return redirect("field:today")
    day, now = timezone.localdate(), timezone.now()
    all_piles = list(piles(day=day, now=now))
    context = {
        "needing": [pile for pile in all_piles if pile.count],
        "clear": [pile for pile in all_piles if not pile.count],
        "day": day,
        "now": now,
    }
    return render_page(request, "office/today.html", context, section="today")
