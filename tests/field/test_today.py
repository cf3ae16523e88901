"""A crew's own day: its visits of today and tomorrow, nobody else's."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from agency.jobs.models import Visit

pytestmark = pytest.mark.django_db


@pytest.fixture
def plan(make_job, cast):
    """`plan(days_ahead)` is a visit of the crew."""

    def make(days_ahead, **changes):
        values = {"job": make_job(), "kind": "work", "crew": cast.crew} | changes
        day = timezone.localdate() + timedelta(days=days_ahead)
        return Visit.objects.create(planned_on=day, **values)

    return make


def listed(answer):
    return [visit for day in answer.context["days"] for visit in day["visits"]]


def test_today_and_tomorrow_only(sign_in, cast, plan):
    visits = [plan(days) for days in (-1, 0, 1, 2)]
    assert listed(sign_in(cast.crew_lead).get(reverse("field:today"))) == visits[1:3]


def test_another_crew_is_not_shown(sign_in, cast, plan):
    plan(0)
    assert listed(sign_in(cast.stranger).get(reverse("field:today"))) == []


def test_visit_without_a_crew_belongs_to_the_crew_of_the_job(sign_in, cast, plan):
    visit = plan(0, crew=None)
    assert listed(sign_in(cast.crew_lead).get(reverse("field:today"))) == [visit]
    assert listed(sign_in(cast.stranger).get(reverse("field:today"))) == []


def test_final_inspection_is_not_the_crews(sign_in, cast, plan):
    plan(0, crew=None, kind="final_inspection")
    assert listed(sign_in(cast.crew_lead).get(reverse("field:today"))) == []


def test_free_day_says_so(sign_in, cast):
    page = sign_in(cast.crew_lead).get(reverse("field:today")).content.decode()
    assert page.count("No visit is planned.") == 2


def test_desk_is_shown_its_own_day(sign_in, cast):
    assert sign_in(cast.office).get(reverse("field:today")).url == reverse("office:today")


def test_anonymous_is_sent_to_sign_in(client, db):
    assert client.get(reverse("field:today")).url.startswith(reverse("office:sign_in"))
