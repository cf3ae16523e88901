"""What the demonstration prints, line by line."""

from collections.abc import Iterator

from agency.diagnostics.models import Comparison, TestRun
from agency.estimates.models import SavingsEstimate
from agency.outbox.models import Errand
from agency.wording import words

from . import people, phone_job
from .phone import Drive
from .registers import PASSWORD
from .seed import Seeded


def seeded_lines(seeded: Seeded) -> Iterator[str]:
    """What the database holds."""
    how = "was filled before; nothing is added" if seeded.was_there else "is filled"
    yield (
        f"The database {how}: {words.count(seeded.jobs, 'job')}, "
        f"{words.count(seeded.test_runs, 'test run')}."
    )
    yield ""


def driven_lines(driven: Drive) -> Iterator[str]:
    """Each step of the phone's job, then its figures and its papers."""
    yield "One job, driven over HTTP as a phone and the desk would:"
    for step in driven.steps:
        yield f"  {'done before' if step.was_done else 'done':<11}  {step.what}"
    yield ""
    for phase, run in driven.runs.items():
        flow = run["result"]["figures"]["flow_50"]
        yield f"Flow at 50 Pa {phase} the work: {words.flow_interval(flow)}, 95 % of the fit"
    yield from _outcome_lines()
    for name, path in driven.files.items():
        yield f"{'Certificate' if name.endswith('.pdf') else 'Quarter report'}: {path}"
    yield ""


def _outcome_lines() -> Iterator[str]:
    comparison = Comparison.objects.current().filter(job=phone_job.job_id()).first()
    if comparison is not None and comparison.reduction is not None:
        spread = comparison.reduction_uncertainty
        around = "" if spread is None else f" ± {words.number(100 * spread, 1)} points (k = 1)"
        yield f"Reduction: {words.percent(comparison.reduction, 1)}{around}"
    estimate = SavingsEstimate.objects.filter(job=phone_job.job_id()).first()
    if estimate is not None:
        for sentence in estimate.figures.get("words") or []:
            yield f"Saving: {sentence}"


def problem_lines() -> Iterator[str]:
    """What the worker could not do for the driven job, in its words."""
    runs = TestRun.objects.filter(job=phone_job.job_id())
    subjects = [phone_job.job_id(), *runs.values_list("pk", flat=True)]
    for errand in Errand.objects.filter(subject__in=subjects).exclude(problem=""):
        yield f"{errand.task}: {errand.problem}"


def serving_lines(base_url: str) -> Iterator[str]:
    """Where to look, and who to be."""
    yield f"Office:       {base_url}/office/"
    yield f"Phone pages:  {base_url}/field/"
    yield f"API schema:   {base_url}/api/v1/schema/"
    yield f"Sign in as {', '.join(sorted({'crew', *people.STAFF}))}; password: {PASSWORD}"
