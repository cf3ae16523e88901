"""One job on one page: what is missing, what may be done, and who changed what."""

import re
import uuid

import pytest
from django.urls import reverse

from agency.jobs.models import Visit
from tests.builders import make_comparison

pytestmark = pytest.mark.django_db


@pytest.fixture
def show(sign_in):
    """`show(user, job)` is the page."""

    def ask(user, job):
        return sign_in(user).get(reverse("office:job", args=[job.pk]))

    return ask


def states(answer):
    return {piece.name: piece.state for piece in answer.context["pieces"]}


def test_names_itself(show, cast, make_job):
    job = make_job(number="QC-2026-0142")
    page = show(cast.office, job).content.decode()
    assert "<title>Job QC-2026-0142 - Hearthledger</title>" in page
    assert re.search(r"<h1>Job QC-2026-0142</h1>", page)


def test_crew_and_unknown_number_find_nothing(sign_in, cast, make_job):
    job = make_job()
    assert sign_in(cast.crew_lead).get(reverse("office:job", args=[job.pk])).status_code == 404
    unknown = reverse("office:job", args=[uuid.uuid4()])
    assert sign_in(cast.office).get(unknown).status_code == 404


def test_new_job_lacks_everything(show, cast, make_job):
    answer = show(cast.office, make_job())
    assert "done" not in states(answer).values()
    assert "7 of 7\u00a0pieces not there yet." in answer.content.decode()


def test_reason_stands_in_for_the_test_before(show, cast, make_job):
    job = make_job(no_before_test_reason="Combustion safety.")
    assert states(show(cast.office, job))["Test before the work, accepted"] == "done"


def test_evidence_grows_with_the_job(show, cast, make_job, make_run):
    job = make_job(status="inspection_passed")
    before = make_run(job, "before", 2000, review="accepted", reviewed_by=cast.office)
    after = make_run(job, "after", 1500, review="accepted", reviewed_by=cast.office)
    make_comparison(job, before, after)
    found = states(show(cast.manager, job))
    assert list(found.values()) == ["done"] * 4 + ["waiting"] + ["missing"] * 2


def test_returned_run_waits_with_its_reason(show, cast, make_job, make_run):
    job = make_job()
    make_run(job, "before", review="returned", reviewed_by=cast.office)
    answer = show(cast.office, job)
    assert states(answer)["Test before the work, accepted"] == "waiting"
    assert "Readings do not fit the house." in answer.content.decode()


def test_difference_is_said_in_words(show, cast, make_job, make_run):
    """1 - 1500/2000 = 25 %."""
    job = make_job()
    pair = [
        make_run(job, phase, flow, review="accepted", reviewed_by=cast.office)
        for phase, flow in (("before", 2000), ("after", 1500))
    ]
    make_comparison(job, *pair)
    assert "down 500\u202fcfm, 25\u202f%" in show(cast.office, job).content.decode()


def test_pair_that_cannot_be_compared_shows_no_difference(show, cast, make_job, make_run):
    job = make_job()
    pair = [
        make_run(job, phase, flow, review="accepted", reviewed_by=cast.office)
        for phase, flow in (("before", 2000), ("after", 1500))
    ]
    comparison = make_comparison(job, *pair)
    comparison.verdict = "not_comparable"
    comparison.reasons = ["The basement door was open before and closed after."]
    comparison.save()
    page = show(cast.office, job).content.decode()
    assert "down 500" not in page
    assert "The basement door was open before and closed after." in page


@pytest.mark.parametrize(
    ("role", "status", "offered"),
    [
        ("office", "in_progress", {"finish", "work_started", "no_before_test", "withdraw"}),
        ("office", "inspection_passed", {"work_started", "no_before_test", "withdraw"}),
        ("manager", "inspection_passed", {"approve", "work_started", "no_before_test", "withdraw"}),
        ("inspector", "tested_out", {"inspection"}),
        ("inspector", "in_progress", set()),
        ("manager", "approved", set()),
        ("office", "withdrawn", set()),
    ],
)
def test_each_role_is_offered_its_own_steps(show, cast, make_job, role, status, offered):  # noqa: PLR0917
    answer = show(getattr(cast, role), make_job(status=status))
    assert set(answer.context["acts"]) == offered


def test_history_tells_old_and_new_in_words(show, cast, make_job):
    job = make_job()
    job.house.floor_area_sqft = 1408
    job.house._history_user = cast.office
    job.house.save()
    job.crew = cast.other_crew
    job._history_user = cast.manager
    job.save()
    entries = show(cast.office, job).context["history"]
    told = {(e.what, e.old, e.new, e.who) for e in entries}
    assert ("House: floor area, ft²", "1,400", "1,408", "odette") in told
    assert ("Job: crew", "Crew Alder", "Crew Birch", "marisol") in told
    assert [e.at for e in entries] == sorted((e.at for e in entries), reverse=True)


def test_change_of_state_is_told_once(show, cast, make_job):
    job = make_job(status="in_progress")
    job.test_out(cast.office)
    entries = [e for e in show(cast.office, job).context["history"] if "status" in e.what]
    assert [(e.old, e.new) for e in entries] == [("In progress", "Tested out")]


def test_review_is_told_with_its_reason(show, cast, make_job, make_run):
    job = make_job()
    run = make_run(job)
    run.send_back(cast.office, "Fan ring is wrong.")
    entries = [e for e in show(cast.office, job).context["history"] if "review" in e.what]
    assert [(e.old, e.new, e.reason) for e in entries] == [
        ("To review", "Returned", "Fan ring is wrong.")
    ]


def test_what_a_person_typed_is_never_markup(show, cast, make_job):
    job = make_job(no_before_test_reason="<script>alert(1)</script>")
    page = show(cast.office, job).content.decode()
    assert "<script>alert(1)" not in page
    assert "&lt;script&gt;alert(1)" in page


@pytest.mark.parametrize("number_of_runs", [1, 6])
def test_queries_do_not_grow_with_the_runs(  # noqa: PLR0917
    sign_in, cast, make_job, make_run, django_assert_max_num_queries, number_of_runs
):
    job = make_job()
    for _ in range(number_of_runs):
        make_run(job, review="accepted", reviewed_by=cast.office)
        Visit.objects.create(job=job, kind="work", planned_on="2026-05-04", crew=cast.crew)
    browser = sign_in(cast.office)
    with django_assert_max_num_queries(34):
        browser.get(reverse("office:job", args=[job.pk]))
