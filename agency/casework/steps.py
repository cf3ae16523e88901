"""One step each from state to state: behind its gate, in one transaction, with its history row."""

from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from agency.accounts.models import User
from agency.diagnostics.models import TIGHTNESS, TestRun
from agency.errors import ActionRefused
from agency.jobs.models import Deferral, Job, Reopening
from agency.jobs.states import Status
from agency.rulebook.models import Rule
from agency.rulebook.shipped import effective_on
from agency.wording import words

from .checks import same_day_later
from .gates import gate_of, refuse_unless_open


def locked(job_id: UUID) -> Job:
    """The job, held until the transaction ends."""
    return Job.objects.select_for_update(of=("self",)).select_related("house").get(pk=job_id)


def refuse_while_stopped(job: Job) -> None:
    """No step may say that work is well while a hazard stands."""
    stops = job.open_stops
    if not stops:
        return
    found = "; ".join(stop.words.rstrip(".") for stop in stops)
    which = "an open safety stop" if len(stops) == 1 else "open safety stops"
    raise ActionRefused(
        f"{job} has {which}: {found}; "
        f"{'it' if len(stops) == 1 else 'each'} must be cleared by an inspector or manager first."
    )


def through(
    job: Job, code: str, by: User, *, on: date | None = None, device_at: datetime | None = None
) -> dict[str, Any]:
    """What the step's history row keeps of the gate; refused in words while the gate is shut."""
    job.refuse_step(code, by)
    gate = gate_of(job, code, by=by, on=on or timezone.localdate())
    refuse_unless_open(gate, job)
    return {"evidence": gate.evidence, "rule_version": gate.rule_version, "device_at": device_at}


def _plain(code: str, job_id: UUID, by: User, device_at: datetime | None) -> Job:
    job = locked(job_id)
    getattr(job, code)(by, **through(job, code, by, device_at=device_at))
    return job


@transaction.atomic
def ask_papers(job_id: UUID, by: User, *, device_at: datetime | None = None) -> Job:
    """Ask an applicant for the papers that are missing."""
    return _plain("ask_papers", job_id, by, device_at)


@transaction.atomic
def waitlist(job_id: UUID, by: User, *, device_at: datetime | None = None) -> Job:
    """Put an eligible household on the waiting list."""
    return _plain("waitlist", job_id, by, device_at)


@transaction.atomic
def deny(job_id: UUID, by: User, reason: str) -> Job:
    """Deny an application, with the reason."""
    job = locked(job_id)
    seen = through(job, "deny", by)
    job.deny(by, _said(reason, "why the application is denied"), **seen)
    return job


@transaction.atomic
def schedule_audit(job_id: UUID, by: User, *, device_at: datetime | None = None) -> Job:
    """Let the audit be made on its planned day."""
    return _plain("schedule_audit", job_id, by, device_at)


@transaction.atomic
def begin_audit(job_id: UUID, by: User, *, device_at: datetime | None = None) -> Job:
    """The auditor is at the house, and let in."""
    return _plain("begin_audit", job_id, by, device_at)


@transaction.atomic
def finish_audit(job_id: UUID, by: User, *, device_at: datetime | None = None) -> Job:
    """The audit goes to review."""
    return _plain("finish_audit", job_id, by, device_at)


@transaction.atomic
def propose_deferral(job_id: UUID, by: User, proposed: Deferral) -> Deferral:
    """Propose to wait until the house is ready; a manager decides."""
    job = locked(job_id)
    if job.status not in {Status.AUDIT_IN_PROGRESS, Status.AUDIT_REVIEW}:
        raise ActionRefused(
            f"{job} is {job.get_status_display().lower()}; only a job in its audit is deferred. "
            "Withdraw or cancel it instead."
        )
    if job.deferrals.proposed().exists():
        raise ActionRefused(f"A deferral of {job} is proposed already. A manager decides it first.")
    if proposed.review_on <= proposed.notice_given_on:
        raise ActionRefused(
            f"The review day {words.day(proposed.review_on)} does not lie after the notice of "
            f"{words.day(proposed.notice_given_on)}. Enter a later day."
        )
    proposed.job, proposed.proposed_by = job, by
    proposed.save(force_insert=True)
    return proposed


@transaction.atomic
def decide_deferral(deferral_id: UUID, by: User, *, as_approved: bool) -> Deferral:
    """A manager's word on a proposal; approved, it takes effect at once."""
    known = Deferral.objects.get(pk=deferral_id)
    job = locked(known.job_id)
    deferral = Deferral.objects.select_for_update(of=("self",)).get(pk=deferral_id)
    deferral.job = job
    deferral.decide(by, as_approved=as_approved)
    if as_approved:
        job.defer(by, deferral.reason_words, **through(job, "defer", by))
    return deferral


