"""What a scheduler should know of a booking before it is too late: way, weather, papers, news."""

from collections.abc import Iterable, Sequence
from datetime import date
from itertools import pairwise
from typing import Any
from uuid import UUID

from django.utils import timezone

from agency.instruments.models import Instrument
from agency.jobs.bookings import Booking
from agency.jobs.models import Visit
from agency.jobs.planning import Forecast
from agency.rulebook.shipped import RuleSet
from agency.wording import words

TESTS = {Visit.Kind.TEST_IN, Visit.Kind.TEST_OUT, Visit.Kind.FINAL_INSPECTION}


def advice_on(
    bookings: Sequence[Booking], rules: RuleSet, forecasts: Iterable[Forecast]
) -> dict[UUID, list[str]]:
    """Sentences for each booking that has any; the bookings come in the order of their time."""
    told: dict[UUID, list[str]] = {booking.pk: [] for booking in bookings}
    for booking, sentence in travel_gaps(bookings, rules):
        told[booking.pk].append(sentence)
    by_day = list(forecasts)
    for booking in bookings:
        forecast = forecast_for(booking, by_day)
        if forecast is not None:
            told[booking.pk] += weather(forecast, booking.visit.kind, rules)
        told[booking.pk] += calibrations(booking)
        told[booking.pk] += news(booking)
    return told


def travel_gaps(bookings: Sequence[Booking], rules: RuleSet) -> list[tuple[Booking, str]]:
    """Bookings that leave their people too little time for the way from the house before."""
    least = rules.setting("schedule.travel_gap")
    found = []
    people = sorted(bookings, key=lambda one: (one.who, one.starts_at))
    for before, after in pairwise(people):
        same_people = (before.crew_id, before.inspector_id) == (after.crew_id, after.inspector_id)
        same_house = before.visit.job.house_id == after.visit.job.house_id
        minutes = (after.starts_at - before.ends_at).total_seconds() / 60
        if same_people and not same_house and minutes < least:
            found.append(
                (
                    after,
                    f"{minutes:.0f} min for the way from {before.visit.job.house.one_line}; "
                    f"{least:.0f} min are asked for.",
                )
            )
    return found


def forecast_for(booking: Booking, forecasts: Iterable[Forecast]) -> Forecast | None:
    """Of the house's county on the day, else of the whole area; None where nobody typed one."""
    day, county = timezone.localdate(booking.starts_at), booking.visit.job.house.county_id
    ours = {one.county_id: one for one in forecasts if one.day == day}
    return ours.get(county) or ours.get(None)


def weather(forecast: Forecast, kind: str, rules: RuleSet) -> list[str]:
    """Where the typed forecast is beyond what the visit can be made in."""
    limits: list[tuple[str, float | None, str, Any]] = []
    if kind in TESTS:
        limits.append(("schedule.wind", forecast.wind_mph, "Wind", "mph"))
        limits.append(("schedule.cold", forecast.low_f, "Low", "°F"))
    else:
        limits.append(("schedule.heat", forecast.high_f, "High", "°F"))
    said = []
    for code, value, name, unit in limits:
        rule = rules.get(code)
        if rule is None or rule.limit is None or value is None:
            continue
        is_beyond = value > rule.limit if rule.operator == "<=" else value < rule.limit
        if is_beyond:
            said.append(
                f"{name} forecast {words.number(value)} {unit}, limit {words.number(rule.limit)} "
                f"{unit}. {rule.next_step}"
            )
    return said


def calibrations(booking: Booking) -> list[str]:
    """Instruments that nothing vouches for on the day of the visit."""
    day = timezone.localdate(booking.starts_at)
    fine = {Instrument.State.CURRENT}
    return [
        f"{one}: {one.state_on(day).label.lower()} on the day of the visit."
        for one in booking.instruments
        if one.state_on(day) not in fine
    ]


def news(booking: Any) -> list[str]:
    """A move the household has not been told of; needs `marking_news`."""
    if booking.moved_at is None:
        return []
    if booking.told_at is not None and booking.told_at >= booking.moved_at:
        return []
    return ["The household has not been told of the move. Log the call."]


def week_of(day: date) -> list[date]:
    """The seven days of the week a day lies in, Monday first."""
    monday = date.fromordinal(day.toordinal() - day.weekday())
    return [date.fromordinal(monday.toordinal() + number) for number in range(7)]
