"""Steps over several records: each one a transaction that also promises the work that follows."""

from datetime import date, datetime
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from agency.accounts.models import Device, User
from agency.casework import inspecting
from agency.casework.inspecting import SignedForm
from agency.casework.steps import refuse_while_stopped, through
from agency.certificates.issuing import reissue
from agency.certificates.models import Certificate
from agency.diagnostics.doubting import doubted_uses_of
from agency.diagnostics.excepting import InstrumentException
from agency.diagnostics.keeping import Answer
from agency.diagnostics.models import Confirmation, TestRun
from agency.diagnostics.results import compare_job
from agency.diagnostics.seconding import refuse_unseconded
from agency.diagnostics.storing import EVALUATE, store_upload
from agency.diagnostics.storing_photos import store_photo
from agency.diagnostics.storing_visits import store_visit_report
from agency.errors import ActionRefused
from agency.estimates import measure_steps
from agency.estimates.models import EnergyDescription, Measure, PackageRun, WeatherStation
from agency.instruments.models import Instrument
from agency.jobs.models import CLOSED, Job, SafetyStop
from agency.outbox.models import Errand
from agency.programs.models import County, Program
from agency.reports.export_files import promise_file
from agency.reports.locking import lock
from agency.reports.models import Export, LockedQuarter
from agency.reports.periods import Period
from agency.wording import words

ESTIMATE = "agency.estimates.tasks.estimate_job"
CERTIFICATE = "agency.certificates.tasks.print_certificate"
OVERDUE = "calibration.overdue"
"""The rule that asks about an instrument past its due date."""


def _locked(job_id: UUID) -> Job:
    return Job.objects.select_for_update(of=("self",)).get(pk=job_id)


def _locked_stop(stop_id: UUID) -> SafetyStop:
    stops = SafetyStop.objects.select_related("job").select_for_update(of=("self",))
    return stops.get(pk=stop_id)


def _under_review(run_id: UUID) -> TestRun:
    """The locked run, while its job's review is still open."""
    run = TestRun.objects.select_for_update(of=("self",)).get(pk=run_id)
    if run.job.status in CLOSED:
        raise ActionRefused(
            f"{run.job} is {run.job.get_status_display().lower()}; the review of its test runs "
            "is closed. The readings stay in the file as late evidence."
        )
    return run


def receive(
    device: Device, records: list[object], *, sent_at: datetime | None, now: datetime
) -> list[Answer]:
    """Keep each record of a batch by itself, in order; the answers stand for committed rows."""
    answers = []
    for record in records:
        with transaction.atomic():
            answers.append(store_upload(device, record, sent_at=sent_at, now=now))
    return answers


@transaction.atomic
def receive_visit_report(device: Device, record: object, *, now: datetime) -> Answer:
    """Keep how a visit went; its outcome and the safety stops it calls for follow at once."""
    return store_visit_report(device, record, now=now)


@transaction.atomic
def receive_photo(device: Device, record: dict[str, Any], body: bytes, *, now: datetime) -> Answer:
    """Keep a photo, made anew from its pixels."""
    return store_photo(device, record, body, now=now)


@transaction.atomic
def note_work_started(job_id: UUID, on: date) -> Job:
    """Write down the first working day."""
    job = _locked(job_id)
    job.note_work_started(on)
    return job


@transaction.atomic
def accept_test_run(run_id: UUID, by: User) -> TestRun:
    """Accept a run's figures and compare the job's before with its after anew."""
    run = _under_review(run_id)
    refuse_unseconded(run, on=timezone.localdate())
    run.accept(by)
    compare_job(run.job)
    measure_steps.promise_measures(run.job)
    return run


@transaction.atomic
def send_back_test_run(run_id: UUID, by: User, reason: str) -> TestRun:
    """Send a run back to its crew; a comparison that used it is made anew without it."""
    run = _under_review(run_id)
    run.send_back(by, reason)
    compare_job(run.job)
    measure_steps.promise_measures(run.job)
    return run


@transaction.atomic
def confirm_question(run_id: UUID, by: User, *, code: str, reason: str) -> TestRun:
    """Stand for an odd value by name and reason, then have the run evaluated again."""
    run = _under_review(run_id)
    run.confirm(code, by, reason)
    Errand.promise(EVALUATE, run.pk)
    return run


