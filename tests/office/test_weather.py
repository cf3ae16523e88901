"""Actual weather: files taken in whole or not at all, gaps named, days typed, imports undone."""

from datetime import date

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import IntegrityError, transaction
from django.urls import reverse

from agency.estimates.daily_weather import DailyWeather, DailyWeatherFile, Gap, gaps_in
from agency.estimates.models import WeatherStation
from agency.outbox.models import Errand
from tests.bill_records import make_account, make_study, worked_on

pytestmark = pytest.mark.django_db


@pytest.fixture
def station(make_job):
    station = WeatherStation.objects.create(name="Tarn Hollow airfield", format="epw")
    station.counties.add(make_job().house.county)
    return station


@pytest.fixture
def browser(sign_in, cast):
    return sign_in(cast.office)


def upload(browser, station, text, degrees="degF"):
    said = {
        "days-file": SimpleUploadedFile("days.csv", text.encode()),
        "days-degrees": degrees,
    }
    return browser.post(reverse("office:upload_days", args=[station.pk]), said)


def type_in(browser, station, day, mean, degrees="degF"):
    said = {"day-day": day, "day-mean": mean, "day-degrees": degrees}
    return browser.post(reverse("office:type_day", args=[station.pk]), said)


def page_of(browser, station):
    return browser.get(reverse("office:weather_station", args=[station.pk]))


def test_days_are_stored_in_celsius(browser, station):
    """212 °F less 32 is 180, 100 °C; 32 °F is 0 °C; −40 is the same in both."""
    upload(browser, station, "day,mean\n2025-01-01,32\n2025-01-02,-40\n2025-01-03,50\n")
    assert list(station.days.values_list("mean", flat=True)) == pytest.approx([0, -40, 10])


def test_gaps_are_named_and_stay_open(browser, station):
    upload(browser, station, "Mean,Day\n1,2025-01-01\n\n2,2025-01-03\n3,2025-01-07\n", "degC")
    page = page_of(browser, station)
    assert [str(gap) for gap in page.context["gaps"]] == [
        "2025-01-02",
        "2025-01-04 to 2025-01-06",
    ]
    text = page.content.decode()
    assert "Gaps are never filled in." in text
    assert "3\u00a0days" in text
    assert station.days.count() == 3


def test_gaps_of_a_span_count_both_ends():
    known = [date(2025, 1, 3)]
    found = gaps_in(known, first=date(2025, 1, 1), last=date(2025, 1, 5))
    assert found == [
        Gap(first=date(2025, 1, 1), last=date(2025, 1, 2)),
        Gap(first=date(2025, 1, 4), last=date(2025, 1, 5)),
    ]


BAD = """day,mean
2025-01-01,30
2025-02-30,31
01/03/2025,32
2025-01-04,
2025-01-05,999
2025-01-01,33
2025-01-07
"""


def test_every_wrong_row_is_named_and_no_day_is_stored(browser, station):
    answer = upload(browser, station, BAD)
    assert answer.status_code == 422
    assert [one.place for one in answer.context["row_errors"]] == [
        f"row {number}" for number in range(3, 9)
    ]
    text = answer.content.decode()
    assert "2025-01-01 stands in row 2 too" in text
    assert "Check the unit." in text
    assert not DailyWeather.objects.exists()
    assert not DailyWeatherFile.objects.exists()


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("date,mean\n2025-01-01,3", "The heading “day”"),
        ("day,mean\n", "has no days"),
        ("", "empty"),
    ],
)
def test_file_that_holds_no_days_is_refused(browser, station, text, words):
    answer = upload(browser, station, text)
    assert answer.status_code == 422
    plain = answer.content.decode().replace("&quot;day&quot;", "“day”")
    assert words in plain


def test_known_day_is_not_overwritten(browser, station):
    upload(browser, station, "day,mean\n2025-01-01,30\n")
    answer = upload(browser, station, "day,mean\n2025-01-01,31\n2025-01-02,31\n")
    assert "known already, from days.csv" in answer.content.decode()
    answer = type_in(browser, station, "2025-01-01", "31")
    assert answer.status_code == 422
    assert station.days.get().mean == pytest.approx((30 - 32) / 1.8)


def test_typed_day_may_be_typed_anew(browser, station, cast):
    for mean in ("30", "-4"):
        assert type_in(browser, station, "2025-01-01", mean).status_code == 302
    typed = station.days.get()
    assert (typed.mean, typed.typed_by) == (pytest.approx(-20), cast.office)


@pytest.mark.parametrize(
    ("day", "mean", "words"),
    [
        ("2999-01-01", "30", "once the day is over"),
        ("2025-01-01", "400", "it must be -70 to 60"),
        ("2025-01-01", "warm", "as a number"),
        ("", "30", "Enter the day."),
    ],
)
def test_typed_day_that_cannot_be_is_refused(browser, station, day, mean, words):
    answer = type_in(browser, station, day, mean)
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert not station.days.exists()


def test_import_is_undone_as_a_whole(browser, station):
    upload(browser, station, "day,mean\n2025-01-01,30\n2025-01-02,31\n")
    type_in(browser, station, "2025-01-03", "30")
    kept = DailyWeatherFile.objects.get()
    address = reverse("office:undo_days", args=[kept.pk])
    assert browser.post(address, {f"undo-{kept.pk}-reason": ""}).status_code == 422
    assert browser.post(address, {f"undo-{kept.pk}-reason": "Another place."}).status_code == 302
    kept.refresh_from_db()
    assert (kept.state, station.days.count()) == ("undone", 1)
    assert bytes(kept.content).startswith(b"day,mean")


def test_new_days_have_the_studies_of_their_counties_worked_out_anew(
    browser, station, cast, make_job
):
    job = make_job(**worked_on())
    study = make_study(job, make_account(job.house, cast.office), cast.office)
    upload(browser, station, "day,mean\n2025-01-01,30\n")
    asked = set(Errand.objects.values_list("subject", flat=True))
    assert asked == {study.pk, job.program_id}


def test_a_day_belongs_to_a_file_or_to_a_person(station):
    with pytest.raises(IntegrityError), transaction.atomic():
        DailyWeather.objects.create(station=station, day=date(2025, 1, 1), mean=1.0)


def test_list_names_each_station_with_its_days(browser, station):
    upload(browser, station, "day,mean\n2025-01-01,30\n2025-01-02,31\n")
    text = browser.get(reverse("office:weather")).content.decode()
    assert "Tarn Hollow airfield" in text
    assert "Jan 2, 2025" in text
