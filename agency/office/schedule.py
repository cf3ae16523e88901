"""The schedule: a week or a day by crew, with vehicles, instruments, advice and forecasts."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from typing import Any
from urllib.parse import urlencode

from django.http import HttpResponse
from django.urls import reverse
from django.utils import timezone

from agency.accounts.models import User
from agency.casework.advice import advice_on, week_of
from agency.jobs.models import Booking, Forecast, Vehicle, Visit
from agency.people.models import Crew
from agency.rulebook.models import Rule
from agency.rulebook.shipped import effective_on
from agency.wording import words

from .access import DeskRequest, desk_only
from .pages import render_page
from .schedule_forms import ForecastForm

WORKING_DAYS = 5
"""Saturday and Sunday are columns only where something is booked on them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """One booking on the board, and what to know of it."""

    booking: Any
    advice: list[str]


@dataclass(slots=True, kw_only=True)
class Cell:
    """One crew's day."""

    day: date
    move_query: str
    """What a card dropped here asks for."""
    cards: list[Card] = field(default_factory=list)


@dataclass(slots=True, kw_only=True)
class Row:
    """One crew's or inspector's days."""

    key: str
    name: str
    cells: list[Cell]

    @property
    def cards(self) -> list[Card]:
        """All days in one."""
        return [card for cell in self.cells for card in cell.cards]


def day_asked(request: DeskRequest, name: str) -> date:
    """The day the address names; today where it names none or none that can be read."""
    try:
        return date.fromisoformat(request.GET.get(name, ""))
    except ValueError:
        return timezone.localdate()


@desk_only
def schedule(request: DeskRequest) -> HttpResponse:
    """The week board."""
    days = week_of(day_asked(request, "week"))
    bookings = bookings_of(days)
    if not any(timezone.localdate(one.starts_at) in days[WORKING_DAYS:] for one in bookings):
        days = days[:WORKING_DAYS]
    rows = rows_of(days, bookings)
    context = board(days, rows) | {
        "previous": days[0] - timedelta(days=7),
        "next": days[0] + timedelta(days=7),
        "title": f"Week of {words.day(days[0])}",
    }
    return render_page(request, "office/schedule.html", context, section="schedule")


@desk_only
def schedule_day(request: DeskRequest) -> HttpResponse:
    """One day, the visits of each crew in their order, and what is still free."""
    day = day_asked(request, "on")
    bookings = bookings_of([day])
    context = board([day], rows_of([day], bookings)) | {
        "previous": day - timedelta(days=1),
        "next": day + timedelta(days=1),
        "title": words.day(day),
        "day": day,
        "free": _free(bookings),
    }
    return render_page(request, "office/schedule_day.html", context, section="schedule")


def board(days: Sequence[date], rows: list[Row]) -> dict[str, Any]:
    """What both boards show beside their rows."""
    unbooked = Visit.objects.unbooked().between(days[0], days[-1])
    return {
        "days": days,
        "rows": rows,
        "today": timezone.localdate(),
        "forecasts": _forecast_words(days),
        "unbooked": unbooked.select_related("job__house", "job__client", "crew", "inspector"),
        "forecast_form": ForecastForm(initial={"day": days[0]}, prefix="forecast"),
    }


def bookings_of(days: Sequence[date]) -> list[Booking]:
    """Standing bookings that begin on these days, in the order of their time."""
    zone = timezone.get_current_timezone()
    first = datetime.combine(days[0], time.min, tzinfo=zone)
    last = datetime.combine(days[-1] + timedelta(days=1), time.min, tzinfo=zone)
    rows = Booking.objects.standing().between(first, last).with_records().with_claims()
    return list(rows.marking_news().order_by("starts_at", "id"))


def rows_of(days: Sequence[date], bookings: list[Booking]) -> list[Row]:
    """A row for every crew, and for every inspector who has something to do."""
    rules = effective_on(Rule.objects.effective_on(days[0]), days[0])
    forecasts = list(Forecast.objects.filter(day__range=(days[0], days[-1])))
    advice = advice_on(bookings, rules, forecasts)
    rows = {str(crew.pk): _row("crew", crew, days) for crew in Crew.objects.all()}
    for booking in bookings:
        kind, person = ("crew", booking.crew) if booking.crew else ("inspector", booking.inspector)
        if person is None:
            continue
        row = rows.setdefault(str(person.pk), _row(kind, person, days))
        day = timezone.localdate(booking.starts_at)
        cell = next(cell for cell in row.cells if cell.day == day)
        cell.cards.append(Card(booking=booking, advice=advice[booking.pk]))
    return list(rows.values())


def _row(kind: str, person: Crew | User, days: Sequence[date]) -> Row:
    cells = [
        Cell(day=day, move_query=urlencode({"day": day.isoformat(), kind: person.pk}))
        for day in days
    ]
    return Row(key=f"{kind}-{person.pk}", name=str(person), cells=cells)


def _forecast_words(days: Sequence[date]) -> dict[date, list[str]]:
    """What was typed for each day; a day without says so on the page."""
    said: dict[date, list[str]] = {day: [] for day in days}
    rows = Forecast.objects.filter(day__range=(days[0], days[-1])).select_related("county")
    for one in rows:
        parts = [f"{one.county}:" if one.county else ""]
        if one.wind_mph is not None:
            parts.append(f"wind {words.number(one.wind_mph)} mph,")
        if one.low_f is not None or one.high_f is not None:
            parts.append(f"{words.quantity_range(one.low_f, one.high_f, '°F')},")
        parts.append(one.words)
        text = " ".join(part for part in parts if part).rstrip(",")
        said[one.day].append(f"{text} ({one.source})")
    return said


def _free(bookings: list[Booking]) -> list[str]:
    """Vehicles that nobody takes on the day."""
    taken = {one.vehicle_id for one in bookings}
    vehicles = Vehicle.objects.filter(retired_on=None)
    return [vehicle.name for vehicle in vehicles if vehicle.pk not in taken]


def week_url(day: date) -> str:
    """The week board with this day on it."""
    return f"{reverse('office:schedule')}?{urlencode({'week': day.isoformat()})}"
