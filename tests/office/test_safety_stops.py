"""Safety stops at the desk: first on the job's page, acknowledged and cleared there, listed."""

import re
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from agency.jobs.models import Visit
from agency.people.models import CrewMember
from tests.builders import make_stop

pytestmark = pytest.mark.django_db

WORDS = "Carbon monoxide in the room air is 38 ppm; the action level is 35 ppm."


@pytest.fixture
def stop(make_job):
    """An open stop of a job in progress."""
    return make_stop(make_job(status="in_progress"))


@pytest.fixture
def read_stop(stop, cast):
    """The same, acknowledged by the crew lead."""
    stop.acknowledge(cast.crew_lead, "Casimir Oyelaran")
    return stop


@pytest.fixture
def show(sign_in):
    """`show(user, job)` is the job's page as text."""

    def ask(user, job):
        answer = sign_in(user).get(reverse("office:job", args=[job.pk]))
        return answer.content.decode()

    return ask


@pytest.fixture
def post(sign_in):
    """`post(user, stop, verb, **typed)` fills in the form of that stop."""

    def send(user, stop, verb, **typed):
        address = reverse(f"office:{verb}_stop", args=[stop.pk])
        named = {f"{verb}-{stop.pk}-{field}": value for field, value in typed.items()}
        answer = sign_in(user).post(address, named, follow=True)
        stop.refresh_from_db()
        return answer

    return send


def test_an_open_stop_is_the_first_thing_on_the_page(show, stop, cast):
    page = show(cast.office, stop.job)
    assert page.index("Safety stop: ambient carbon monoxide") < page.index("What is missing?")
    for told in (WORDS, "Open doors and windows.", "Local code and a licensed practitioner"):
        assert told in page
    assert ", not by a test run." in page
    assert "cannot be finished, pass its inspection or be approved" in page


def test_it_leads_to_the_test_run_it_came_from(show, make_job, make_run, cast):
    run = make_run(make_job())
    make_stop(run.job, source=run.pk)
    page = show(cast.office, run.job)
    section = page[page.index("notice--stop") : page.index("What is missing?")]
    assert reverse("office:test_run", args=[run.pk]) in section
    assert "the test run before work</a>, sent by casimir" in section


def test_what_was_found_is_never_markup(show, make_job, cast):
    job = make_job()
    make_stop(job, words="<b>38 ppm</b>", steps=["<i>Leave.</i>"])
    page = show(cast.office, job)
    assert "&lt;b&gt;38 ppm" in page
    assert "<i>Leave" not in page


def test_a_stopped_job_offers_no_step_that_calls_it_well(sign_in, make_job, cast):
    for user, status, step in (
        (cast.office, "in_progress", "finish"),
        (cast.manager, "inspection_passed", "approve"),
    ):
        job = make_job(status=status)
        address = reverse("office:job", args=[job.pk])
        assert step in sign_in(user).get(address).context["acts"]
        make_stop(job)
        assert step not in sign_in(user).get(address).context["acts"]


@pytest.mark.parametrize(
    ("role", "unread", "read"),
    [
        ("office", {"acknowledge"}, set()),
        ("inspector", {"acknowledge"}, {"clear"}),
        ("manager", {"acknowledge"}, {"clear"}),
    ],
)
def test_each_role_is_offered_its_own_forms(show, stop, cast, role, unread, read):  # noqa: PLR0917
    def offered(page):
        return set(re.findall(rf"/safety-stops/{stop.pk}/(\w+)\"", page))

    user = getattr(cast, role)
    assert offered(show(user, stop.job)) == unread
    stop.acknowledge(cast.crew_lead, "Casimir Oyelaran")
    assert offered(show(user, stop.job)) == read


def test_who_has_worked_on_the_job_is_offered_no_clearing(show, read_stop, cast):
    CrewMember.objects.create(name="Ignatius", crew=cast.crew, user=cast.inspector)
    page = show(cast.inspector, read_stop.job)
    assert "An inspector or manager who has not worked on this job clears it." in page
    assert reverse("office:clear_stop", args=[read_stop.pk]) not in page


