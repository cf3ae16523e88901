"""Promises: claimed once, kept once, found again when a message or a worker is lost."""

import uuid
from datetime import timedelta

import pytest
from django.utils import timezone

from agency.errors import ActionRefused, TransitionRefused
from agency.outbox.models import LEASE, MOST_ATTEMPTS, PATIENCE, STUCK_AFTER, Errand
from agency.outbox.running import keep, sweep

pytestmark = pytest.mark.django_db


@pytest.fixture
def sent(monkeypatch):
    messages = []
    monkeypatch.setattr(
        "celery.current_app.send_task", lambda name, args, **_: messages.append((name, args[0]))
    )
    return messages


def promise(**changes):
    return Errand.objects.create(task="a.task", subject=uuid.uuid4(), **changes)


def test_a_promise_is_nudged_after_commit_only(sent, django_capture_on_commit_callbacks):
    with django_capture_on_commit_callbacks(execute=True):
        errand = Errand.promise("a.task", uuid.uuid4())
        assert sent == []
    assert sent == [("a.task", str(errand.pk))]


def test_a_broker_that_is_down_does_no_harm(monkeypatch, django_capture_on_commit_callbacks):
    def down(*args, **kwargs):
        raise ConnectionError("no broker")

    monkeypatch.setattr("celery.current_app.send_task", down)
    with django_capture_on_commit_callbacks(execute=True):
        errand = Errand.promise("a.task", uuid.uuid4())
    errand.refresh_from_db()
    assert errand.state == "queued"


def test_work_runs_once_however_often_it_is_told():
    errand, done = promise(), []
    assert keep(str(errand.pk), done.append)
    assert not keep(str(errand.pk), done.append)
    assert done == [errand.subject]


def test_a_living_lease_is_respected_and_a_dead_one_taken_over():
    errand, done = promise(), []
    assert errand.claim()
    assert not keep(str(errand.pk), done.append)
    Errand.objects.update(lease_until=timezone.now() - timedelta(seconds=1))
    assert keep(str(errand.pk), done.append)
    assert Errand.objects.get().attempts == 2


def test_failed_work_leaves_no_trace_and_is_tried_again():
    errand = promise()

    def stumble(subject):
        promise()
        raise RuntimeError("disk full")

    with pytest.raises(RuntimeError):
        keep(str(errand.pk), stumble)
    errand = Errand.objects.get()
    assert (errand.state, errand.problem) == ("queued", "RuntimeError: disk full")


def test_after_the_last_attempt_a_person_is_needed():
    errand = promise(attempts=MOST_ATTEMPTS - 1)

    def stumble(subject):
        raise RuntimeError("again")

    with pytest.raises(RuntimeError):
        keep(str(errand.pk), stumble)
    assert Errand.objects.get().state == "failed"


def test_a_refusal_is_final_and_kept_in_words():
    errand = promise()

    def refuse(subject):
        raise ActionRefused("The house has no volume. Enter it on the house page.")

    keep(str(errand.pk), refuse)
    errand.refresh_from_db()
    assert errand.state == "failed"
    assert "no volume" in errand.problem


def test_failed_work_is_tried_again_by_a_person_only_once_it_failed(
    sent, django_capture_on_commit_callbacks
):
    errand = promise(state="failed", attempts=MOST_ATTEMPTS, problem="disk full")
    with django_capture_on_commit_callbacks(execute=True):
        errand.try_again()
    assert sent == [("a.task", str(errand.pk))]
    assert keep(str(errand.pk), lambda subject: None)
    with pytest.raises(TransitionRefused, match="only failed work"):
        Errand.objects.get().try_again()


def test_failed_and_stuck_work_needs_a_person():
    now = timezone.now()
    failed = promise(state="failed")
    stuck = promise(created_at=now - STUCK_AFTER - timedelta(seconds=1))
    promise()
    promise(state="done", created_at=now - STUCK_AFTER - timedelta(days=1))
    assert set(Errand.objects.needing_a_person(now)) == {failed, stuck}


def test_a_follower_waits_and_is_nudged_in_turn(sent, django_capture_on_commit_callbacks):
    first = promise()
    second = promise(after=first)
    assert not keep(str(second.pk), lambda subject: None)
    with django_capture_on_commit_callbacks(execute=True):
        keep(str(first.pk), lambda subject: None)
    assert sent == [("a.task", str(second.pk))]
    assert keep(str(second.pk), lambda subject: None)


def test_the_sweeper_finds_lost_messages_and_dead_workers(sent):
    now = timezone.now()
    lost = promise(nudged_at=now - PATIENCE - timedelta(seconds=1))
    never = promise()
    promise(nudged_at=now)
    dead = promise(state="running", lease_until=now - timedelta(seconds=1), nudged_at=now - LEASE)
    promise(state="running", lease_until=now + LEASE, nudged_at=now - LEASE)
    promise(state="done", nudged_at=now - LEASE)
    promise(after=lost)
    assert sweep() == 3
    assert {one for _, one in sent} == {str(lost.pk), str(never.pk), str(dead.pk)}
    assert sweep() == 0
