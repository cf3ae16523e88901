"""The review queue: one test run at a time, accepted or returned with a reason, undone."""

from functools import partial
from typing import Any
from urllib.parse import urlencode
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from agency import workflows
from agency.diagnostics.models import Confirmation, TestRun
from agency.diagnostics.seconding import unseconded
from agency.errors import AgencyError
from agency.wording.templatetags.wording import moment

from .access import DeskRequest, desk_only, reviewers_only
from .forms import ConfirmForm, ReturnForm, SwapForm
from .judging import case_of, typeset
from .pages import render_page


def queue() -> list[UUID]:
    """Runs that wait, the longest waiting first."""
    waiting = TestRun.objects.to_review().order_by("received_at", "id")
    return list(waiting.values_list("pk", flat=True))


@desk_only
def review(request: DeskRequest) -> HttpResponse:
    """The first run that waits, or the news that none does."""
    waiting = queue()
    if waiting:
        return redirect(_address(waiting[0], request.GET.get("done", "")))
    context = {"undo": _undo(request)}
    return render_page(request, "office/review_empty.html", context, section="review")


@desk_only
def review_run(request: DeskRequest, pk: UUID) -> HttpResponse:
    """One run to be judged."""
    return _show(request, _run(request, pk), ReturnForm())


@require_POST
@reviewers_only
def accept(request: DeskRequest, pk: UUID) -> HttpResponse:
    """Accept the run's figures and go on to the next."""
    run, waiting = _run(request, pk), queue()
    refusal = _already_judged(run) or _refused(workflows.accept_test_run, pk, request.user)
    if refusal:
        messages.error(request, refusal)
        return redirect("office:review_run", pk)
    return redirect(_onward(waiting, pk))


@require_POST
@reviewers_only
def send_back(request: DeskRequest, pk: UUID) -> HttpResponse:
    """Return the run to its crew with a reason and go on to the next."""
    run, waiting, form = _run(request, pk), queue(), ReturnForm(request.POST)
    if not form.is_valid():
        return _show(request, run, form, status=422)
    reason = form.cleaned_data["reason"]
    refusal = _already_judged(run) or _refused(
        workflows.send_back_test_run, pk, request.user, reason
    )
    if refusal:
        form.add_error(None, refusal)
        return _show(request, run, form, status=422)
    return redirect(_onward(waiting, pk))


@require_POST
@reviewers_only
def confirm(request: DeskRequest, pk: UUID) -> HttpResponse:
    """Stand for an odd value; the run is evaluated again."""
    run = _run(request, pk)
    form = ConfirmForm(request.POST, prefix=request.POST.get("question", "")[:8])
    if form.is_valid():
        code, reason = form.cleaned_data["code"], form.cleaned_data["reason"]
        refusal = _refused(
            partial(workflows.confirm_question, code=code, reason=reason), pk, request.user
        )
        if not refusal:
            messages.success(request, "Confirmed. The result is being computed again.")
            return redirect("office:review_run", pk)
        form.add_error(None, refusal)
    return _show(request, run, ReturnForm(), confirming=form, status=422)


@require_POST
@reviewers_only
def second(request: DeskRequest, pk: UUID) -> HttpResponse:
    """Stand for an odd value that a colleague has confirmed."""
    rows = Confirmation.objects.filter(test_run__in=TestRun.objects.visible_to(request.user))
    confirmation = get_object_or_404(rows, pk=pk)
    refusal = _refused(workflows.second_confirmation, pk, request.user)
    if refusal:
        messages.error(request, refusal)
    else:
        messages.success(request, "Two people stand for this value now.")
    return redirect("office:review_run", confirmation.test_run_id)


@require_POST
@reviewers_only
def swap_sides(request: DeskRequest, pk: UUID) -> HttpResponse:
    """Turn the readings of a channel; the run is evaluated again."""
    run, form = _run(request, pk), SwapForm(request.POST, prefix="swap")
    if form.is_valid():
        verb = partial(workflows.swap_sides, **form.cleaned_data)
        refusal = _already_judged(run) or _refused(verb, pk, request.user)
        if not refusal:
            messages.success(request, "Turned. The result is being computed again.")
            return redirect("office:review_run", pk)
        form.add_error(None, refusal)
    return _show(request, run, ReturnForm(), swapping=form, status=422)