@transaction.atomic
def resume(deferral_id: UUID, by: User, *, how: str, proof: str, goal: str) -> Job:
    """End a deferral, and let its job go where its end leads."""
    known = Deferral.objects.get(pk=deferral_id)
    job = locked(known.job_id)
    job.refuse_step("resume", by)
    deferral = Deferral.objects.select_for_update(of=("self",)).get(pk=deferral_id)
    deferral.job = job
    to = Status(goal)
    if how == Deferral.End.TIMED_OUT and to == Status.AUDIT_REVIEW:
        raise ActionRefused(
            f"{job} cannot go back to audit review because time is up: the house was not put "
            "right. Choose the waiting list, or cancel the job."
        )
    deferral.end(by, how, proof)
    seen = through(job, "resume", by)
    if to == Status.AUDIT_REVIEW:
        _refuse_old_test_in(job)
    job.resume(by, deferral.proof_of_end, to, **seen)
    return job


def _refuse_old_test_in(job: Job) -> None:
    """Work is not ordered from readings of a house that may have changed since."""
    on = timezone.localdate()
    most = int(effective_on(Rule.objects.all(), on).setting("deferral.test_in_months"))
    before = job.test_runs.filter(phase=TestRun.Phase.BEFORE, kind=TIGHTNESS)
    newest = before.exclude(review=TestRun.Review.RETURNED).order_by("-taken_at").first()
    if newest is None:
        return
    taken_on = timezone.localdate(newest.taken_at)
    if on > same_day_later(taken_on, most):
        raise ActionRefused(
            f"{job} was tested in {words.day(taken_on)}, more than {most} months ago. "
            "Choose the waiting list; the house is tested in anew."
        )


@transaction.atomic
def order_work(job_id: UUID, by: User) -> Job:
    """Order the work."""
    return _plain("order_work", job_id, by, None)


@transaction.atomic
def schedule_work(job_id: UUID, by: User) -> Job:
    """Let the work begin on its planned day."""
    return _plain("schedule_work", job_id, by, None)


@transaction.atomic
def start(job_id: UUID, by: User, *, device_at: datetime | None = None) -> Job:
    """The crew begins."""
    return _plain("start", job_id, by, device_at)


@transaction.atomic
def schedule_inspection(job_id: UUID, by: User, *, device_at: datetime | None = None) -> Job:
    """The final inspection may come."""
    return _plain("schedule_inspection", job_id, by, device_at)


@transaction.atomic
def return_from_rework(job_id: UUID, by: User, *, device_at: datetime | None = None) -> Job:
    """Every finding is closed; the inspector comes again."""
    return _plain("return_from_rework", job_id, by, device_at)


@transaction.atomic
def report(job_id: UUID, by: User) -> Job:
    """The job stands in a locked quarter."""
    return _plain("report", job_id, by, None)


@transaction.atomic
def withdraw(job_id: UUID, by: User, reason: str) -> Job:
    """The client ends an open job; it is counted in no report."""
    job = locked(job_id)
    job.refuse_step("withdraw", by)
    job.withdraw(by, _said(reason, "why the job is withdrawn"), **through(job, "withdraw", by))
    return job


@transaction.atomic
def cancel(job_id: UUID, by: User, reason: str) -> Job:
    """The agency ends an open job; it is counted in no report."""
    job = locked(job_id)
    job.cancel(by, _said(reason, "why the job is cancelled"), **through(job, "cancel", by))
    return job


@transaction.atomic
def ask_reopening(job_id: UUID, by: User, *, reason: str, goal: str) -> Reopening:
    """Ask for a closed job to be opened again; another manager decides."""
    job = locked(job_id)
    job.refuse_step("reopen", by)
    if job.reopenings.filter(decided_at=None).exists():
        raise ActionRefused(f"The reopening of {job} is asked for already. It is decided first.")
    asked: Reopening = job.reopenings.create(
        asked_by=by, reason=_said(reason, "why the job is opened again"), goal=goal
    )
    return asked


@transaction.atomic
def decide_reopening(reopening_id: UUID, by: User, *, as_approved: bool) -> Reopening:
    """The second person's word; approved, the job is open again."""
    known = Reopening.objects.get(pk=reopening_id)
    job = locked(known.job_id)
    asked = Reopening.objects.select_for_update(of=("self",)).get(pk=reopening_id)
    asked.job = job
    asked.decide(by, as_approved=as_approved)
    if as_approved:
        because = f"{asked.reason} (asked by {asked.asked_by})"
        job.reopen(by, because, Status(asked.goal), **through(job, "reopen", by))
    return asked


def _said(reason: str, what: str) -> str:
    reason = reason.strip()
    if not reason:
        raise ActionRefused(f"The reason is empty. Write {what}.")
    return reason
