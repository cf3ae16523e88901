"""A second person stands for odd values that are reported or bear on safety."""

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse
from django.utils import timezone

from agency import workflows
from agency.diagnostics.seconding import unseconded
from agency.errors import ActionRefused
from agency.rulebook.models import Rule

pytestmark = pytest.mark.django_db
SWITCH = "review.second_person_reported"


@pytest.fixture
def run(make_job, make_run, cast):
    """A tightness test with an odd value that the office has confirmed."""
    run = make_run(make_job(status="in_progress"))
    confirmed(run, cast.office, "size.large")
    return run


def confirmed(run, by, code):
    return run.confirmations.create(code=code, by=by, reason="Measured twice.")


def test_a_reported_number_waits_for_a_second_person(run, cast):
    with pytest.raises(ActionRefused) as refusal:
        workflows.accept_test_run(run.pk, cast.office)
    assert "size.large, confirmed by odette" in str(refusal.value)
    assert "Ask a colleague to open this run." in str(refusal.value)
    workflows.second_confirmation(run.confirmations.get().pk, cast.manager)
    assert workflows.accept_test_run(run.pk, cast.office).review == "accepted"


def test_the_same_person_is_no_second(run, cast):
    one = run.confirmations.get()
    with pytest.raises(ActionRefused, match="a second person stands for it"):
        workflows.second_confirmation(one.pk, cast.office)
    with pytest.raises(IntegrityError), transaction.atomic():
        run.confirmations.update(second_by=cast.office, second_at=timezone.now())


def test_only_reviewers_stand_for_values(run, cast):
    with pytest.raises(ActionRefused, match="A reviewer stands for a value"):
        workflows.second_confirmation(run.confirmations.get().pk, cast.inspector)


def test_a_value_is_seconded_once(run, cast):
    one = run.confirmations.get()
    workflows.second_confirmation(one.pk, cast.manager)
    with pytest.raises(ActionRefused, match="marisol has stood for this value already"):
        workflows.second_confirmation(one.pk, cast.admin)


def test_the_rule_book_may_let_reported_numbers_pass(run, cast):
    Rule.objects.filter(code=SWITCH).update(limit=0.0)
    assert workflows.accept_test_run(run.pk, cast.office).review == "accepted"


@pytest.mark.parametrize(
    ("code", "waits"),
    [
        ("clock.future", False),
        ("job.crew", False),
        ("calibration.overdue", False),
        ("order.leakier-after", True),
        ("review.decimal-slip", True),
    ],
)
def test_questions_that_change_no_number_need_no_second(make_job, make_run, cast, code, waits):
    run = make_run(make_job(status="in_progress"))
    confirmed(run, cast.office, code)
    assert bool(unseconded(run, on=timezone.localdate())) == waits


@pytest.mark.parametrize(
    ("kind", "code"),
    [
        ("combustion_zone", "clock.future"),
        ("attached", "attached.combustion-check"),
        ("envelope", "combustion.not-restored"),
    ],
)
def test_safety_always_waits_whatever_the_rule_book_says(make_job, make_run, cast, kind, code):
    Rule.objects.filter(code__startswith="review.second_person").update(limit=0.0)
    run = make_run(make_job(status="in_progress"))
    run.kind = kind
    run.save()
    confirmed(run, cast.office, code)
    assert unseconded(run, on=timezone.localdate())


def test_other_bench_figures_are_not_reported_and_pass(make_job, make_run, cast):
    run = make_run(make_job(status="in_progress"))
    run.kind = "component"
    run.save()
    confirmed(run, cast.office, "reading.expected-sign")
    assert unseconded(run, on=timezone.localdate()) == []


def test_a_colleague_is_offered_the_button_and_its_key(sign_in, run, cast):
    address = reverse("office:review_run", args=[run.pk])
    verb = reverse("office:second_confirmation", args=[run.confirmations.get().pk])
    assert verb not in sign_in(cast.office).get(address).content.decode()
    page = sign_in(cast.manager).get(address).content.decode()
    assert verb in page
    assert 'data-key="s"' in page
    answer = sign_in(cast.manager).post(verb, follow=True)
    assert "Two people stand for this value now." in answer.content.decode()
