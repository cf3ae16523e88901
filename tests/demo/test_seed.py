"""Seeding fills every list once and doubles nothing."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from django.apps import apps
from django.db.models import F
from django.utils import timezone

from agency.accounts.models import Device, User
from agency.api.field_jobs import jobs_between
from agency.demo import registers
from agency.demo.catalogue import QUARTERS, quarter_start
from agency.demo.seed import seed
from agency.demo.stories import stories
from agency.diagnostics.models import Comparison, Result, TestRun
from agency.diagnostics.results import evaluate_run
from agency.errors import ActionRefused
from agency.estimates.bill_studies import BillStudy, NonRoutineChange
from agency.estimates.daily_weather import DailyWeather, gaps_in
from agency.estimates.models import Measure, MeasuresEstimate, SavingsEstimate
from agency.houses.models import Building
from agency.intake.book import rules_on
from agency.intake.buildings import eligible_share, roster
from agency.intake.models import Application, Determination
from agency.jobs.models import Job, JobEvent, Visit
from agency.office.piles import piles
from agency.outbox.models import Errand
from agency.programs.models import Program
from tests import builders

NOW = datetime(2026, 11, 25, 17, 30, tzinfo=UTC)


def test_a_database_of_someone_else_is_refused(db: None) -> None:
    """Stands first: the tests below share one seeded database."""
    builders.make_user("office", "odette")
    with pytest.raises(ActionRefused, match="not of the demo"):
        seed(NOW)


@pytest.fixture(scope="module")
def seeded(django_db_setup: Any, django_db_blocker: Any) -> Iterator[None]:
    """One seeding for the whole module, with enough jobs for every turn a story can take."""
    from django.db import transaction

    with django_db_blocker.unblock(), transaction.atomic():
        seed(NOW, counted_jobs=42)
        yield
        transaction.set_rollback(True)


@pytest.fixture
def filled(seeded: None, db: None) -> None:
    """The seeded database."""


def counts() -> dict[str, int]:
    return {
        model._meta.label: model._default_manager.count()
        for model in apps.get_models(include_auto_created=True)
        if model._meta.app_label != "contenttypes"
    }


def test_a_second_seeding_changes_nothing(filled: None) -> None:
    before = counts()
    again = seed(NOW.replace(day=28))
    assert again.was_there
    assert counts() == before


def test_every_office_list_has_entries(filled: None) -> None:
    """All but failed work: nothing has gone wrong; one hazard was met and stops its job."""
    today = timezone.localtime(NOW).date()
    empty = {pile.key for pile in piles(day=today, now=NOW) if not pile.count}
    assert empty == {"stuck"}
    assert Visit.objects.on(today).exists()
    assert Visit.objects.on(today + timedelta(days=1)).exists()
    assert Device.objects.exclude(revoked_at=None).exists()
    # No quarter of the demo is locked, so no job is reported.
    shown = set(Job.objects.values_list("status", flat=True))
    assert shown == set(Job.Status.values) - {"reported"}


def test_a_crew_has_both_tests_to_make_today(filled: None) -> None:
    """With the kinds of test the programme requires, and a test before to hold the other to."""
    today = timezone.localtime(NOW).date()
    jobs = jobs_between(User.objects.get(username="crew"), first=today, last=today)
    visits = {visit["kind"]: (job, visit) for job in jobs for visit in job["visits"]}
    assert set(visits) >= {"test_in", "test_out"}
    for job, visit in visits.values():
        kinds = [one["kind"] for one in visit["required"]]
        assert kinds == ["gauge_check", "envelope", "combustion_zone"]
        assert (job["before"] is not None) == (visit["kind"] == "test_out")


def test_nothing_waits_for_a_worker_or_has_failed(filled: None) -> None:
    assert set(Errand.objects.values_list("state", flat=True)) == {"done"}


def test_each_quarter_counts_units(filled: None) -> None:
    for back in range(QUARTERS):
        first = quarter_start(NOW.date(), back=back)
        last = quarter_start(NOW.date(), back=back - 1)
        assert Job.objects.counted_between(first, last).exists()


def test_most_approved_jobs_show_a_reduction_and_an_estimate(filled: None) -> None:
    approved = Job.objects.filter(status=Job.Status.APPROVED)
    current = Comparison.objects.current().filter(job__in=approved)
    verdicts = set(current.values_list("verdict", flat=True))
    assert verdicts >= {"detectable", "not_detectable", "not_comparable", "no_before"}
    assert current.filter(verdict="detectable").count() > 0.6 * approved.count()
    assert current.filter(reduction__lt=0).exists()
    estimated = SavingsEstimate.objects.filter(job__in=approved)
    assert sum(bool(one.figures) for one in estimated) > 0.6 * approved.count()


def test_bills_measure_savings_and_say_where_they_cannot(filled: None) -> None:
    """Metered homes far enough from their work; one changed, one has too few bills."""
    current = [study.analyses.first() for study in BillStudy.objects.all()]
    assert len(current) >= 5
    assert sum(one.saving is not None for one in current) > 0.6 * len(current)
    assert any(one.refusals for one in current) or len(current) < 15
    rates = [
        program.realizations.first().figures["groups"]["all"]
        for program in Program.objects.exclude(realizations=None)
    ]
    known = [rate["ratio_of_sums"] for rate in rates if rate]
    assert known
    assert all(rate["low"] < rate["central"] < rate["high"] for rate in known)
    assert NonRoutineChange.objects.exists()


def test_actual_weather_keeps_its_gap(filled: None) -> None:
    days = list(DailyWeather.objects.values_list("day", flat=True))
    assert [gap.days for gap in gaps_in(days, first=days[0], last=days[-1])] == [2]


def test_a_good_part_of_the_jobs_has_measures_and_some_an_estimate(filled: None) -> None:
    for status in (Job.Status.APPROVED, Job.Status.IN_PROGRESS):
        jobs = Job.objects.filter(status=status)
        assert jobs.exclude(measures=None).distinct().count() > 0.2 * jobs.count()
    estimates = MeasuresEstimate.objects.all()
    assert sum(bool(one.figures) for one in estimates) > 0.6 * estimates.count() > 5
    assert set(Measure.objects.values_list("category", flat=True)) == {*Measure.Category.values}


def test_every_verdict_but_not_computed_occurs(filled: None) -> None:
    verdicts = set(Result.objects.current().values_list("verdict", flat=True))
    assert verdicts >= {"valid", "advisory", "provisional", "rejected"}


def test_the_worker_would_store_the_same_result(filled: None) -> None:
    """The evaluation by helping processes rests on the same inputs as the worker's own."""
    # The last test of a house: an earlier one would now be held against what came after it.
    last = TestRun.objects.filter(phase="after", job__status=Job.Status.APPROVED)
    runs = last.exclude(job__test_runs__phase="inspection").order_by("received_at")
    for run in runs.with_result()[:3]:
        stored = run.result
        assert stored is not None
        count = Result.objects.count()
        again = evaluate_run(run.pk)
        assert (again.pk, again.figures) == (stored.pk, stored.figures)
        assert Result.objects.count() == count


