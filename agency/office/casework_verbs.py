"""Steps on a job's way and what is written down beside it, each by POST, refused in words."""

from collections.abc import Callable
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.forms import BaseForm
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_POST

from agency.casework import filing, steps
from agency.errors import AgencyError
from agency.jobs.models import ChangeOrder, Deferral, Finding, Job, Proof, Reopening

from .access import DeskRequest, desk_only, managers_only, reviewers_only
from .casework import close_prefix, gates_on
from .casework_forms import (
    ChangeForm,
    CloseFindingForm,
    ContactForm,
    DecisionForm,
    DeferralForm,
    EndDeferralForm,
    ProofForm,
    ReopenForm,
    StepForm,
)
from .job import find_job, show_job
from .schedule_forms import PlanVisitForm

PRESSED: dict[str, Callable[[UUID, Any], Job]] = {
    "ask_papers": steps.ask_papers,
    "waitlist": steps.waitlist,
    "schedule_audit": steps.schedule_audit,
    "begin_audit": steps.begin_audit,
    "finish_audit": steps.finish_audit,
    "order_work": steps.order_work,
    "schedule_work": steps.schedule_work,
    "start": steps.start,
    "schedule_inspection": steps.schedule_inspection,
    "return_from_rework": steps.return_from_rework,
    "report": steps.report,
}
"""Steps that need no more than a press."""
SAID: dict[str, Callable[[UUID, Any, str], Job]] = {"deny": steps.deny, "cancel": steps.cancel}
"""Steps that need a reason."""


@require_POST
@desk_only
def take_step(request: DeskRequest, pk: UUID, step: str) -> HttpResponse:
    """Take one step; who may take it, and when, the job itself knows."""
    job = find_job(request, pk)
    if step in SAID:
        form = StepForm(request.POST, prefix=step)

        def act() -> str:
            moved = SAID[step](pk, request.user, form.cleaned_data["reason"])
            return f"{moved} is now: {moved.get_status_display().lower()}."

        return _answer(request, job, step, form, act)
    if step not in PRESSED:
        raise Http404
    try:
        moved = PRESSED[step](pk, request.user)
    except AgencyError as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, f"{moved} is now: {moved.get_status_display().lower()}.")
    return redirect("office:job", pk)


@require_POST
@desk_only
def record_proof(request: DeskRequest, pk: UUID) -> HttpResponse:
    """Write a piece of evidence down."""
    job = find_job(request, pk)
    form = ProofForm(request.POST, gates=gates_on(job, request.user), prefix="proof")

    def act() -> str:
        said = form.cleaned_data
        filing.record_proof(
            pk,
            request.user,
            piece=said["piece"],
            said=said["said"],
            dated_on=said["dated_on"],
            is_needed=not said["not_needed"],
        )
        return "It is on file."

    return _answer(request, job, "proof", form, act)


@require_POST
@desk_only
def withdraw_proof(request: DeskRequest, pk: UUID) -> HttpResponse:
    """Take a piece of evidence back."""
    proof = get_object_or_404(Proof.objects.filter(job__in=_jobs(request)), pk=pk)
    return _pressed(
        request,
        proof.job_id,
        lambda: filing.withdraw_proof(pk, request.user),
        "It is taken back; the row stays with both names.",
    )


@require_POST
@reviewers_only
def plan_visit(request: DeskRequest, pk: UUID) -> HttpResponse:
    """Plan a visit."""
    job, form = find_job(request, pk), PlanVisitForm(request.POST, prefix="visit")

    def act() -> str:
        said = form.cleaned_data
        filing.plan_visit(
            pk, request.user, kind=said["kind"], on=said["on"], inspector=said["inspector"]
        )
        return "The visit is planned. Book its time on the schedule."

    return _answer(request, job, "visit", form, act)


@require_POST
@desk_only
def log_contact(request: DeskRequest, pk: UUID) -> HttpResponse:
    """Keep an attempt to reach the household."""
    job = find_job(request, pk)
    form = ContactForm(request.POST, job=job, prefix="contact")

    def act() -> str:
        filing.log_contact(pk, request.user, form.save(commit=False))
        return "The attempt is in the contact log."

    return _answer(request, job, "contact", form, act)


@require_POST
@desk_only
def defer(request: DeskRequest, pk: UUID) -> HttpResponse:
    """Propose a deferral."""
    job, form = find_job(request, pk), DeferralForm(request.POST, prefix="deferral")

    def act() -> str:
        steps.propose_deferral(pk, request.user, form.save(commit=False))
        return "The deferral is proposed; a manager decides."

    return _answer(request, job, "deferral", form, act)


