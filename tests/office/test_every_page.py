"""Each desk page answers, names itself, has one h1, and is closed to those it is not for."""

import re

import pytest
from django.urls import reverse

pytestmark = pytest.mark.django_db

LISTS = [
    "today",
    "jobs",
    "late_visits",
    "schedule",
    "schedule_day",
    "calendars",
    "deferrals",
    "findings",
    "credentials",
    "safety_stops",
    "test_runs",
    "test_kinds",
    "review",
    "instruments",
    "refused_uploads",
    "devices",
    "system",
    "reports",
    "exports",
    "realization",
    "weather",
    "typical_years",
    "applications",
    "waiting_list",
    "clients",
    "houses",
    "buildings",
    "search",
]


@pytest.mark.parametrize("name", LISTS)
def test_empty_page_says_why_it_is_empty(sign_in, cast, name):
    page = sign_in(cast.office).get(reverse(f"office:{name}")).content.decode()
    assert len(re.findall(r"<h1[ >]", page)) == 1
    assert re.search(r"<title>[^<]+ - Hearthledger</title>", page)


@pytest.mark.parametrize("name", LISTS)
def test_anonymous_is_sent_to_sign_in(client, db, name):
    answer = client.get(reverse(f"office:{name}"))
    assert answer.status_code == 302
    assert answer.url.startswith(reverse("office:sign_in"))


@pytest.mark.parametrize("name", [name for name in LISTS if name != "today"])
def test_crew_is_told_there_is_no_such_page(sign_in, cast, name):
    assert sign_in(cast.crew_lead).get(reverse(f"office:{name}")).status_code == 404


@pytest.mark.parametrize("role", ["office", "inspector", "manager", "admin"])
@pytest.mark.parametrize("name", LISTS)
def test_everyone_at_a_desk_may_look(sign_in, cast, role, name):
    assert sign_in(getattr(cast, role)).get(reverse(f"office:{name}")).status_code == 200


def test_titles_are_unique(sign_in, cast):
    browser = sign_in(cast.office)
    pages = [browser.get(reverse(f"office:{name}")).content.decode() for name in LISTS]
    titles = [re.search(r"<title>([^<]+)", page)[1] for page in pages]
    assert len(set(titles)) == len(titles)


@pytest.mark.parametrize("name", LISTS)
def test_nothing_is_written_inline(sign_in, cast, name):
    """The content policy refuses inline script, style and handlers."""
    page = sign_in(cast.manager).get(reverse(f"office:{name}")).content.decode()
    assert not re.search(r"<script(?![^>]*\bsrc=)", page)
    assert not re.search(r"<[^>]+\s(style|on\w+)=", page)
    assert "<style" not in page