@transaction.atomic
def second_confirmation(confirmation_id: UUID, by: User) -> Confirmation:
    """A second person stands for an odd value that bears on safety or on a reported number."""
    run_id = Confirmation.objects.values_list("test_run", flat=True).get(pk=confirmation_id)
    _under_review(run_id)
    confirmation = Confirmation.objects.select_related("by", "second_by").get(pk=confirmation_id)
    confirmation.second(by)
    return confirmation


@transaction.atomic
def swap_sides(run_id: UUID, by: User, *, channel: str, reason: str) -> TestRun:
    """Turn a channel whose hoses were on each other's taps, then have the run evaluated again."""
    run = _under_review(run_id)
    run.swap_sides(channel, by, reason)
    Errand.promise(EVALUATE, run.pk)
    return run


@transaction.atomic
def undo_review(run_id: UUID, by: User) -> TestRun:
    """Take the last decision on a run back, while its job is still open."""
    run = _under_review(run_id)
    run.reopen_review(by)
    compare_job(run.job)
    measure_steps.promise_measures(run.job)
    return run


@transaction.atomic
def finish_work(job_id: UUID, by: User) -> Job:
    """The crew has tested out."""
    job = _locked(job_id)
    refuse_while_stopped(job)
    job.test_out(by, **through(job, "test_out", by))
    return job


def record_inspection(job_id: UUID, by: User, *, on: date, passed: bool, note: str) -> Job:
    """Record a final inspection that is told in one note, a finding a line."""
    return inspecting.record_inspection(job_id, by, SignedForm(on=on, passed=passed, note=note))


@transaction.atomic
def approve_job(job_id: UUID, by: User) -> Job:
    """Approve a job, then have its saving estimated and its certificate printed."""
    job = _locked(job_id)
    refuse_while_stopped(job)
    waiting = job.test_runs.unreviewed().count()
    if waiting:
        raise ActionRefused(
            f"{job} still has {waiting} test run(s) to review. Accept them or send them back first."
        )
    job.approve(by, **through(job, "approve", by))
    compare_job(job)
    measure_steps.promise_measures(job)
    estimate = Errand.promise(ESTIMATE, job.pk)
    Errand.promise(CERTIFICATE, job.pk, after=estimate)
    return job


@transaction.atomic
def reissue_certificate(job_id: UUID, by: User, reason: str) -> Certificate:
    """Print a new certificate in place of the present one, which is kept with its reason."""
    return reissue(_locked(job_id), reason, by)


@transaction.atomic
def lock_quarter(
    period: Period, program: Program | None, by: User, *, typed: str, now: datetime
) -> LockedQuarter:
    """Freeze a quarter's report for good; its name typed again shows that it is meant."""
    if not by.may_approve:
        raise ActionRefused(
            f"Only a manager locks a quarter. {by} is signed in as "
            f"{by.get_role_display().lower()}; ask a manager."
        )
    if typed.strip() != period.code:
        raise ActionRefused(
            f'"{typed.strip()[:40]}" is not the name of this quarter. Type {period.code} to lock '
            "it, for nobody can unlock it."
        )
    return lock(period, program, by, now=now)


@transaction.atomic
def ask_for_file(export: Export) -> Export:
    """Write down what file is asked for and have a worker write it."""
    export.save(force_insert=True)
    return promise_file(export)


@transaction.atomic
def acknowledge_stop(stop_id: UUID, by: User, name: str, at: datetime | None = None) -> SafetyStop:
    """Write down who at the house has read a safety stop."""
    stop = _locked_stop(stop_id)
    stop.acknowledge(by, name, at)
    return stop


@transaction.atomic
def clear_stop(stop_id: UUID, by: User, reason: str) -> SafetyStop:
    """Let the work on a stopped job go on."""
    stop = _locked_stop(stop_id)
    stop.clear(by, reason)
    return stop


@transaction.atomic
def except_run(
    instrument_id: UUID, run_id: UUID, by: User, *, reason: str, on: date
) -> InstrumentException:
    """Let one run stand in spite of what its instrument is suspected of."""
    _refuse_without_manager_and_reason(by, reason)
    instrument = Instrument.objects.select_for_update(of=("self",)).get(pk=instrument_id)
    run = TestRun.objects.select_related("job").get(pk=run_id)
    uses = {use.instrument: use for use in doubted_uses_of(run, on=on)}
    use = uses.get(instrument)
    if use is None:
        raise ActionRefused(
            f"{run} was not made while {instrument} was in doubt. Choose a run from the list."
        )
    if use.exception is not None:
        raise ActionRefused(f"{use.exception.by} has already excepted {run}; nothing is left.")
    made = InstrumentException.objects.create(
        instrument=instrument, cause=use.doubt.cause, test_run=run, by=by, reason=reason.strip()
    )
    if all(use.exception for other, use in uses.items() if other != instrument):
        _answer_calibration_question(run, by, reason)
    return made


