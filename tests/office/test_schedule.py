"""The schedule's pages: week, day, booking, moving, forecasts, calendars."""

import re
from datetime import UTC, datetime, timedelta

import pytest
from django.urls import reverse
from icalendar import Calendar

from agency.instruments.models import Instrument
from agency.jobs.models import Booking, CalendarAddress, Forecast
from tests.casework_records import MONDAY, at, make_booking, make_vehicle, make_visit

pytestmark = pytest.mark.django_db


@pytest.fixture
def week(sign_in, cast):
    """The page of the tests' week as the office sees it."""

    def read(user=None):
        address = f"{reverse('office:schedule')}?week={MONDAY}"
        return sign_in(user or cast.office).get(address).content.decode()

    return read


def typed(**changes):
    return {"day": f"{MONDAY}", "starts": "09:00", "ends": "12:00"} | changes


def test_week_shows_each_booking_in_its_crews_row(cast, make_job, week):
    booking = make_booking(make_visit(make_job()), cast.office)
    page = week()
    row = page[page.index(">Crew Alder<") : page.index(">Crew Birch<")]
    assert booking.visit.job.number in row
    assert "9:00\xa0AM CST" in row
    assert "No forecast typed" in page
    assert reverse("office:move_booking", args=[booking.pk]) in row


def test_an_inspector_looks_and_is_offered_no_move(cast, make_job, week):
    booking = make_booking(make_visit(make_job()), cast.office)
    assert reverse("office:move_booking", args=[booking.pk]) not in week(cast.inspector)


