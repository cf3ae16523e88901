"""Stored results: a run evaluated, a job's before compared with its after."""

from uuid import UUID

from django.utils import timezone

from agency.jobs.models import Job
from agency.rulebook.models import Rule

from .documents import parse_json
from .evaluate import compare, evaluate_document
from .evaluation import TestMeta
from .models import Comparison, Result, TestRun
from .register import SIZES, context_of


def evaluate_run(run_id: UUID) -> Result:
    """Evaluate one run with all the agency knows now; equal inputs give the same row again."""
    run = TestRun.objects.select_related("job__house", "uploaded_by__crew_member").get(pk=run_id)
    document = parse_json(run.document)
    outcome = evaluate_document(
        document, rules=Rule.objects.all(), context=context_of(run, document)
    )
    return Result.objects.update_or_create(
        test_run=run,
        input_hash=outcome.input_hash,
        defaults={
            "computed_at": timezone.now(),
            "method": outcome.method,
            "edition": outcome.edition,
            "maths_version": outcome.maths_version,
            "verdict": outcome.verdict,
            "flow_50": outcome.flow_50,
            "figures": outcome.figures,
            "checks": outcome.checks,
        },
    )[0]


def compare_job(job: Job) -> Comparison:
    """Compare the last accepted test before the work with the last accepted one after it."""
    accepted = [
        run
        for run in job.test_runs.accepted().with_result().order_by("taken_at", "id")
        if run.result is not None and run.result.may_be_reported
    ]
    before = _last(accepted, {TestRun.Phase.BEFORE})
    after = _last(accepted, {TestRun.Phase.AFTER, TestRun.Phase.INSPECTION})
    outcome = compare(
        before=_sides(before),
        after=_sides(after),
        rules=Rule.objects.all(),
    )
    return Comparison.objects.create(
        job=job,
        before=before.result if before else None,
        after=after.result if after else None,
        maths_version=outcome.maths_version,
        input_hash=outcome.input_hash,
        verdict=outcome.verdict,
        before_flow_50=outcome.before_flow_50,
        after_flow_50=outcome.after_flow_50,
        reduction=outcome.reduction,
        reduction_uncertainty=outcome.reduction_uncertainty,
        reasons=outcome.reasons,
        figures=outcome.figures,
    )


def _last(runs: list[TestRun], phases: set[TestRun.Phase]) -> TestRun | None:
    return next((run for run in reversed(runs) if run.phase in phases), None)


def _sides(run: TestRun | None) -> None:
    raise NotImplementedError
