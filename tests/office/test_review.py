"""The review queue: oldest first, accept, return with a reason, confirm, undo."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from agency.diagnostics.models import TestRun
from tests.builders import make_user

pytestmark = pytest.mark.django_db


@pytest.fixture
def queue(make_job, make_run):
    """Three runs that wait, the longest waiting first."""
    runs = [make_run(make_job(), flow_50_cfm=2000 + 100 * n) for n in range(3)]
    for age, run in zip((3, 2, 1), runs, strict=True):
        TestRun.objects.filter(pk=run.pk).update(received_at=timezone.now() - timedelta(days=age))
    return runs


@pytest.fixture
def post(sign_in, cast):
    """`post(run, name, **typed)` as the office."""

    def send(run, name, *, user=None, **typed):
        address = reverse(f"office:{name}", args=[run.pk])
        answer = sign_in(user or cast.office).post(address, typed)
        run.refresh_from_db()
        return answer

    return send


def question(run):
    """Give the run's result an open question."""
    result = run.result
    result.verdict = "provisional"
    result.checks = [
        {
            "code": "size.large",
            "severity": "question",
            "status": "advisory",
            "confirmed": False,
            "standard": "Agency rule",
            "message": "The flow is larger than usual. Is the fan configuration right?",
            "measured": 9000,
            "limit": 8000,
            "unit": "cfm",
            "field": "series[0].points[2].flow",
            "provenance": "common practice, no source",
        }
    ]
    result.save()


def test_queue_begins_with_the_longest_waiting(sign_in, cast, queue):
    answer = sign_in(cast.office).get(reverse("office:review"))
    assert answer.url == reverse("office:review_run", args=[queue[0].pk])


def test_empty_queue_says_so(sign_in, cast):
    page = sign_in(cast.office).get(reverse("office:review")).content.decode()
    assert "No test run waits for a review" in page


def test_neighbours_are_linked(sign_in, cast, queue):
    answer = sign_in(cast.office).get(reverse("office:review_run", args=[queue[1].pk]))
    assert answer.context["previous"] == queue[0].pk
    assert answer.context["next"] == queue[2].pk
    assert answer.context["place"] == 2
    ends = [
        sign_in(cast.office).get(reverse("office:review_run", args=[run.pk])).context
        for run in (queue[0], queue[2])
    ]
    assert ends[0]["previous"] is None
    assert ends[1]["next"] is None


def test_value_limit_other_side_and_source_stand_together(sign_in, cast, make_job, make_run):
    job = make_job()
    make_run(job, "before", 2000, review="accepted", reviewed_by=cast.office)
    run = make_run(job, "after", 1500)
    case = sign_in(cast.office).get(reverse("office:review_run", args=[run.pk])).context["case"]
    assert case.value == "1,500\u202fcfm (1,455 to 1,545)"
    assert case.other.value == "2,000\u202fcfm"
    assert case.other.difference == "down 500\u202fcfm, 25\u202f%"
    assert case.source.startswith("Phone of casimir; Casimir Oyelaran; ")


def test_accept_goes_on_to_the_next(post, queue):
    answer = post(queue[0], "accept_test_run")
    assert queue[0].review == "accepted"
    assert answer.url.startswith(reverse("office:review_run", args=[queue[1].pk]))


def test_the_last_one_goes_on_to_those_left_before_it(post, queue):
    answer = post(queue[2], "accept_test_run")
    assert answer.url.startswith(reverse("office:review_run", args=[queue[0].pk]))


@pytest.mark.parametrize("verdict", ["rejected", "provisional", "not_computed"])
def test_result_that_cannot_be_reported_is_not_accepted(sign_in, cast, make_job, make_run, verdict):
    run = make_run(make_job(), verdict=verdict)
    address = reverse("office:accept_test_run", args=[run.pk])
    page = sign_in(cast.office).post(address, follow=True).content.decode()
    run.refresh_from_db()
    assert run.review == "to_review"
    assert "cannot be accepted: its result is" in page


def test_return_keeps_the_reason(post, queue, cast):
    post(queue[0], "return_test_run", reason="Fan configuration is wrong at point 3.")
    assert queue[0].review == "returned"
    assert queue[0].review_reason == "Fan configuration is wrong at point 3."
    assert queue[0].reviewed_by == cast.office


@pytest.mark.parametrize("reason", ["", "   "])
def test_return_without_a_reason_is_refused_in_words(post, queue, reason):
    answer = post(queue[0], "return_test_run", reason=reason)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert page.count("Write why this test run goes back") == 2
    assert 'href="#id_reason"' in page
    assert queue[0].review == "to_review"


def test_second_reviewer_does_not_overwrite_the_first(post, sign_in, queue, cast):
    post(queue[0], "accept_test_run")
    colleague = make_user("office", "priscilla")
    answer = post(queue[0], "return_test_run", user=colleague, reason="I see it otherwise.")
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "odette has already accepted this test run" in page
    assert "I see it otherwise." in page
    assert queue[0].review == "accepted"


def test_undo_is_offered_and_works(post, sign_in, cast, queue):
    answer = post(queue[0], "accept_test_run")
    page = sign_in(cast.office).get(answer.url).content.decode()
    assert reverse("office:undo_review", args=[queue[0].pk]) in page
    answer = post(queue[0], "undo_review")
    assert queue[0].review == "to_review"
    assert answer.url == reverse("office:review_run", args=[queue[0].pk])


def test_undo_strip_is_only_for_who_decided(post, sign_in, cast, queue):
    answer = post(queue[0], "accept_test_run")
    page = sign_in(cast.manager).get(answer.url).content.decode()
    assert reverse("office:undo_review", args=[queue[0].pk]) not in page


def test_nonsense_in_the_address_is_ignored(sign_in, cast, queue):
    address = reverse("office:review_run", args=[queue[0].pk])
    assert sign_in(cast.office).get(address, {"done": "x"}).status_code == 200


def test_approved_job_closes_the_review(post, sign_in, cast, make_job, make_run):
    run = make_run(make_job(status="approved"), review="accepted", reviewed_by=cast.office)
    answer = post(run, "undo_review")
    page = sign_in(cast.office).get(answer.url).content.decode()
    assert run.review == "accepted"
    assert "is approved; the review of its test runs is closed" in page


def test_odd_value_is_confirmed_by_name_and_reason(post, queue, cast):
    question(queue[0])
    post(
        queue[0],
        "confirm_question",
        **{"question": "q0", "q0-code": "size.large", "q0-reason": "Measured twice."},
    )
    confirmation = queue[0].confirmations.get()
    assert (confirmation.by, confirmation.reason) == (cast.office, "Measured twice.")


def test_confirmation_without_a_reason_is_refused_in_words(post, queue):
    question(queue[0])
    answer = post(queue[0], "confirm_question", **{"question": "q0", "q0-code": "size.large"})
    assert answer.status_code == 422
    assert "Write why the value stands as it was sent" in answer.content.decode()
    assert not queue[0].confirmations.exists()


def test_check_leads_to_its_reading(sign_in, cast, queue):
    question(queue[0])
    page = (
        sign_in(cast.office).get(reverse("office:review_run", args=[queue[0].pk])).content.decode()
    )
    assert 'id="series[0].points[2].flow"' in page
    assert "#series[0].points[2].flow" in page


def test_inspector_looks_but_is_offered_nothing(sign_in, cast, queue):
    page = (
        sign_in(cast.inspector)
        .get(reverse("office:review_run", args=[queue[0].pk]))
        .content.decode()
    )
    assert reverse("office:accept_test_run", args=[queue[0].pk]) not in page
