"""Stored results: a run evaluated, a job's before compared with its after."""

from uuid import UUID

from django.utils import timezone

from agency.jobs.models import Job, SafetyStop
from agency.outbox.models import Errand
from agency.rulebook.models import Rule

from .bridge.comparison import compare, pair_of
from .bridge.kinds import evaluate
from .documents import parse_json
from .evaluation import Evaluation, TestSide
from .models import TIGHTNESS, Comparison, Result, TestRun
from .register import GAUGE_CHECK, context_of
from .storing import EVALUATE


def evaluate_run(run_id: UUID) -> Result:
    """Evaluate one run with all the agency knows now; equal inputs give the same row again."""
    run = TestRun.objects.select_related("job__house", "uploaded_by__crew_member").get(pk=run_id)
    document = parse_json(run.document)
    outcome = evaluate(document, rules=Rule.objects.all(), context=context_of(run, document))
    result = store_result(run, outcome)
    if run.kind == GAUGE_CHECK:
        _evaluate_what_rests_on(run)
    return result


def _evaluate_what_rests_on(check: TestRun) -> None:
    """Tests of the same visit that were evaluated before their gauge's check was."""
    tests = TestRun.objects.unreviewed().filter(
        visit=check.visit_id, taken_at__gte=check.taken_at, results__isnull=False
    )
    for run in tests.exclude(kind=GAUGE_CHECK).distinct():
        Errand.promise(EVALUATE, run.pk)


def store_result(run: TestRun, outcome: Evaluation) -> Result:
    """The row of this outcome, which thereby becomes the run's current result.

    A hazard it found stops the job; a later result does not take that stop back.
    """
    for stop in outcome.stops:
        SafetyStop.objects.raise_once(job=run.job, source=run.pk, **stop)
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
            "answer": outcome.answer,
            "figures": outcome.figures,
            "checks": outcome.checks,
        },
    )[0]


def compare_job(job: Job) -> Comparison:
    """Compare the last accepted test before the work with the last accepted one after it."""
    accepted = [
        (side_of(run, run.result), run.result)
        for run in job.test_runs.of_kind(TIGHTNESS).accepted().with_result()
        if run.result is not None and run.result.may_be_reported
    ]
    before, after = pair_of(side for side, _ in accepted)
    outcome = compare(before, after, rules=Rule.objects.all())
    return Comparison.objects.create(
        job=job,
        before=next((result for side, result in accepted if side is before), None),
        after=next((result for side, result in accepted if side is after), None),
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


def side_of(run: TestRun, result: Result) -> TestSide:
    """One stored test as a comparison sees it."""
    return TestSide(
        phase=run.phase,
        method=result.method,
        edition=result.edition,
        taken_at=run.corrected_taken_at,
        verdict=result.verdict,
        maths_version=result.maths_version,
        figures=result.figures,
        geometry=result.figures.get("geometry") or {},
    )
