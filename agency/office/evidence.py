"""What an approved, reported job must have, and which of it this job still lacks."""

from collections.abc import Sequence
from dataclasses import dataclass

from agency.certificates.models import Certificate
from agency.diagnostics.models import Comparison, TestRun
from agency.estimates.models import SavingsEstimate
from agency.jobs.models import Job
from agency.wording import words
from agency.wording.templatetags.wording import day


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """One thing asked of a job: its name, whether it is there, and what is known of it."""

    name: str
    state: str
    """A state code with words of its own: done, waiting or missing."""
    detail: str


def evidence_for(
    job: Job,
    *,
    runs: Sequence[TestRun],
    comparison: Comparison | None,
    estimate: SavingsEstimate | None,
    certificates: Sequence[Certificate],
) -> list[Evidence]:
    """Every piece in the order in which it comes about."""
    return [
        _before(job, runs),
        _after(runs),
        _compared(comparison),
        _inspected(job),
        _approved(job),
        _estimated(estimate),
        _certified(certificates),
    ]


def missing_words(pieces: Sequence[Evidence]) -> str:
    """How many pieces are missing: the answer before the list."""
    missing = sum(piece.state != "done" for piece in pieces)
    if not missing:
        return "Nothing is missing."
    return f"{words.number(missing)} of {words.count(len(pieces), 'piece')} not there yet."


def _piece(name: str, detail: str, *, state: str) -> Evidence:
    return Evidence(name=name, state=state, detail=detail)


def _of_phase(runs: Sequence[TestRun], *phases: str) -> tuple[list[TestRun], list[TestRun]]:
    ours = [run for run in runs if run.phase in phases]
    return [run for run in ours if run.review == TestRun.Review.ACCEPTED], ours


def _before(job: Job, runs: Sequence[TestRun]) -> Evidence:
    name = "Test before the work, accepted"
    accepted, sent = _of_phase(runs, TestRun.Phase.BEFORE)
    if accepted:
        return _piece(name, f"Taken {day(accepted[-1].taken_at)}.", state="done")
    if job.no_before_test_reason:
        return _piece(name, f"Could not be made: {job.no_before_test_reason}", state="done")
    if sent:
        return _piece(name, _waiting_words(sent[-1]), state="waiting")
    return _piece(name, "No test has come in, and no reason is given.", state="missing")


def _after(runs: Sequence[TestRun]) -> Evidence:
    name = "Test after the work, accepted"
    accepted, sent = _of_phase(runs, TestRun.Phase.AFTER, TestRun.Phase.INSPECTION)
    if accepted:
        return _piece(name, f"Taken {day(accepted[-1].taken_at)}.", state="done")
    if sent:
        return _piece(name, _waiting_words(sent[-1]), state="waiting")
    return _piece(name, "No test has come in.", state="missing")


def _waiting_words(run: TestRun) -> str:
    if run.review == TestRun.Review.RETURNED:
        return f"Returned to the crew: {run.review_reason}"
    return f"Received {day(run.received_at)}, waits for a review."


def _compared(comparison: Comparison | None) -> Evidence:
    name = "Before and after compared"
    if comparison is None:
        return _piece(name, "No comparison is made yet.", state="missing")
    shown = comparison.verdict in {
        Comparison.Verdict.DETECTABLE,
        Comparison.Verdict.NOT_DETECTABLE,
    }
    state = "done" if shown else "missing"
    return _piece(name, f"{comparison.get_verdict_display()}.", state=state)


def _inspected(job: Job) -> Evidence:
    name = "Final inspection passed"
    if job.inspection_passed_on:
        return _piece(name, f"First passed {day(job.inspection_passed_on)}.", state="done")
    if job.status == Job.Status.TESTED_OUT:
        return _piece(name, "The crew has tested out; an inspector is due.", state="waiting")
    return _piece(name, "Comes after the crew has tested out.", state="missing")


def _approved(job: Job) -> Evidence:
    name = "Job approved"
    if job.approved_at:
        return _piece(name, f"Approved {day(job.approved_at)}.", state="done")
    if job.status == Job.Status.INSPECTION_PASSED:
        return _piece(name, "Ready: a manager can approve it.", state="waiting")
    return _piece(name, "Comes after the final inspection.", state="missing")


def _estimated(estimate: SavingsEstimate | None) -> Evidence:
    name = "Saving estimated"
    if estimate is None:
        return _piece(name, "Worked out when the job is approved.", state="missing")
    if not estimate.figures:
        return _piece(name, "Could not be estimated; see the reasons below.", state="missing")
    return _piece(name, f"Worked out {day(estimate.computed_at)}.", state="done")


def _certified(certificates: Sequence[Certificate]) -> Evidence:
    name = "Certificate for the household"
    if certificates:
        newest = certificates[0]
        issued = day(newest.issued_at)
        return _piece(name, f"{newest.number}, issued {issued}.", state="done")
    return _piece(name, "Printed when the saving is estimated.", state="missing")
