"""A job's bills and what they measure: accounts, files, analyses, and changes in the house."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.db.models import Count, Prefetch
from django.forms import BaseForm
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.http import require_POST

from agency import bill_workflows
from agency.errors import AgencyError
from agency.estimates.bill_files import DateOrder, Ending
from agency.estimates.bill_importing import keep_bill_file
from agency.estimates.bill_reading import csv_reading, espi_reading
from agency.estimates.bill_studies import BillStudy, NonRoutineChange
from agency.estimates.billing import Bill, BillFile, UtilityAccount
from agency.estimates.bridge.units import shown_unit
from agency.estimates.espi import Grouping
from agency.estimates.models import WeatherStation
from agency.jobs.models import Job
from agency.outbox.models import Errand

from .access import DeskRequest, desk_only, managers_only, reviewers_only
from .bill_drawings import bills_drawing
from .bill_forms import (
    SEPARATORS,
    AccountForm,
    ChangeForm,
    ConfirmChangeForm,
    CsvForm,
    EspiForm,
    StudyForm,
)
from .bill_words import AnalysisWords, analysis_words, bill_rows
from .drawings import Drawing
from .job import find_job
from .pages import render_page

BILL_COLUMNS = ("Bill", "Days", "Energy", "Use a day", "Reading", "File")
MODEL_COLUMNS = ("Figure", "Before the work", "After the work")


@dataclass(frozen=True, slots=True, kw_only=True)
class Account:
    """One account as the page shows it."""

    record: UtilityAccount
    rows: list[list[str]]
    files: list[BillFile]
    study: BillStudy | None
    analysis: AnalysisWords | None
    drawing: Drawing | None
    is_waiting: bool


@desk_only
def job_bills(request: DeskRequest, pk: UUID) -> HttpResponse:
    """The bills of a job's house, and what they measure."""
    return _show(request, find_job(request, pk))


@require_POST
@reviewers_only
def open_account(request: DeskRequest, pk: UUID) -> HttpResponse:
    """Make room for the bills of one fuel."""
    job = find_job(request, pk)

    def act(said: dict[str, Any]) -> HttpResponse:
        account = bill_workflows.open_account(job.house_id, said["fuel"], request.user)
        return _done(request, job, f"The {str(account).lower()} is open; upload its bills.")

    return _step(request, job, "account", AccountForm(request.POST, prefix="account"), act)


@require_POST
@reviewers_only
def upload_bill_csv(request: DeskRequest, pk: UUID) -> HttpResponse:
    """Keep a CSV file and show what it holds."""
    job = find_job(request, pk)

    def act(said: dict[str, Any]) -> HttpResponse:
        names = ("start", "end", "energy", "estimated", "unit", "corrections")
        reading = csv_reading(
            said["account"],
            btu_per_cubic_foot=said["btu_per_cubic_foot"],
            ending=Ending(said["ending"]),
            order=DateOrder(said["order"]),
            delimiter=SEPARATORS[said["delimiter"]],
            **{name: said[name] for name in names},
        )
        return _kept(request, said, BillFile.Kind.CSV, reading)

    form = CsvForm(
        request.POST, request.FILES, accounts=job.house.utility_accounts.all(), prefix="csv"
    )
    return _step(request, job, "csv", form, act)


@require_POST
@reviewers_only
def upload_bill_espi(request: DeskRequest, pk: UUID) -> HttpResponse:
    """Keep an ESPI feed and show what it holds."""
    job = find_job(request, pk)

    def act(said: dict[str, Any]) -> HttpResponse:
        reading = espi_reading(
            grouping=Grouping(said["grouping"]),
            zone=timezone.get_default_timezone_name(),
            btu_per_cubic_foot=said["btu_per_cubic_foot"],
            corrections=said["corrections"],
        )
        return _kept(request, said, BillFile.Kind.ESPI, reading)

    form = EspiForm(
        request.POST, request.FILES, accounts=job.house.utility_accounts.all(), prefix="espi"
    )
    return _step(request, job, "espi", form, act)


@require_POST
@reviewers_only
def ask_study(request: DeskRequest, pk: UUID) -> HttpResponse:
    """Have the saving of one account measured."""
    job = find_job(request, pk)

    def act(said: dict[str, Any]) -> HttpResponse:
        bill_workflows.ask_study(job.pk, said["account"].pk, said["model"], request.user)
        return _done(request, job, "A worker measures the saving; look again in a minute.")

    form = StudyForm(request.POST, accounts=job.house.utility_accounts.all(), prefix="study")
    return _step(request, job, "study", form, act)


@require_POST
@reviewers_only
def note_change(request: DeskRequest, pk: UUID) -> HttpResponse:
    """Write down what else changed in the house."""
    job = find_job(request, pk)

    def act(said: dict[str, Any]) -> HttpResponse:
        bill_workflows.note_change(job.pk, request.user, **said)
        return _done(
            request, job, "The change is noted; the job counts no longer in its program's rate."
        )

    form = ChangeForm(request.POST, today=timezone.localdate(), prefix="change")
    return _step(request, job, "change", form, act)


