"""Looking back at an instrument in doubt: what it touched, and what a manager lets stand."""

from collections.abc import Callable
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.forms import BaseForm
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.text import slugify
from django.views.decorators.http import require_POST

from agency import workflows
from agency.certificates.models import Certificate
from agency.diagnostics.excepting import InstrumentException
from agency.errors import AgencyError
from agency.instruments.models import Instrument
from agency.reports.exports import csv_of
from agency.reports.look_back import LookBack, Reach, Touched, look_back
from agency.reports.look_back_table import look_back_head, look_back_table
from agency.wording import words
from agency.wording.templatetags.wording import day

from .access import DeskRequest, desk_only, managers_only
from .forms import ExceptPeriodForm, ExceptRunForm
from .pages import page_of, render_page
from .quarters import QuarterForm


@desk_only
def look_back_page(request: DeskRequest, pk: UUID) -> HttpResponse:
    """What the instrument touched while in doubt, or since its last good calibration."""
    return _show(request, _found(pk))


@desk_only
def look_back_csv(request: DeskRequest, pk: UUID) -> HttpResponse:
    """The list shown, as a file."""
    found = _found(pk)
    listed, reach = _lists(found)[_shown(request)]
    head = look_back_head(found, reach, listed=listed, now=timezone.now())
    name = slugify(found.instrument.serial) or "instrument"
    headers = {
        "Content-Disposition": f'attachment; filename="look-back-{name}.csv"',
        "X-Content-Type-Options": "nosniff",
    }
    data = csv_of(look_back_table(reach), head)
    return HttpResponse(data, content_type="text/csv; charset=utf-8", headers=headers)


@require_POST
@managers_only
def except_run(request: DeskRequest, pk: UUID) -> HttpResponse:
    """Let one test run stand."""
    found = _found(pk)
    form = ExceptRunForm(request.POST, runs=_choices(found), prefix="run")

    def act(said: dict[str, Any]) -> str:
        workflows.except_run(pk, said["run"], request.user, reason=said["reason"], on=found.on)
        return "The test run is excepted; your name and the reason stand beside it."

    return _step(request, found, "run", form, act)


@require_POST
@managers_only
def except_period(request: DeskRequest, pk: UUID) -> HttpResponse:
    """Let every test run of some days stand."""
    found = _found(pk)

    def act(said: dict[str, Any]) -> str:
        workflows.except_period(
            pk,
            request.user,
            from_day=said["from_day"],
            to_day=said["to_day"],
            reason=said["reason"],
            on=found.on,
        )
        return "The period is excepted; your name and the reason stand beside its test runs."

    return _step(request, found, "period", ExceptPeriodForm(request.POST, prefix="period"), act)


@require_POST
@managers_only
def withdraw_exception(request: DeskRequest, pk: UUID) -> HttpResponse:
    """Put back in doubt what an exception covered."""
    exception = get_object_or_404(InstrumentException, pk=pk)
    try:
        workflows.withdraw_exception(pk, request.user)
    except AgencyError as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(
            request,
            "The exception is withdrawn; what it covered is in doubt again. A question about the "
            "calibration that was answered with it stays answered.",
        )
    return redirect("office:look_back", exception.instrument_id)


def _found(pk: UUID) -> LookBack:
    instrument = get_object_or_404(Instrument.objects.prefetch_related("calibrations"), pk=pk)
    return look_back(instrument, on=timezone.localdate())


def _step(
    request: DeskRequest,
    found: LookBack,
    name: str,
    form: BaseForm,
    act: Callable[[dict[str, Any]], str],
) -> HttpResponse:
    """What was typed stays when the step is refused."""
    if form.is_valid():
        try:
            messages.success(request, act(form.cleaned_data))
        except AgencyError as refusal:
            form.add_error(None, str(refusal))
        else:
            return redirect("office:look_back", found.instrument.pk)
    return _show(request, found, refused={name: form}, status=422)