def test_acknowledge(post, stop, cast):
    page = post(cast.office, stop, "acknowledge", name="Casimir Oyelaran").content.decode()
    assert (stop.acknowledged_name, stop.acknowledged_by) == ("Casimir Oyelaran", cast.office)
    assert "The safety stop is acknowledged by Casimir Oyelaran." in page
    assert "signed in as odette" in page


def test_clear(post, read_stop, cast):
    answer = post(cast.inspector, read_stop, "clear", reason="Flue pipe was refitted.")
    page = answer.content.decode()
    assert not read_stop.is_open
    assert "What is missing?" in page
    assert "notice--stop" not in page
    told = {(entry.what, entry.who, entry.reason) for entry in answer.context["history"]}
    assert (f"Safety stop raised: {WORDS}", "The computer", "") in told
    acknowledged = f"Safety stop acknowledged by Casimir Oyelaran: {WORDS}"
    assert (acknowledged, "casimir", "") in told
    assert (f"Safety stop cleared: {WORDS}", "ignatius", "Flue pipe was refitted.") in told


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("", "Type the name of whoever has read this safety stop."),
        ("   ", "Type the name of whoever has read this safety stop."),
        ("x" * 161, "Shorten the name to 160 characters; it has 161."),
    ],
)
def test_a_name_that_is_none_comes_back_in_words(post, stop, cast, name, words):
    answer = post(cast.office, stop, "acknowledge", name=name)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "There is a problem" in page
    assert f"<title>Error: {stop.job} - Hearthledger" in page
    assert page.count(words) == 2
    assert f'href="#id_acknowledge-{stop.pk}-name"' in page
    assert f'id="id_acknowledge-{stop.pk}-name"' in page
    assert not stop.is_acknowledged


def test_clearing_without_a_reason_comes_back_in_words(post, read_stop, cast):
    answer = post(cast.inspector, read_stop, "clear", reason=" ")
    assert answer.status_code == 422
    assert "Write what was found and put right" in answer.content.decode()
    assert read_stop.is_open


def test_an_unread_stop_is_not_cleared(post, stop, cast):
    answer = post(cast.inspector, stop, "clear", reason="Flue pipe was refitted.")
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "is not acknowledged yet" in page
    assert "Flue pipe was refitted." in page
    assert f'id="id_clear-{stop.pk}-reason"' in page
    assert stop.is_open


def test_the_crew_of_the_job_does_not_clear_as_inspector(post, read_stop, cast):
    CrewMember.objects.create(name="Ignatius", crew=cast.crew, user=cast.inspector)
    answer = post(cast.inspector, read_stop, "clear", reason="It looked well.")
    assert answer.status_code == 422
    assert "whose crew has worked on this job" in answer.content.decode()
    assert read_stop.is_open


def test_the_office_does_not_clear(post, read_stop, cast):
    answer = post(cast.office, read_stop, "clear", reason="It looked well.")
    assert answer.status_code == 403
    assert read_stop.is_open


def test_a_refused_form_leaves_the_other_stop_alone(post, stop, cast):
    other = make_stop(stop.job, hazard="spillage", words="The flue spilled for 300 s.")
    page = post(cast.office, stop, "acknowledge", name="").content.decode()
    assert page.count("field--error") == 1
    assert page.count("notice--stop") == 2
    assert f'id="id_acknowledge-{other.pk}-name"' in page


def test_a_passed_inspection_is_refused_while_stopped(sign_in, make_job, cast):
    job = make_job(status="tested_out")
    make_stop(job)
    typed = {"inspection-on": f"{timezone.localdate():%Y-%m-%d}", "inspection-passed": "yes"}
    answer = sign_in(cast.inspector).post(reverse("office:record_inspection", args=[job.pk]), typed)
    assert answer.status_code == 422
    assert f"{job} has an open safety stop" in answer.content.decode()
    job.refresh_from_db()
    assert job.status == "tested_out"