def test_history_lies_in_the_past_and_in_order(filled: None) -> None:
    assert not JobEvent.objects.filter(at__gt=NOW).exists()
    assert not Result.objects.filter(computed_at__lt=F("test_run__received_at")).exists()
    for job in Job.objects.prefetch_related("events"):
        events = list(job.events.all())
        assert [event.old for event in events[1:]] == [event.new for event in events[:-1]]
        assert not events or job.status == events[-1].new


def test_log_ins_hold_every_role_with_the_printed_password(filled: None) -> None:
    assert set(User.objects.values_list("role", flat=True)) == set(User.Role.values)
    assert User.objects.get(username="manager").check_password(registers.PASSWORD)
    assert len(registers.PASSWORD) >= 15


@pytest.mark.parametrize(
    "today", [NOW.date(), NOW.date().replace(month=10, day=1), NOW.date().replace(month=1, day=3)]
)
def test_stories_keep_the_order_of_the_work_on_any_day(today: Any) -> None:
    for story in stories(today):
        days = [
            story.opened_on,
            *(test.day for test in story.tests if test.phase == "before"),
            story.work_started_on,
            story.tested_out_on,
            story.failed_on,
            story.inspected_on,
            story.approved_on,
        ]
        known = [day for day in days if day is not None]
        assert known == sorted(known)
        assert known[-1] <= today


def test_intake_is_filled(filled: None) -> None:
    """A ranked waiting list, every state of an application, and a building short of one unit."""
    today = timezone.localtime(NOW).date()
    ranked = list(Application.objects.waiting())
    assert len(ranked) == 20
    assert ranked[0].score is not None
    assert ranked[0].score.is_emergency
    assert set(Application.objects.values_list("status", flat=True)) == set(
        Application.Status.values
    )
    outcomes = set(Determination.objects.values_list("outcome", flat=True))
    assert outcomes == set(Determination.Outcome.values)
    tested = Job.objects.filter(test_runs__isnull=False).distinct()
    assert Application.objects.filter(status="job_opened").count() >= tested.count()
    share = eligible_share(
        building := Building.objects.get(),
        roster(building, on=today),
        on=today,
        rules=rules_on(today),
    )
    assert (share.eligible, share.total, share.units_short) == (3, 6, 1)


def test_determinations_were_made_before_their_jobs(filled: None) -> None:
    late = Determination.objects.filter(made_on__gt=F("application__job__opened_on"))
    assert not late.exists()
    assert not Determination.objects.filter(made_at__date__gt=F("made_on")).exists()
