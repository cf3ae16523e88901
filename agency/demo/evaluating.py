"""Evaluates many test runs at once on all processors, and stores what the worker would store."""

import os
from collections.abc import Iterable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import fields
from multiprocessing import get_context
from typing import Any

from django.utils import timezone

from agency.diagnostics.documents import parse_json
from agency.diagnostics.evaluation import Evaluation
from agency.diagnostics.models import Result, TestRun
from agency.diagnostics.register import context_of
from agency.outbox.models import Errand
from agency.rulebook.models import Rule
from agency.rulebook.shipped import RuleEntry

from .process import evaluated, know_rules

MOST_PROCESSES = 4


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

    def __enter__(self) -> "Evaluator":
        return self

    def __exit__(self, *problem: object) -> None:
        self._pool.shutdown(cancel_futures=True)

    def evaluate(self, runs: Iterable[TestRun]) -> None:
        """Compute and store a result for each run, and tick its promise off.

        Runs of one house must come in separate calls: a later test looks at the earlier result.
        """
        waiting = list(runs)
        work = [(run.document, context_of(run, parse_json(run.document))) for run in waiting]
        for run, outcome in zip(waiting, self._pool.map(evaluated, work, chunksize=4), strict=True):
            _store(run, outcome)
        Errand.objects.filter(subject__in=[run.pk for run in waiting]).update(
            state=Errand.State.DONE, attempts=1, finished_at=timezone.now()
        )


def _store(run: TestRun, outcome: Evaluation) -> None:
    known: dict[str, Any] = {
        "computed_at": timezone.now(),
        "method": outcome.method,
        "edition": outcome.edition,
        "maths_version": outcome.maths_version,
        "verdict": outcome.verdict,
        "flow_50": outcome.flow_50,
        "figures": outcome.figures,
        "checks": outcome.checks,
    }
    Result.objects.update_or_create(test_run=run, input_hash=outcome.input_hash, defaults=known)