@require_POST
@reviewers_only
def undo(request: DeskRequest, pk: UUID) -> HttpResponse:
    """Take the decision on a run back and show it again."""
    _run(request, pk)
    refusal = _refused(workflows.undo_review, pk, request.user)
    if refusal:
        messages.error(request, refusal)
        return redirect("office:test_run", pk)
    messages.success(request, "The decision is taken back; this test run waits for a review again.")
    return redirect("office:review_run", pk)


def _run(request: DeskRequest, pk: UUID) -> TestRun:
    return get_object_or_404(TestRun.objects.visible_to(request.user).with_result(), pk=pk)


def _refused(verb: Any, *given: Any) -> str:
    """The words of the refusal, or nothing when the step was made."""
    try:
        verb(*given)
    except AgencyError as error:
        return str(error)
    return ""


def _already_judged(run: TestRun) -> str:
    """A second reviewer, or a second click, does not overwrite the first decision."""
    if run.review == TestRun.Review.TO_REVIEW:
        return ""
    return (
        f"{run.reviewed_by} has already {run.get_review_display().lower()} this test run, "
        f"{moment(run.reviewed_at)}. Undo that decision first."
    )


def _address(pk: UUID | None, done: str) -> str:
    here = reverse("office:review_run", args=[pk]) if pk else reverse("office:review")
    return f"{here}?{urlencode({'done': done})}" if done else here


def _onward(waiting: list[UUID], judged: UUID) -> str:
    """The run after the one just judged, else the first that is left, else the empty queue."""
    place = waiting.index(judged) if judged in waiting else -1
    left = waiting[place + 1 :] + waiting[: max(place, 0)]
    return _address(left[0] if left else None, str(judged))


def _undo(request: DeskRequest) -> TestRun | None:
    """The run just judged by this person, as the address names it, while it can be undone."""
    try:
        done = UUID(request.GET.get("done", ""))
    except ValueError:
        return None
    mine = TestRun.objects.filter(reviewed_by=request.user).exclude(review=TestRun.Review.TO_REVIEW)
    return mine.select_related("job").filter(pk=done).first()


def _questions(run: TestRun, confirming: ConfirmForm | None) -> list[dict[str, Any]]:
    """Open questions of the result, each with its form; the one sent keeps what was typed."""
    result = run.result
    questions = []
    for number, check in enumerate(result.open_questions if result else []):
        form = ConfirmForm(prefix=f"q{number}", initial={"code": check["code"]})
        if confirming is not None and confirming.prefix == form.prefix:
            form = confirming
        questions.append({"message": typeset(check["message"]), "form": form})
    return questions


def _show(
    request: DeskRequest,
    run: TestRun,
    form: ReturnForm,
    *,
    confirming: ConfirmForm | None = None,
    swapping: SwapForm | None = None,
    status: int = 200,
) -> HttpResponse:
    waiting = queue()
    place = waiting.index(run.pk) if run.pk in waiting else None
    may_judge = request.user.may_review and run.review == TestRun.Review.TO_REVIEW
    context = {
        "case": case_of(run),
        "run": run,
        "job": run.job,
        "form": form,
        "refused": confirming or swapping or form,
        "swap": (swapping or SwapForm(prefix="swap")) if may_judge else None,
        "place": None if place is None else place + 1,
        "waiting": len(waiting),
        "previous": waiting[place - 1] if place else None,
        "next": waiting[place + 1] if place is not None and place + 1 < len(waiting) else None,
        "undo": _undo(request),
        "may_judge": may_judge,
        "unseconded": unseconded(run, on=timezone.localdate()) if may_judge else [],
        "questions": _questions(run, confirming) if may_judge else [],
    }
    page = render_page(request, "office/review_run.html", context, section="review", status=status)
    if status != 200:
        # The address of a refused step must not become the page's own: it is POST only.
        page["HX-Push-Url"] = "false"
    return page