@pytest.mark.parametrize("bookings", [1, 12])
def test_queries_of_the_week_do_not_grow(
    sign_in, cast, make_job, django_assert_max_num_queries, bookings
):
    for number in range(bookings):
        visit = make_visit(make_job(), on=MONDAY + timedelta(days=number % 4))
        made = make_booking(visit, cast.office, hour=7 + 3 * (number // 4), hours=2)
        gauge = Instrument.objects.create(kind="gauge", serial=f"QG-{number}")
        made.claims.create(
            kind="instrument",
            thing=gauge.pk,
            instrument=gauge,
            name=str(gauge),
            starts_at=made.starts_at,
            ends_at=made.ends_at,
        )
    browser = sign_in(cast.office)
    with django_assert_max_num_queries(14):
        assert browser.get(f"{reverse('office:schedule')}?week={MONDAY}").status_code == 200
    with django_assert_max_num_queries(15):
        assert browser.get(f"{reverse('office:schedule_day')}?on={MONDAY}").status_code == 200


def test_nonsense_in_the_address_shows_this_week(sign_in, cast):
    browser = sign_in(cast.office)
    assert browser.get(f"{reverse('office:schedule')}?week=soon").status_code == 200
    assert browser.get(f"{reverse('office:schedule_day')}?on=2026-13-45").status_code == 200


def test_a_visit_is_booked_from_its_page(sign_in, cast, make_job):
    visit, van = make_visit(make_job()), make_vehicle()
    address = reverse("office:book_visit", args=[visit.pk])
    answer = sign_in(cast.office).post(address, typed(crew=cast.crew.pk, vehicle=van.pk))
    assert answer.status_code == 302
    booking = Booking.objects.get()
    assert (booking.starts_at, booking.ends_at) == (at(MONDAY, 9), at(MONDAY, 12))
    assert (booking.crew, booking.vehicle, booking.booked_by) == (cast.crew, van, cast.office)


def test_a_clash_is_refused_in_words_and_keeps_what_was_typed(sign_in, cast, make_job):
    first = make_booking(make_visit(make_job()), cast.office)
    visit = make_visit(make_job())
    answer = sign_in(cast.office).post(
        reverse("office:book_visit", args=[visit.pk]), typed(crew=cast.crew.pk, starts="10:15")
    )
    page = answer.content.decode()
    assert answer.status_code == 422
    assert f"Crew Alder is at {first.visit.job}" in page
    assert "There is a problem" in page
    assert "<title>Error: Book work" in page
    assert 'value="10:15"' in page


def test_moving_asks_why_and_logs_the_call(sign_in, cast, make_job):
    booking = make_booking(make_visit(make_job()), cast.office)
    address = reverse("office:move_booking", args=[booking.pk])
    browser = sign_in(cast.office)
    tuesday = MONDAY + timedelta(days=1)
    move = typed(day=f"{tuesday}", crew=cast.other_crew.pk)
    refused = browser.post(address, move)
    assert refused.status_code == 422
    assert "Choose why the booking is changed." in refused.content.decode()
    assert browser.post(address, move | {"code": "weather", "told": "phone"}).status_code == 302
    booking.refresh_from_db()
    assert (booking.crew, booking.starts_at) == (cast.other_crew, at(tuesday, 9))
    assert booking.visit.contacts.get().outcome == "reached"


def test_a_dropped_card_fills_the_form_in(sign_in, cast, make_job, week):
    booking = make_booking(make_visit(make_job()), cast.office)
    drops = re.findall(r'data-drop="([^"]+)"', week())
    friday = next(
        one for one in drops if "2026-11-27" in one and str(cast.other_crew.pk) in one
    ).replace("&amp;", "&")
    address = reverse("office:move_booking", args=[booking.pk])
    page = sign_in(cast.office).get(f"{address}?{friday}").content.decode()
    assert 'value="2026-11-27"' in page
    assert re.search(rf'<option value="{cast.other_crew.pk}" selected>', page)
    assert 'value="09:00"' in page


def test_a_forecast_is_typed_shown_and_replaced(sign_in, cast, week):
    browser, address = sign_in(cast.office), reverse("office:type_forecast")
    day = {"forecast-day": f"{MONDAY}", "forecast-source": "County radio"}
    assert browser.post(address, day | {"forecast-wind_mph": "12"}).status_code == 302
    assert browser.post(address, day | {"forecast-wind_mph": "22"}).status_code == 302
    assert Forecast.objects.get().wind_mph == 22
    assert "wind 22 mph (County radio)" in week()
    refused = browser.post(address, day | {"forecast-low_f": "50", "forecast-high_f": "40"})
    assert "The low, 50 °F, is above the high, 40 °F." in refused.content.decode()


def test_unbooked_visits_wait_beside_the_board(cast, make_job, week):
    visit = make_visit(make_job())
    assert reverse("office:book_visit", args=[visit.pk]) in week()
    make_booking(visit, cast.office)
    assert "Every visit of these days has its time." in week()


@pytest.fixture
def feed(client, cast):
    """The calendar as a stranger with the address reads it."""
    key = CalendarAddress.make(cast.crew, made_by=cast.office, now=datetime.now(UTC))
    return lambda: client.get(reverse("office:calendar_feed", args=[key]))


def test_a_crews_calendar_is_read_by_a_calendar_program(cast, make_job, feed):
    van = make_vehicle()
    booking = make_booking(make_visit(make_job(), on=datetime.now(UTC).date()), cast.office)
    Booking.objects.filter(pk=booking.pk).update(vehicle=van)
    make_booking(make_visit(make_job(crew=cast.other_crew)), cast.office)
    answer = feed()
    assert answer["Content-Type"] == "text/calendar; charset=utf-8"
    calendar = Calendar.from_ical(answer.content)
    assert (calendar["VERSION"], calendar["METHOD"]) == ("2.0", "PUBLISH")
    (event,) = calendar.walk("VEVENT")
    assert event["UID"] == f"{booking.pk}@hearthledger"
    assert event.decoded("DTSTART") == booking.starts_at
    assert event.decoded("DTEND") == booking.ends_at
    assert event["STATUS"] == "CONFIRMED"
    job = booking.visit.job
    assert job.house.address in event["LOCATION"]
    assert "Vehicle: Van 1" in event["DESCRIPTION"]
    # No line may be longer than 75 octets: RFC 5545, 3.1, from memory.
    assert max(map(len, answer.content.split(b"\r\n"))) <= 75
    assert job.client.name.encode() not in answer.content
    assert job.client.phone.encode() not in answer.content


def test_a_called_off_booking_is_told_to_calendars(cast, make_job, feed):
    booking = make_booking(make_visit(make_job(), on=datetime.now(UTC).date()), cast.office)
    Booking.objects.filter(pk=booking.pk).update(cancelled_at=datetime.now(UTC), sequence=1)
    (event,) = Calendar.from_ical(feed().content).walk("VEVENT")
    assert (event["STATUS"], event["SEQUENCE"]) == ("CANCELLED", 1)


def test_a_revoked_or_replaced_address_gives_nothing_out(sign_in, cast, client, feed):
    assert feed().status_code == 200
    browser = sign_in(cast.office)
    page = browser.post(reverse("office:make_calendar", args=[cast.crew.pk])).content.decode()
    (address,) = re.findall(r"https?://[^<]+/calendar/[^<]+\.ics", page)
    assert feed().status_code == 404
    assert client.get(address).status_code == 200
    browser.post(reverse("office:revoke_calendar", args=[cast.crew.pk]))
    assert client.get(address).status_code == 404
    key = address.rpartition("/")[2].removesuffix(".ics")
    assert key not in str(list(CalendarAddress.objects.values()))
