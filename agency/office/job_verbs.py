"""Steps taken from the job page, each by POST; a refused step comes back in words."""

from collections.abc import Callable
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.forms import BaseForm
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.http import require_POST

from agency import workflows
from agency.casework import inspecting, steps
from agency.certificates.models import Handover
from agency.errors import AgencyError
from agency.jobs.models import SafetyStop

from .access import (
    DeskRequest,
    clearers_only,
    desk_only,
    inspectors_only,
    managers_only,
    reviewers_only,
)
from .certificates import handover_form
from .forms import (
    AcknowledgeStopForm,
    ClearStopForm,
    NoBeforeTestForm,
    ReissueForm,
    WithdrawForm,
    WorkStartedForm,
)
from .inspection_form import InspectionForm
from .job import find_job, show_job
from .stops import acknowledge_prefix, clear_prefix


@require_POST
@reviewers_only
def finish(request: DeskRequest, pk: UUID) -> HttpResponse:
    """The crew has tested out."""
    return _step(request, pk, "The work is finished; an inspector is due.", workflows.finish_work)


@require_POST
@managers_only
def approve(request: DeskRequest, pk: UUID) -> HttpResponse:
    """Approve the job; the saving and the certificate follow."""
    done = "The job is approved. The saving and the certificate are being worked out."
    return _step(request, pk, done, workflows.approve_job)


@require_POST
@inspectors_only
def inspect(request: DeskRequest, pk: UUID) -> HttpResponse:
    """Write a final inspection down."""
    form = InspectionForm(request.POST, today=timezone.localdate(), prefix="inspection")
    return _form_step(request, pk, "inspection", form, _inspect)


@require_POST
@reviewers_only
def withdraw(request: DeskRequest, pk: UUID) -> HttpResponse:
    """End the job without counting it."""
    form = WithdrawForm(request.POST, job=find_job(request, pk), prefix="withdraw")
    return _form_step(request, pk, "withdraw", form, _withdraw)


@require_POST
@reviewers_only
def start_work(request: DeskRequest, pk: UUID) -> HttpResponse:
    """Write the first working day down."""
    form = WorkStartedForm(request.POST, prefix="work_started")
    return _form_step(request, pk, "work_started", form, _start_work)


@require_POST
@reviewers_only
def explain_no_before_test(request: DeskRequest, pk: UUID) -> HttpResponse:
    """Write down why no test before the work could be made."""
    form = NoBeforeTestForm(request.POST, prefix="no_before_test")
    return _form_step(request, pk, "no_before_test", form, _explain)


@require_POST
@reviewers_only
def write_handover(request: DeskRequest, pk: UUID) -> HttpResponse:
    """Write down what the household is told beside its tests."""
    form = handover_form(find_job(request, pk), request.POST)
    return _form_step(request, pk, "handover", form, _hand_over)


@require_POST
@managers_only
def reissue_certificate(request: DeskRequest, pk: UUID) -> HttpResponse:
    """Issue the certificate again in place of the present one."""
    form = ReissueForm(request.POST, prefix="reissue")
    return _form_step(request, pk, "reissue", form, _reissue)


@require_POST
@desk_only
def acknowledge_stop(request: DeskRequest, pk: UUID) -> HttpResponse:
    """Write down who at the house has read a safety stop."""
    form = AcknowledgeStopForm(request.POST, prefix=acknowledge_prefix(pk))
    return _stop_step(request, pk, form, _acknowledge)


@require_POST
@clearers_only
def clear_stop(request: DeskRequest, pk: UUID) -> HttpResponse:
    """Let the work on a stopped job go on."""
    form = ClearStopForm(request.POST, prefix=clear_prefix(pk))
    return _stop_step(request, pk, form, _clear)


def _inspect(request: DeskRequest, pk: UUID, form: Any) -> str:
    said = form.cleaned_data
    inspecting.record_inspection(pk, request.user, form.signed())
    if said["passed"]:
        return "The inspection is recorded as passed; a manager can approve the job."
    return "The inspection is recorded as failed; the job is back with the crew."


def _withdraw(request: DeskRequest, pk: UUID, form: Any) -> str:
    steps.withdraw(pk, request.user, form.cleaned_data["reason"])
    return "The job is withdrawn; it is not counted in any report."


def _start_work(request: DeskRequest, pk: UUID, form: Any) -> str:
    workflows.note_work_started(pk, form.cleaned_data["on"])
    return "The first working day is recorded."


def _explain(request: DeskRequest, pk: UUID, form: Any) -> str:
    find_job(request, pk).explain_no_before_test(form.cleaned_data["reason"])
    return "The reason is recorded."


def _hand_over(request: DeskRequest, pk: UUID, form: Any) -> str:
    Handover.write(find_job(request, pk), request.user, **form.cleaned_data)
    return "What the household is told is recorded; the next certificate prints it."


def _reissue(request: DeskRequest, pk: UUID, form: Any) -> str:
    certificate = workflows.reissue_certificate(pk, request.user, form.cleaned_data["reason"])
    return f"{certificate} is issued; it replaces {certificate.replaces}, which is kept."


def _acknowledge(request: DeskRequest, pk: UUID, form: Any) -> str:
    stop = workflows.acknowledge_stop(pk, request.user, form.cleaned_data["name"])
    return f"The safety stop is acknowledged by {stop.acknowledged_name}."


def _clear(request: DeskRequest, pk: UUID, form: Any) -> str:
    workflows.clear_stop(pk, request.user, form.cleaned_data["reason"])
    return "The safety stop is cleared; it stays in the history of the job."


def _step(
    request: DeskRequest, pk: UUID, done: str, workflow: Callable[[UUID, Any], Any]
) -> HttpResponse:
    """A step that needs no more than a press."""
    find_job(request, pk)
    try:
        workflow(pk, request.user)
    except AgencyError as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, done)
    return redirect("office:job", pk)


def _form_step(
    request: DeskRequest,
    pk: UUID,
    name: str,
    form: BaseForm,
    act: Callable[[DeskRequest, UUID, Any], str],
) -> HttpResponse:
    """A step with something to say; what was typed stays when it is refused."""
    job = find_job(request, pk)
    if _is_taken(request, pk, form, act):
        return redirect("office:job", pk)
    return show_job(request, job, refused={name: form}, status=422)


def _stop_step(
    request: DeskRequest,
    pk: UUID,
    form: BaseForm,
    act: Callable[[DeskRequest, UUID, Any], str],
) -> HttpResponse:
    """A step on a safety stop, taken from the page of its job."""
    stop = get_object_or_404(SafetyStop.objects.visible_to(request.user), pk=pk)
    if _is_taken(request, pk, form, act):
        return redirect("office:job", stop.job_id)
    return show_job(request, find_job(request, stop.job_id), refused_stop=form, status=422)


def _is_taken(
    request: DeskRequest,
    pk: UUID,
    form: BaseForm,
    act: Callable[[DeskRequest, UUID, Any], str],
) -> bool:
    """Whether the step was taken; where not, the form says why."""
    if not form.is_valid():
        return False
    try:
        messages.success(request, act(request, pk, form))
    except AgencyError as refusal:
        form.add_error(None, str(refusal))
        return False
    return True
