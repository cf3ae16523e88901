"""One box finds jobs, applications, clients, houses, buildings and instruments."""

import pytest
from django.urls import reverse

from agency.houses.models import House
from agency.instruments.models import Instrument
from agency.people.models import Client
from tests.applicants import make_application
from tests.builders import make_building, make_house

pytestmark = pytest.mark.django_db


@pytest.fixture
def found(sign_in, cast):
    """`found("words")` is what is listed, by kind."""

    def ask(words):
        answer = sign_in(cast.inspector).get(reverse("office:search"), {"q": words})
        return {one.title: [hit.name for hit in one.hits] for one in answer.context["found"]}

    return ask


def test_by_name_address_number_and_serial(found, make_job, cast):
    house = make_house(address="9 Sorrel Close", parcel="12-0440-7")
    client = Client.objects.create(name="Nguyễn Thị Bích Hòa", phone="555-0142")
    job = make_job(number="QC-26-0777", client=client, house=house)
    application = make_application(cast.office)
    make_building()
    Instrument.objects.create(kind="gauge", serial="QG-909")
    assert found("0777") == {"Jobs": [str(job)]}
    assert found("bích hòa") == {"Jobs": [str(job)], "Clients": [client.name]}
    assert found("555-0142") == {"Clients": [client.name]}
    assert found("12-0440") == {"Houses": [house.one_line]}
    assert house.one_line in found("9 sorrel tarn")["Houses"]
    assert found(application.number) == {"Applications": [str(application)]}
    assert found("qg-909") == {"Instruments": ["QG-909"]}
    assert found("depot house") == {"Buildings": ["Depot House"]}
    assert found("nothing like it") == {}


def test_one_letter_is_asked_for_more(sign_in, cast):
    page = sign_in(cast.office).get(reverse("office:search"), {"q": "q"}).content.decode()
    assert "Type a little more" in page


def test_more_than_ten_link_to_their_list_with_the_same_words(sign_in, cast):
    for number in range(12):
        Client.objects.create(name=f"Odalys & Fenwright {number}")
    page = sign_in(cast.office).get(reverse("office:search"), {"q": "odalys &"}).content.decode()
    assert f"{reverse('office:clients')}?q=odalys+%26" in page


@pytest.mark.parametrize("number_of_jobs", [1, 15])
def test_queries_do_not_grow_with_what_is_found(
    sign_in, cast, make_job, django_assert_num_queries, number_of_jobs
):
    """Session, user, to-review count, and one for each of six kinds."""
    for _ in range(number_of_jobs):
        make_job()
    browser = sign_in(cast.office)
    with django_assert_num_queries(9):
        browser.get(reverse("office:search"), {"q": "lane"})


def test_a_job_is_opened_by_choosing_house_and_client(sign_in, cast, make_job):
    known = make_job(number="QC-26-0041", status="approved")
    browser = sign_in(cast.office)
    url = reverse("office:new_job")
    page = browser.get(url, {"q": known.house.address}).content.decode()
    assert f"{url}?house={known.house_id}" in page
    page = browser.get(url, {"house": known.house_id, "q": known.client.name}).content.decode()
    assert f"house={known.house_id}&amp;client={known.client_id}" in page
    form = browser.get(url, {"house": known.house_id, "client": known.client_id})
    assert 'value="QC-26-0042"' in form.content.decode()
    assert House.objects.count() == 1


def test_a_building_takes_no_more_units_than_it_has(sign_in, cast):
    building = make_building(units_total=2)
    browser = sign_in(cast.office)
    url = reverse("office:add_unit", args=[building.pk])
    for unit in ("1", "2"):
        assert browser.post(url, {"unit": unit}).status_code == 302
    answer = browser.post(url, {"unit": "3"})
    assert answer.status_code == 422
    assert "has 2\u00a0units, and as many are listed" in answer.content.decode()
    page = browser.get(reverse("office:building", args=[building.pk])).content.decode()
    assert "0 of 2\u00a0units eligible: 0.0 %, needed 50 %." in page
