"""The jobs list: found by number, name and address; filters in the address; fifty a page."""

import pytest
from django.urls import reverse

from agency.people.models import Client
from agency.programs.models import Program
from tests.builders import make_house

pytestmark = pytest.mark.django_db


@pytest.fixture
def listed(sign_in, cast):
    """`listed(q=...)` is the numbers on the page."""

    def ask(**query):
        answer = sign_in(cast.office).get(reverse("office:jobs"), query)
        return [job.number for job in answer.context["page"]]

    return ask


@pytest.mark.parametrize("words", ["0777", "bích hòa", "sorrel", "tarn sorrel", "QC 0777"])
def test_found_by_number_name_and_address(listed, make_job, words):
    make_job()
    job = make_job(
        number="QC-2026-0777",
        client=Client.objects.create(name="Nguyễn Thị Bích Hòa"),
        house=make_house(address="9 Sorrel Close", city="Tarn Hollow"),
    )
    assert listed(q=words) == [job.number]


def test_filters_add_up(listed, make_job, cast):
    other = Program.objects.create(
        name="Tarn Relief",
        grant_number="TR-1",
        first_day="2026-01-01",
        last_day="2026-12-31",
    )
    wanted = make_job(status="rework", crew=cast.other_crew, program=other)
    make_job(status="rework", crew=cast.other_crew)
    make_job(status="rework", program=other)
    make_job(status="scheduled", crew=cast.other_crew, program=other)
    query = {"status": "rework", "crew": cast.other_crew.pk, "program": other.pk}
    assert listed(**query) == [wanted.number]


def test_counts_and_clear_all(sign_in, cast, make_job):
    make_job(status="rework")
    make_job()
    browser = sign_in(cast.office)
    page = browser.get(reverse("office:jobs"), {"status": "rework"}).content.decode()
    assert "1 of 2\u00a0jobs" in page
    assert "Clear all filters" in page
    page = browser.get(reverse("office:jobs")).content.decode()
    assert "2\u00a0jobs" in page
    assert "Clear all filters" not in page


def test_empty_result_says_why(sign_in, cast, make_job):
    make_job()
    query = {"q": "zzz", "status": "rework", "crew": cast.crew.pk}
    page = sign_in(cast.office).get(reverse("office:jobs"), query).content.decode()
    assert "contains “zzz”; status is rework; crew is Crew Alder" in page


def test_unknown_filter_is_named_and_shows_everything(sign_in, cast, make_job):
    make_job()
    page = sign_in(cast.office).get(reverse("office:jobs"), {"status": "lost"}).content.decode()
    assert "lost is not a status; choose one from the list." in page
    assert "1\u00a0job" in page


def test_order(listed, make_job):
    older = make_job(opened_on="2026-01-05").number
    newer = make_job(opened_on="2026-06-05").number
    assert listed() == [newer, older]
    assert listed(sort="oldest") == [older, newer]


def test_fifty_a_page_and_the_rest_on_the_next(listed, make_job):
    house, client = make_house(), Client.objects.create(name="Wendell Frost")
    for _ in range(53):
        make_job(house=house, client=client)
    assert len(listed()) == 50
    assert len(listed(page=2)) == 3
    assert len(listed(page=99)) == 3


@pytest.mark.parametrize("number_of_jobs", [3, 60])
def test_queries_do_not_grow_with_the_list(
    sign_in, cast, make_job, django_assert_num_queries, number_of_jobs
):
    """Session, user, to-review count; two filter choices; count and rows."""
    for _ in range(number_of_jobs):
        make_job()
    browser = sign_in(cast.office)
    with django_assert_num_queries(7):
        browser.get(reverse("office:jobs"))
