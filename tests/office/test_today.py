"""The first page of the day names what waits, counts it and leads to it."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from agency.accounts.models import Device
from agency.diagnostics.models import RefusedUpload
from agency.jobs.models import Visit
from agency.outbox.models import Errand

pytestmark = pytest.mark.django_db


@pytest.fixture
def day(sign_in, cast):
    """`day()` is the piles of the page by key."""

    def read():
        context = sign_in(cast.office).get(reverse("office:today")).context
        return {pile.key: pile for pile in [*context["needing"], *context["clear"]]}

    return read


def test_quiet_day_says_what_is_in_order(sign_in, cast):
    page = sign_in(cast.office).get(reverse("office:today")).content.decode()
    assert "Nothing needs anyone at a desk." in page
    assert "No test run waits for a review" in page


def test_test_runs_are_counted_and_the_oldest_comes_first(day, make_job, make_run):
    newer, older = make_run(make_job()), make_run(make_job())
    older.received_at = timezone.now() - timedelta(days=4)
    older.save()
    pile = day()["to_review"]
    assert pile.count == 2
    assert [item.name for item in pile.items] == [str(older.job), str(newer.job)]
    assert pile.items[0].url == reverse("office:review_run", args=[older.pk])


def test_more_than_five_are_counted_in_full(day, make_job, make_run):
    for _ in range(7):
        make_run(make_job())
    pile = day()["to_review"]
    assert (pile.count, len(pile.items), pile.is_longer) == (7, 5, True)


def test_accepted_runs_do_not_wait(day, make_job, make_run, cast):
    make_run(make_job(), review="accepted", reviewed_by=cast.office)
    assert day()["to_review"].count == 0


@pytest.mark.parametrize("verdict", ["rejected", "provisional", "not_computed"])
def test_results_that_cannot_be_reported(day, make_job, make_run, verdict):
    make_run(make_job(), verdict=verdict)
    make_run(make_job(), verdict="advisory")
    assert day()["unreportable"].count == 1


def test_returned_run_waits_until_a_later_one_of_its_phase_comes(day, make_job, make_run, cast):
    job = make_job()
    make_run(job, "before", review="returned", reviewed_by=cast.office)
    assert day()["returned"].count == 1
    make_run(job, "after")
    assert day()["returned"].count == 1
    make_run(job, "before")
    assert day()["returned"].count == 0


def test_jobs_wait_for_inspector_and_manager(day, make_job):
    make_job(status="tested_out")
    ready = make_job(status="inspection_passed")
    piles = day()
    assert piles["to_inspect"].count == 1
    assert [item.url for item in piles["to_approve"].items] == [
        reverse("office:job", args=[ready.pk])
    ]


def test_visit_is_late_from_the_next_day_on(day, make_job):
    job, today = make_job(), timezone.localdate()
    Visit.objects.create(job=job, kind="work", planned_on=today)
    assert day()["late"].count == 0
    Visit.objects.create(job=job, kind="work", planned_on=today - timedelta(days=1))
    Visit.objects.create(job=job, kind="work", planned_on=today - timedelta(days=1), outcome="done")
    assert day()["late"].count == 1


def test_refused_uploads_stay_for_a_week(day, device):
    for age in (1, 8):
        RefusedUpload.objects.create(
            device=device,
            client_key=str(age),
            document="{}",
            document_hash="0" * 64,
            reasons=[],
            received_at=timezone.now() - timedelta(days=age),
        )
    assert day()["refused"].count == 1


def test_failed_and_stuck_work_is_listed_and_fresh_work_is_not(day, make_job):
    job = make_job()
    failed = Errand.objects.create(task="agency.x.print_it", subject=job.pk, state="failed")
    stuck = Errand.objects.create(task="agency.x.print_it", subject=job.pk)
    stuck.created_at = timezone.now() - timedelta(hours=1)
    stuck.save()
    Errand.objects.create(task="agency.x.print_it", subject=job.pk)
    names = {item.url.rsplit("errand-")[-1] for item in day()["stuck"].items}
    assert names == {str(failed.pk), str(stuck.pk)}


def test_phone_is_quiet_three_days_after_its_last_call(day, cast):
    """A call renews the token for 90 days, so the token's last day tells the last call."""
    device, _ = Device.pair(cast.crew_lead, "Black phone")
    assert day()["quiet"].count == 0
    device.token.expiry = timezone.now() + timedelta(days=90) - timedelta(days=3, minutes=1)
    device.token.save()
    assert day()["quiet"].count == 1
    device.revoke()
    assert day()["quiet"].count == 0


def test_queries_do_not_grow_with_what_waits(
    sign_in, cast, make_job, make_run, django_assert_max_num_queries
):
    browser = sign_in(cast.office)
    for _ in range(6):
        make_run(make_job(status="tested_out"))
        make_job(status="inspection_passed")
    with django_assert_max_num_queries(24):
        browser.get(reverse("office:today"))


def test_crew_is_shown_its_own_day(sign_in, cast):
    answer = sign_in(cast.crew_lead).get(reverse("office:today"))
    assert answer.url == reverse("field:today")
