"""Typical years: stations, quality, degree days by convention, and counties."""

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from agency.estimates.demo_weather import demo_epw
from agency.estimates.models import WeatherStation
from agency.programs.models import County
from tests import builders

pytestmark = pytest.mark.django_db


@pytest.fixture
def county(db):
    return County.objects.create(code="99001", name="Quillmoor")


@pytest.fixture
def station(county):
    return builders.make_weather(county)


def page_of(station):
    return reverse("office:typical_year", args=[station.pk])


def test_counties_without_a_station_are_named(sign_in, cast, station):
    County.objects.create(code="99002", name="Hattersley")
    page = sign_in(cast.office).get(reverse("office:typical_years")).content.decode()
    assert station.name in page
    assert "without estimates: Hattersley" in page


def test_degree_days_by_every_convention_and_base(sign_in, cast, station):
    browser = sign_in(cast.office)
    days = browser.get(page_of(station)).context["days"]
    assert len(days) == 5
    assert "Erbs" in days[3][0]
    lower = browser.get(page_of(station), {"base": "55"}).context["days"]
    for warm, cold in zip(days, lower, strict=True):
        assert int(cold[1].replace(",", "")) < int(warm[1].replace(",", ""))
    assert "All hours are complete" in browser.get(page_of(station)).content.decode()


@pytest.mark.parametrize("base", ["", "warm", "900"])
def test_a_base_nobody_can_mean_is_refused(sign_in, cast, station, base):
    answer = sign_in(cast.office).get(page_of(station), {"base": base})
    assert answer.status_code == 422
    assert "such as 65" in answer.content.decode()


def test_gaps_are_named_by_row_and_never_filled(sign_in, cast, county):
    lines = demo_epw(seed=7).split("\n")
    fields = lines[100].split(",")
    fields[6] = "99.9"
    lines[100] = ",".join(fields)
    del lines[200]
    file = SimpleUploadedFile("gaps.epw", "\n".join(lines).encode())
    station = WeatherStation.objects.create(name="Gaps", format="epw", file=file)
    page = sign_in(cast.office).get(page_of(station)).content.decode()
    assert "row 101: temperature missing" in page
    assert "no row" in page
    assert "Nothing is filled in" in page
    assert "degree days need a complete year" in page


def test_a_lost_file_is_said_and_not_a_fault(sign_in, cast):
    station = WeatherStation.objects.create(name="Lost", format="epw", file="weather/none.epw")
    answer = sign_in(cast.office).get(page_of(station))
    assert answer.status_code == 200
    assert "No such file" in answer.content.decode()


def test_a_station_of_days_alone_has_no_typical_year(sign_in, cast):
    station = WeatherStation.objects.create(name="Days alone", format="epw")
    page = sign_in(cast.office).get(page_of(station)).content.decode()
    assert "Days alone has no file of a typical year" in page


def test_a_manager_adds_a_station_that_can_be_read(sign_in, cast):
    browser, address = sign_in(cast.manager), reverse("office:add_station")
    assert browser.get(address).status_code == 200
    good = SimpleUploadedFile("good.epw", demo_epw(seed=3).encode())
    browser.post(address, {"name": "North field", "format": "epw", "file": good})
    assert WeatherStation.objects.get().name == "North field"
    bad = SimpleUploadedFile("bad.epw", b"not a weather file")
    answer = browser.post(address, {"name": "South", "format": "epw", "file": bad})
    assert answer.status_code == 422
    assert "no hourly rows" in answer.content.decode()
    assert WeatherStation.objects.count() == 1


def test_counties_move_from_one_station_to_another(sign_in, cast, station, county):
    other = WeatherStation.objects.create(name="Other", format="epw", file="weather/none.epw")
    browser = sign_in(cast.manager)
    address = reverse("office:assign_station", args=[other.pk])
    browser.post(address, {"counties": [county.pk]})
    assert list(county.weather_stations.all()) == [other]
    browser.post(address, {"counties": ["nowhere"]})
    assert list(county.weather_stations.all()) == [other]


@pytest.mark.parametrize("count", [1, 6])
def test_queries_do_not_grow_with_the_stations(
    sign_in, cast, county, django_assert_num_queries, count
):
    """Session, user, stations, their counties, counties without one, to-review count."""
    for number in range(count):
        station = WeatherStation.objects.create(name=f"S{number}", format="epw", file="none")
        station.counties.add(county)
    browser = sign_in(cast.office)
    with django_assert_num_queries(6):
        browser.get(reverse("office:typical_years"))