def test_finishing_a_stopped_job_is_refused_in_words(sign_in, stop, cast):
    address = reverse("office:finish_work", args=[stop.job_id])
    page = sign_in(cast.office).post(address, follow=True).content.decode()
    assert "it must be cleared by an inspector or manager first." in page
    stop.job.refresh_from_db()
    assert stop.job.status == "in_progress"


def test_the_first_page_of_the_day_begins_with_open_stops(sign_in, make_job, make_run, cast):
    make_run(make_job())
    newer, older = make_stop(make_job()), make_stop(make_job())
    older.raised_at = timezone.now() - timedelta(days=1)
    older.save()
    piles = sign_in(cast.office).get(reverse("office:today")).context["needing"]
    assert (piles[0].key, piles[0].count) == ("safety_stops", 2)
    assert [item.name for item in piles[0].items] == [str(older.job), str(newer.job)]
    assert piles[0].items[0].url == reverse("office:job", args=[older.job_id])
    assert f"{WORDS} {older.job.house.one_line}" in piles[0].items[0].detail
    assert "not read yet" in piles[0].items[0].detail


def test_open_and_cleared_stops_are_listed_apart(sign_in, read_stop, make_job, cast):
    still_open = make_stop(make_job())
    read_stop.clear(cast.inspector, "Flue pipe was refitted.")
    browser, address = sign_in(cast.office), reverse("office:safety_stops")

    def listed(**asked):
        return [stop.pk for stop in browser.get(address, asked).context["page"]]

    assert listed() == [still_open.pk]
    assert listed(show="cleared") == [read_stop.pk]
    assert listed(show="nonsense") == [still_open.pk]
    page = browser.get(address, {"show": "cleared"}).content.decode()
    for told in (WORDS, "Casimir Oyelaran", "ignatius", "Flue pipe was refitted."):
        assert told in page


def test_the_jobs_list_marks_stopped_jobs(sign_in, read_stop, make_job, cast):
    make_job()
    browser, address = sign_in(cast.office), reverse("office:jobs")
    assert browser.get(address).content.decode().count("Safety stop") == 1
    read_stop.clear(cast.inspector, "Flue pipe was refitted.")
    assert "Safety stop" not in browser.get(address).content.decode()


def test_the_crews_own_day_says_what_stops_the_work(sign_in, stop, cast):
    Visit.objects.create(job=stop.job, kind="work", crew=cast.crew, planned_on=timezone.localdate())
    browser = sign_in(cast.crew_lead)
    page = browser.get(reverse("field:today")).content.decode()
    for told in (WORDS, "Open doors and windows.", "Local code", "Not acknowledged yet"):
        assert told in page
    stop.acknowledge(cast.crew_lead, "Casimir Oyelaran")
    assert "Acknowledged by Casimir" in browser.get(reverse("field:today")).content.decode()
    stop.clear(cast.inspector, "Flue pipe was refitted.")
    assert WORDS not in browser.get(reverse("field:today")).content.decode()


def queries(browser, address):
    with CaptureQueriesContext(connection) as asked:
        assert browser.get(address).status_code == 200
    return len(asked)


@pytest.mark.parametrize(
    ("role", "page"),
    [
        ("office", "office:safety_stops"),
        ("office", "office:today"),
        ("office", "office:jobs"),
        ("inspector", "office:job"),
        ("crew_lead", "field:today"),
    ],
)
def test_queries_do_not_grow_with_the_stops(sign_in, make_job, cast, role, page):
    """Six and twelve stops on as many visited jobs, or all on the job that is shown."""
    shown = make_job()
    address = reverse(page, args=[shown.pk] if page == "office:job" else [])
    browser, counts = sign_in(getattr(cast, role)), []
    for hazards in (range(6), range(6, 12)):
        for hazard in hazards:
            job = shown if page == "office:job" else make_job()
            make_stop(job, hazard=f"hazard_{hazard}").acknowledge(cast.crew_lead, "Casimir")
            Visit.objects.create(
                job=job, kind="work", crew=cast.crew, planned_on=timezone.localdate()
            )
        counts.append(queries(browser, address))
    assert counts[0] == counts[1]
