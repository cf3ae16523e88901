"""Gives the rows written just now the times at which the stories say they came about."""

from datetime import datetime, timedelta
from typing import Any

from django.utils.timezone import localtime

from agency.diagnostics.models import Comparison, RefusedUpload, Result, TestRun
from agency.estimates.models import SavingsEstimate
from agency.jobs.models import Job, JobEvent
from agency.outbox.models import Errand

from .histories import Life
from .registers import local_time

WORKER_TAKES = timedelta(seconds=20)


def date_everything(lives: list[Life]) -> None:
    """Events, reviews, results, comparisons, estimates and their histories.

    Certificates keep the day they were printed: it stands on the paper and in the chain.
    """
    by_job = {life.job.pk: life for life in lives}
    arrivals = {run.pk: run.received_at for life in lives for _, run in life.runs}
    steps = {pk: _step_times(life) for pk, life in by_job.items()}
    _date_events(steps)
    _date_approvals(steps)
    reviewed = _date_reviews(by_job)
    _date_results(arrivals)
    _date_comparisons(by_job, steps, reviewed)
    _date_outcomes(steps)
    _date_refusals(lives)
    _date_errands(arrivals, steps)


def _step_times(life: Life) -> list[datetime]:
    """When the job changed its state, in the order in which it did."""
    story = life.story
    times = [min(run.received_at for _, run in life.runs)] if life.runs else []
    if story.tested_out_on:
        times.append(local_time(story.tested_out_on, hour=18))
    if story.failed_on or story.inspected_on:
        times.append(local_time(story.tested_out_on or story.opened_on, hour=18, minute=40))
    if story.failed_on:
        times.append(local_time(story.failed_on, hour=19))
    if story.failed_on and story.inspected_on:
        times.append(local_time(story.inspected_on, hour=16))
    if story.inspected_on:
        times.append(local_time(story.inspected_on, hour=19))
    if story.approved_on:
        times.append(local_time(story.approved_on, hour=9))
    if story.withdrawn_because:
        times.append(local_time(story.opened_on + timedelta(days=20), hour=11))
    return times


def _date_events(steps: dict[Any, list[datetime]]) -> None:
    """Events and the history rows behind them were written in the order of the steps."""
    history = Job.history.model
    for model, rows, name in (
        (JobEvent, JobEvent.objects.filter(job__in=steps).order_by("at", "id"), "at"),
        (
            history,
            history.objects.filter(id__in=steps, history_type="~").order_by("history_id"),
            "history_date",
        ),
    ):
        left = {pk: iter(times) for pk, times in steps.items()}
        changed = list(rows)
        for row in changed:
            setattr(row, name, next(left[getattr(row, "job_id", None) or row.id]))
        model.objects.bulk_update(changed, [name], batch_size=200)


def _date_approvals(steps: dict[Any, list[datetime]]) -> None:
    jobs = list(Job.objects.filter(pk__in=steps, status=Job.Status.APPROVED))
    for job in jobs:
        job.approved_at = steps[job.pk][-1]
    Job.objects.bulk_update(jobs, ["approved_at"], batch_size=200)


def _date_reviews(by_job: dict[Any, Life]) -> dict[Any, datetime]:
    """Reviews fall on the evening of the day of arrival; by run, when each was decided."""
    runs = list(TestRun.objects.filter(job__in=by_job).exclude(reviewed_at=None))
    for run in runs:
        run.reviewed_at = _review_time(run)
    TestRun.objects.bulk_update(runs, ["reviewed_at"], batch_size=200)
    reviewed = {run.pk: run.reviewed_at for run in runs}
    history = TestRun.history.model
    rows = list(history.objects.filter(job_id__in=by_job))
    for row in rows:
        row.history_date = row.received_at if row.history_type == "+" else reviewed[row.id]
        if row.reviewed_at is not None:
            row.reviewed_at = reviewed[row.id]
    history.objects.bulk_update(rows, ["history_date", "reviewed_at"], batch_size=200)
    return {pk: when for pk, when in reviewed.items() if when is not None}


def _review_time(run: TestRun) -> datetime:
    """The evening of the day it came in, later when it came late."""
    evening = local_time(localtime(run.received_at).date(), hour=16, minute=20)
    return max(evening, run.received_at + timedelta(minutes=12))


def _date_results(arrivals: dict[Any, datetime]) -> None:
    results = list(Result.objects.filter(test_run__in=arrivals))
    for result in results:
        result.computed_at = arrivals[result.test_run_id] + WORKER_TAKES
    Result.objects.bulk_update(results, ["computed_at"], batch_size=200)


def _date_comparisons(
    by_job: dict[Any, Life],
    steps: dict[Any, list[datetime]],
    reviewed: dict[Any, datetime],
) -> None:
    """Each job's comparisons keep their order and end with its last step."""
    last = {
        pk: max(
            [
                *steps[pk],
                *(reviewed[run.pk] for _, run in life.runs if run.pk in reviewed),
            ]
        )
        for pk, life in by_job.items()
        if steps[pk]
    }
    rows = list(Comparison.objects.filter(job__in=by_job).order_by("-computed_at", "-id"))
    seen: dict[Any, int] = {}
    for row in rows:
        seen[row.job_id] = seen.get(row.job_id, 0) + 1
        row.computed_at = last[row.job_id] - timedelta(minutes=seen[row.job_id] - 1)
    Comparison.objects.bulk_update(rows, ["computed_at"], batch_size=200)


def _date_outcomes(steps: dict[Any, list[datetime]]) -> None:
    estimates = list(SavingsEstimate.objects.filter(job__in=steps))
    for estimate in estimates:
        estimate.computed_at = steps[estimate.job_id][-1] + WORKER_TAKES
    SavingsEstimate.objects.bulk_update(estimates, ["computed_at"], batch_size=200)


def _date_refusals(lives: list[Life]) -> None:
    """What was refused at the door came in on the day of its test."""
    for life in lives:
        for planned in life.story.tests:
            if planned.review == "refused":
                RefusedUpload.objects.filter(
                    device__user__crew_member__crew=life.job.crew_id,
                    document__contains=str(life.job.pk),
                ).update(received_at=local_time(planned.day, hour=15))


def _date_errands(arrivals: dict[Any, datetime], steps: dict[Any, list[datetime]]) -> None:
    errands = list(Errand.objects.filter(state=Errand.State.DONE))
    for errand in errands:
        made = arrivals.get(errand.subject) or steps[errand.subject][-1]
        errand.created_at, errand.finished_at = made, made + WORKER_TAKES
        errand.nudged_at = made
    Errand.objects.bulk_update(errands, ["created_at", "finished_at", "nudged_at"], batch_size=200)