def _show(
    request: DeskRequest,
    found: LookBack,
    *,
    refused: dict[str, BaseForm] | None = None,
    status: int = 200,
) -> HttpResponse:
    shown, lists = _shown(request), _lists(found)
    listed, reach = lists[shown]
    here = reverse("office:look_back", args=[found.instrument.pk])
    certificates = Certificate.objects.filter(job__in=list(reach.jobs)).select_related("job")
    context = {
        "found": found,
        "instrument": found.instrument,
        "listed": listed,
        "reach": reach,
        "page": page_of(reach.runs, request.GET.get("page")),
        "doubts": _doubt_rows(found),
        "reports": _report_rows(reach),
        "certificates": certificates.order_by("number"),
        "tabs": [
            {"url": f"{here}?show={key}", "word": word, "count": len(part.runs),
             "current": key == shown}
            for key, (word, part) in lists.items()
        ],
        "csv_url": f"{reverse('office:look_back_csv', args=[found.instrument.pk])}?show={shown}",
        "forms": _forms(request, found) | (refused or {}),
        "refused": next(iter((refused or {}).values()), None),
    }  # fmt: skip
    return render_page(
        request, "office/look_back.html", context, section="instruments", status=status
    )


def _shown(request: DeskRequest) -> str:
    return "since" if request.GET.get("show") == "since" else "doubt"


def _lists(found: LookBack) -> dict[str, tuple[str, Reach]]:
    """The two lists of test runs, by their name in the address."""
    good = found.last_good
    since = f"Since the calibration of {day(good.calibrated_on)}" if good else "Ever made with it"
    return {"doubt": ("In doubt", found.in_doubt), "since": (since, found.since_last_good)}


def _doubt_rows(found: LookBack) -> list[tuple[str, str, str]]:
    """Each doubt: its days, its reason, and how many test runs it touches."""
    rows = []
    for doubt in found.doubts:
        runs = [one for one in found.in_doubt.runs if one.doubt == doubt]
        left = sum(one.is_open for one in runs)
        told = words.count(len(runs), "test run")
        if len(runs) > left:
            told += f", {words.number(len(runs) - left)} of them excepted"
        days = doubt.days
        rows.append((f"{days[:1].upper()}{days[1:]}", doubt.reason, told))
    return rows


def _report_rows(reach: Reach) -> list[dict[str, Any]]:
    """The reports touched; one too old for the page of the reports has no link."""
    if not reach.reports:
        return []
    offered = QuarterForm(today=timezone.localdate()).periods
    return [
        {
            "label": one.period.label,
            "homes": one.homes,
            "url": f"{reverse('office:reports')}?quarter={one.period.code}"
            if one.period.code in offered
            else "",
        }
        for one in reach.reports
    ]


def _forms(request: DeskRequest, found: LookBack) -> dict[str, BaseForm]:
    """What a manager may say; days of the doubt with the most open test runs are filled in."""
    left = found.in_doubt.open_runs
    if not (request.user.may_approve and left):
        return {}
    made = [[one.made_on for one in left if one.doubt == doubt] for doubt in found.doubts]
    doubt, days = max(zip(found.doubts, made, strict=True), key=lambda pair: len(pair[1]))
    first, last = doubt.from_day or min(days), doubt.to_day or found.on
    asked = {"run": request.GET.get("run", "")}
    return {
        "run": ExceptRunForm(runs=_choices(found), initial=asked, prefix="run"),
        "period": ExceptPeriodForm(initial={"from_day": first, "to_day": last}, prefix="period"),
    }


def _choices(found: LookBack) -> list[tuple[str, str]]:
    """The test runs that nobody lets stand yet."""
    return [(str(one.run.pk), _run_words(one)) for one in found.in_doubt.open_runs]


def _run_words(touched: Touched) -> str:
    run = touched.run
    return f"{run.job.number}, {words.coded(run.phase).lower()}, {words.day(touched.made_on)}"