@require_POST
@managers_only
def decide_deferral(request: DeskRequest, pk: UUID) -> HttpResponse:
    """A manager's word on a deferral."""
    deferral = get_object_or_404(Deferral.objects.filter(job__in=_jobs(request)), pk=pk)
    return _decided(request, deferral.job_id, pk, steps.decide_deferral)


@require_POST
@managers_only
def end_deferral(request: DeskRequest, pk: UUID) -> HttpResponse:
    """End a deferral, by a cure or because its time is up."""
    deferral = get_object_or_404(Deferral.objects.filter(job__in=_jobs(request)), pk=pk)
    job, form = find_job(request, deferral.job_id), EndDeferralForm(request.POST, prefix="end")

    def act() -> str:
        said = form.cleaned_data
        moved = steps.resume(
            pk, request.user, how=said["how"], proof=said["proof"], goal=said["goal"]
        )
        return f"{moved} is now: {moved.get_status_display().lower()}."

    return _answer(request, job, "end_deferral", form, act)


@require_POST
@desk_only
def close_finding(request: DeskRequest, pk: UUID) -> HttpResponse:
    """Close a finding by its evidence."""
    found = Finding.objects.filter(job__in=_jobs(request)).select_related("job")
    finding = get_object_or_404(found, pk=pk)
    form = CloseFindingForm(request.POST, finding=finding, prefix=close_prefix(finding))

    def act() -> str:
        said = form.cleaned_data
        photo = UUID(said["photo"]) if said["photo"] else None
        filing.close_finding(pk, request.user, evidence=said["evidence"], photo=photo)
        return "The finding is closed."

    job = find_job(request, finding.job_id)
    return _answer(request, job, close_prefix(finding), form, act)


@require_POST
@desk_only
def ask_change(request: DeskRequest, pk: UUID) -> HttpResponse:
    """Ask for a change of the ordered work."""
    job, form = find_job(request, pk), ChangeForm(request.POST, prefix="change")

    def act() -> str:
        filing.ask_change(pk, request.user, form.cleaned_data["said"])
        return "The change order is asked for; another person, a manager, decides."

    return _answer(request, job, "change", form, act)


@require_POST
@managers_only
def decide_change(request: DeskRequest, pk: UUID) -> HttpResponse:
    """A manager's word on a change order."""
    change = get_object_or_404(ChangeOrder.objects.filter(job__in=_jobs(request)), pk=pk)
    return _decided(request, change.job_id, pk, filing.decide_change)


@require_POST
@managers_only
def ask_reopening(request: DeskRequest, pk: UUID) -> HttpResponse:
    """Ask for a closed job to be opened again."""
    job, form = find_job(request, pk), ReopenForm(request.POST, prefix="reopen")

    def act() -> str:
        said = form.cleaned_data
        steps.ask_reopening(pk, request.user, reason=said["reason"], goal=said["goal"])
        return "The reopening is asked for; a second manager decides."

    return _answer(request, job, "reopen", form, act)


@require_POST
@managers_only
def decide_reopening(request: DeskRequest, pk: UUID) -> HttpResponse:
    """The second person's word on a reopening."""
    asked = get_object_or_404(Reopening.objects.filter(job__in=_jobs(request)), pk=pk)
    return _decided(request, asked.job_id, pk, steps.decide_reopening)


def _jobs(request: DeskRequest) -> Any:
    return Job.objects.visible_to(request.user)


def _answer(
    request: DeskRequest, job: Job, name: str, form: BaseForm, act: Callable[[], str]
) -> HttpResponse:
    """A step with something to say; what was typed stays when it is refused."""
    if form.is_valid():
        try:
            messages.success(request, act())
        except AgencyError as refusal:
            form.add_error(None, str(refusal))
        else:
            return redirect("office:job", job.pk)
    return show_job(request, job, refused_way={name: form}, status=422)


def _decided(
    request: DeskRequest, job_id: UUID, pk: UUID, decide: Callable[..., Any]
) -> HttpResponse:
    """Yes or no, by a press of one of two buttons."""
    form = DecisionForm(request.POST)
    if not form.is_valid():
        messages.error(request, "Press Approve or Refuse.")
        return redirect("office:job", job_id)
    as_approved = form.cleaned_data["decision"] == "yes"
    done = "It is approved." if as_approved else "It is refused."
    return _pressed(
        request, job_id, lambda: decide(pk, request.user, as_approved=as_approved), done
    )


def _pressed(request: DeskRequest, job_id: UUID, act: Callable[[], Any], done: str) -> HttpResponse:
    try:
        act()
    except AgencyError as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, done)
    return redirect("office:job", job_id)