@transaction.atomic
def except_period(
    instrument_id: UUID, by: User, *, from_day: date, to_day: date, reason: str, on: date
) -> InstrumentException:
    """Let every run of these days stand in spite of what the instrument is suspected of."""
    _refuse_without_manager_and_reason(by, reason)
    instrument = Instrument.objects.select_for_update(of=("self",)).get(pk=instrument_id)
    days = f"{words.day(from_day)} to {words.day(to_day)}"
    if not from_day <= to_day <= on:
        raise ActionRefused(
            f"{days} is no period that has passed. Enter a first day, and a last day that is not "
            f"before it and not after today, {words.day(on)}."
        )
    doubt = next((one for one in instrument.doubts(on) if one.spans(from_day, to_day)), None)
    if doubt is None:
        raise ActionRefused(
            f"{days} does not lie inside one period in which {instrument} is in doubt. "
            "Enter days of one of the periods listed on this page."
        )
    wider = InstrumentException.objects.standing().filter(
        instrument=instrument, cause=doubt.cause, from_day__lte=from_day, to_day__gte=to_day
    )
    for known in wider:
        raise ActionRefused(f"{known.by} has already excepted {known.scope}; nothing is left.")
    return InstrumentException.objects.create(
        instrument=instrument,
        cause=doubt.cause,
        from_day=from_day,
        to_day=to_day,
        by=by,
        reason=reason.strip(),
    )


@transaction.atomic
def withdraw_exception(exception_id: UUID, by: User) -> InstrumentException:
    """What the exception covered is in doubt again; an answered question stays answered."""
    exception = InstrumentException.objects.select_for_update(of=("self",)).get(pk=exception_id)
    exception.withdraw(by)
    return exception


def _refuse_without_manager_and_reason(by: User, reason: str) -> None:
    if not by.may_approve:
        raise ActionRefused(
            f"Only a manager lets readings in doubt stand. {by} is signed in as "
            f"{by.get_role_display().lower()}; ask a manager."
        )
    if not reason.strip():
        raise ActionRefused("The reason is empty. Write why the readings may stand.")


def _answer_calibration_question(run: TestRun, by: User, reason: str) -> None:
    """What a manager let stand need not be asked of a reviewer again."""
    result = run.result
    asked = {one["code"] for one in result.open_questions} if result else set()
    answered = run.confirmations.filter(code=OVERDUE).exists()
    if OVERDUE in asked and not answered and run.job.status not in CLOSED:
        confirm_question(run.pk, by, code=OVERDUE, reason=reason)


@transaction.atomic
def keep_measure(measure: Measure) -> Measure:
    """Write a planned or installed measure down, and have its job's estimate worked out anew."""
    return measure_steps.keep(measure, _locked(measure.job_id))


@transaction.atomic
def remove_measure(measure_id: UUID) -> None:
    """Take a measure off its job's list, and have the estimate worked out anew."""
    measure = Measure.objects.select_for_update(of=("self",)).get(pk=measure_id)
    measure_steps.remove(measure, _locked(measure.job_id))


@transaction.atomic
def describe_energy(description: EnergyDescription) -> EnergyDescription:
    """Write down what is known of a house's energy, and have its open jobs estimated anew."""
    return measure_steps.describe(description)


@transaction.atomic
def ask_measures_estimate(job_id: UUID) -> None:
    """Have the estimate worked out with today's prices, rules and weather year."""
    job = _locked(job_id)
    measure_steps.refuse_without_measures(job)
    measure_steps.promise_measures(job)


@transaction.atomic
def ask_package(job_id: UUID, by: User, budget: Decimal) -> PackageRun:
    """Have a worker choose what a budget buys of the newest estimate."""
    return measure_steps.order_package(_locked(job_id), by, budget)


@transaction.atomic
def assign_station(station_id: UUID, counties: list[County]) -> WeatherStation:
    """Let a weather station stand for these counties and no others."""
    station = WeatherStation.objects.select_for_update(of=("self",)).get(pk=station_id)
    return measure_steps.assign(station, counties)