@require_POST
@managers_only
def confirm_change(request: DeskRequest, pk: UUID) -> HttpResponse:
    """Let a job count in spite of a change."""
    change = get_object_or_404(NonRoutineChange.objects.select_related("job"), pk=pk)
    job = find_job(request, change.job_id)

    def act(said: dict[str, Any]) -> HttpResponse:
        bill_workflows.confirm_change(change.pk, request.user, said["reason"])
        return _done(request, job, "The job counts all the same; your name stands beside it.")

    form = ConfirmChangeForm(request.POST, prefix=f"confirm-{change.pk}")
    return _step(request, job, f"confirm-{change.pk}", form, act)


def _step(
    request: DeskRequest,
    job: Job,
    name: str,
    form: BaseForm,
    act: Callable[[dict[str, Any]], HttpResponse],
) -> HttpResponse:
    """What was typed stays when the step is refused."""
    if form.is_valid():
        try:
            return act(form.cleaned_data)
        except AgencyError as refusal:
            form.add_error(None, str(refusal))
    return _show(request, job, refused={name: form}, status=422)


def _done(request: DeskRequest, job: Job, words: str) -> HttpResponse:
    messages.success(request, words)
    return redirect("office:job_bills", job.pk)


def _kept(
    request: DeskRequest, said: dict[str, Any], kind: str, reading: dict[str, Any]
) -> HttpResponse:
    file = said["file"]
    kept = keep_bill_file(
        said["account"],
        name=file.name,
        content=file.read(),
        kind=kind,
        reading=reading,
        by=request.user,
    )
    return redirect("office:bill_file", kept.pk)


def _show(
    request: DeskRequest,
    job: Job,
    *,
    refused: dict[str, BaseForm] | None = None,
    status: int = 200,
) -> HttpResponse:
    """The page; `refused` are forms that came back with their errors."""
    accounts = _accounts(job)
    refused = refused or {}
    context = {
        "job": job,
        "accounts": accounts,
        "changes": _changes(request, job, refused),
        "stations": WeatherStation.objects.filter(counties=job.house.county_id),
        "forms": _forms(request, job, accounts) | refused,
        "refused": next(iter(refused.values()), None),
        "bill_columns": BILL_COLUMNS,
        "model_columns": MODEL_COLUMNS,
    }
    return render_page(request, "office/job_bills.html", context, section="jobs", status=status)


def _accounts(job: Job) -> list[Account]:
    records = job.house.utility_accounts.prefetch_related(
        Prefetch("bills", Bill.objects.select_related("file")),
        Prefetch(
            "files",
            BillFile.objects.select_related("sent_by").annotate(held=Count("bills")),
        ),
        Prefetch("studies", BillStudy.objects.filter(job=job).prefetch_related("analyses")),
    )
    found = list(records)
    studies = [study.pk for record in found for study in record.studies.all()]
    waiting = set(
        Errand.objects.open().filter(subject__in=studies).values_list("subject", flat=True)
    )
    return [_account(record, waiting) for record in found]


def _account(record: UtilityAccount, waiting: set[UUID]) -> Account:
    unit, joules = shown_unit(record.fuel)
    study = next(iter(record.studies.all()), None)
    analysis = next(iter(study.analyses.all()), None) if study else None
    return Account(
        record=record,
        rows=bill_rows(list(record.bills.all()), unit=unit, joules=joules),
        files=list(record.files.all()),
        study=study,
        analysis=None if analysis is None else analysis_words(analysis),
        drawing=None if analysis is None else bills_drawing(analysis),
        is_waiting=study is not None and study.pk in waiting,
    )


def _changes(request: DeskRequest, job: Job, refused: dict[str, BaseForm]) -> list[dict[str, Any]]:
    """What else changed, each with the form a manager may answer it by."""
    changes = job.non_routine_changes.select_related("noted_by", "confirmed_by")
    rows = []
    for change in changes:
        name = f"confirm-{change.pk}"
        form = refused.get(name) or ConfirmChangeForm(prefix=name)
        may_confirm = change.is_open and request.user.may_approve
        rows.append({"record": change, "form": form if may_confirm else None})
    return rows


def _forms(request: DeskRequest, job: Job, accounts: list[Account]) -> dict[str, BaseForm]:
    """The steps this person may take now."""
    if not request.user.may_review:
        return {}
    forms: dict[str, BaseForm] = {
        "account": AccountForm(prefix="account", initial={"fuel": job.house.heating_fuel}),
        "change": ChangeForm(prefix="change", today=timezone.localdate()),
    }
    if accounts:
        own = job.house.utility_accounts.all()
        forms |= {
            "csv": CsvForm(prefix="csv", accounts=own),
            "espi": EspiForm(prefix="espi", accounts=own),
            "study": StudyForm(prefix="study", accounts=own),
        }
    return forms
