"""Works many jobs off at once on all processors, and stores what the worker would store."""

import os
from collections.abc import Iterable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import fields
from multiprocessing import get_context
from typing import Self
from uuid import UUID

from django.utils import timezone

from agency.diagnostics.documents import parse_json
from agency.diagnostics.models import Comparison, TestRun
from agency.diagnostics.register import context_of
from agency.diagnostics.results import store_result
from agency.diagnostics.storing import EVALUATE
from agency.estimates.estimating import inputs_of, store_estimate
from agency.estimates.estimating_measures import (
    prepare,
    store_measures_estimate,
    worked_out,
)
from agency.estimates.evaluate import estimate_infiltration
from agency.jobs.models import Job
from agency.outbox.models import Errand
from agency.rulebook.models import Rule
from agency.rulebook.shipped import RuleEntry
from agency.workflows import ESTIMATE

from .process import evaluated, know_rules

MOST_PROCESSES = 4
CHUNK = 4
"""Pieces of work handed over at once."""


class Evaluator:
    """Processes that know the rule book. Leaving the block ends them."""

    def __init__(self) -> None:
        rules = [
            RuleEntry(**{one.name: getattr(rule, one.name) for one in fields(RuleEntry)})
            for rule in Rule.objects.all()
        ]
        # Not forked: a copy of an open database connection would break the original.
        self._pool = ProcessPoolExecutor(
            max_workers=min(os.cpu_count() or 1, MOST_PROCESSES),
            mp_context=get_context("spawn"),
            initializer=know_rules,
            initargs=(rules,),
        )

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *problem: object) -> None:
        self._pool.shutdown(cancel_futures=True)

    def evaluate(self, runs: Iterable[TestRun]) -> None:
        """Compute and store a result for each run, and tick its promise off.

        Runs of one house must come in separate calls: a later test looks at the earlier result.
        """
        waiting = list(runs)
        # Read while the processes are already at work on the first of them.
        work = ((run.document, context_of(run, parse_json(run.document))) for run in waiting)
        outcomes = self._pool.map(evaluated, work, chunksize=CHUNK)
        for run, outcome in zip(waiting, outcomes, strict=True):
            store_result(run, outcome)
        _tick_off(EVALUATE, [run.pk for run in waiting])

    def estimate(self, jobs: Iterable[Job]) -> None:
        """Estimate and store the saving of each job, and tick its promise off."""
        waiting = [(job, _comparison_of(job)) for job in jobs]
        work = (inputs_of(job, comparison) for job, comparison in waiting)
        outcomes = self._pool.map(estimate_infiltration, work, chunksize=CHUNK)
        for (job, comparison), outcome in zip(waiting, outcomes, strict=True):
            store_estimate(job, comparison, outcome)
        _tick_off(ESTIMATE, [job.pk for job, _ in waiting])

    def estimate_measures(self, jobs: Iterable[Job]) -> None:
        """Estimate and store what the measures of each job save."""
        prepared = [prepare(job) for job in jobs]
        outcomes = self._pool.map(worked_out, prepared)
        for one, outcome in zip(prepared, outcomes, strict=True):
            store_measures_estimate(one.job, one.station, outcome)


def _comparison_of(job: Job) -> Comparison:
    comparison: Comparison = job.comparisons.select_related("before", "after").latest("computed_at")
    return comparison


def _tick_off(task: str, subjects: list[UUID]) -> None:
    Errand.objects.filter(task=task, subject__in=subjects).update(
        state=Errand.State.DONE, attempts=1, finished_at=timezone.now()
    )
