"""What the scheduler is told of a booking: way, weather, calibration, news; nothing made up."""

from datetime import date, timedelta

import pytest
from django.utils import timezone

from agency.casework.advice import advice_on, week_of
from agency.casework.filing import log_contact
from agency.instruments.models import Instrument
from agency.jobs.models import Booking, Claim, ContactAttempt, Forecast
from agency.rulebook.models import Rule
from agency.rulebook.shipped import effective_on
from tests.casework_records import MONDAY, make_booking, make_visit

pytestmark = pytest.mark.django_db


def said(booking):
    rules = effective_on(Rule.objects.all(), MONDAY)
    rows = Booking.objects.with_records().with_claims().marking_news().order_by("starts_at")
    return advice_on(list(rows), rules, list(Forecast.objects.all()))[booking.pk]


def test_an_ordinary_booking_needs_no_advice(cast, make_job):
    assert said(make_booking(make_visit(make_job()), cast.office)) == []


def test_too_little_time_for_the_way_is_told(cast, make_job):
    first = make_job()
    make_booking(make_visit(first), cast.office, hour=8, hours=3)
    second = make_booking(make_visit(make_job()), cast.office, hour=11)
    assert said(second) == [f"0 min for the way from {first.house.one_line}; 30 min are asked for."]


def test_two_visits_at_one_house_need_no_way(cast, make_job):
    job = make_job()
    make_booking(make_visit(job), cast.office, hour=8, hours=3)
    assert said(make_booking(make_visit(job, "test_out"), cast.office, hour=11)) == []


@pytest.mark.parametrize(
    ("kind", "forecast", "words"),
    [
        ("test_in", {"wind_mph": 15.0}, None),
        ("test_in", {"wind_mph": 16.0}, "Wind forecast 16 mph, limit 15 mph."),
        ("test_out", {"low_f": 4.0}, "Low forecast 4 °F, limit 10 °F."),
        ("work", {"wind_mph": 30.0}, None),
        ("work", {"high_f": 99.0}, "High forecast 99 °F, limit 95 °F."),
        ("test_in", {}, None),
    ],
)
def test_a_typed_forecast_is_held_against_the_rule_book(cast, make_job, kind, forecast, words):
    Forecast.objects.create(day=MONDAY, source="Radio", typed_by=cast.office, **forecast)
    told = said(make_booking(make_visit(make_job(), kind), cast.office))
    assert [one.startswith(words or "?") for one in told] == ([True] if words else [])


def test_without_a_forecast_nothing_is_said_of_the_weather(cast, make_job):
    Forecast.objects.create(
        day=MONDAY + timedelta(days=1), wind_mph=40, source="Radio", typed_by=cast.office
    )
    assert said(make_booking(make_visit(make_job(), "test_in"), cast.office)) == []


def test_an_instrument_past_its_calibration_is_told(cast, make_job):
    gauge = Instrument.objects.create(kind="gauge", serial="QG-014")
    booking = make_booking(make_visit(make_job()), cast.office)
    booking.claim([Claim.to("instrument", gauge)])
    assert said(booking) == ["Pressure gauge QG-014: never calibrated on the day of the visit."]
    gauge.calibrations.create(
        calibrated_on=date(2026, 1, 5), due_on=date(2027, 1, 5), laboratory="Quillmoor lab"
    )
    assert said(booking) == []


def test_a_moved_booking_asks_for_the_call_until_it_is_logged(cast, make_job):
    booking = make_booking(make_visit(make_job()), cast.office)
    booking.rebookings.create(
        code="weather", by=cast.office, old_starts_at=booking.starts_at, old_who="Crew Alder"
    )
    assert said(booking) == ["The household has not been told of the move. Log the call."]
    attempt = {"channel": "phone", "language": "es", "with_interpreter": True}
    job = booking.visit.job
    for outcome, is_told in (("no_answer", False), ("reached", True)):
        row = ContactAttempt(visit=booking.visit, outcome=outcome, **attempt)
        row.at = timezone.now()
        log_contact(job.pk, cast.office, row)
        assert (said(booking) == []) == is_told
    assert job.contacts.filter(with_interpreter=True, language="es").count() == 2


def test_a_week_begins_on_monday():
    assert week_of(date(2026, 11, 25))[0] == MONDAY
    assert week_of(MONDAY)[-1] == date(2026, 11, 29)
