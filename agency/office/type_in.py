"""A test typed in at a desk from paper: the same document, check and store as from a phone."""

import uuid
from collections.abc import Mapping, Sequence
from datetime import datetime
from types import MappingProxyType
from typing import Any
from uuid import UUID

from django.http import Http404, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.dateparse import parse_datetime

from agency import workflows
from agency.accounts.models import Device
from agency.diagnostics.documents import KINDS, parse
from agency.diagnostics.form_definitions import UNIT_CHOICES, definition_of
from agency.diagnostics.models import TestRun
from agency.errors import DocumentRefused, FieldReason
from agency.jobs.models import Job
from agency.rulebook.models import Rule
from agency.wording import words

from .access import DeskRequest, reviewers_only
from .job import find_job
from .pages import render_page
from .readings import UNITS
from .typed_form import TypedField, document_of, fields_of, with_errors

CAUTION_ANSWERS = (
    ("clear", "Looked for, not found"),
    ("present", "Found"),
    ("not_here", "Does not apply"),
)


@reviewers_only
def type_in(request: DeskRequest, pk: UUID, kind: str) -> HttpResponse:
    """The form of one kind; sent, it becomes a test run like any other."""
    job = find_job(request, pk)
    if kind not in KINDS:
        raise Http404
    form = definition_of(kind, Rule.objects.effective_on(timezone.localdate()))
    if request.method != "POST":
        started = {"client_key": str(uuid.uuid4()), "operator": ""}
        return _show(request, _Typed(form, job, started))
    typed = _Typed(form, job, {name: str(text) for name, text in request.POST.items()})
    if "add" in request.POST:
        return _show(request, typed)
    record, places = typed.document()
    try:
        parse(record)
    except DocumentRefused as refusal:
        return _show(request, typed, reasons=refusal.reasons, places=places)
    answer = workflows.receive(
        Device.at_desk(request.user), [record], sent_at=None, now=timezone.now()
    )[0]
    if answer.status != 201:
        reasons = [FieldReason(**one) for one in answer.body["errors"]]
        return _show(request, typed, reasons=reasons, places=places)
    return redirect("office:test_run", answer.body["id"])


class _Typed:
    """What stands in the form now, and the document it makes."""

    def __init__(self, form: Mapping[str, Any], job: Job, typed: dict[str, str]) -> None:
        self.form, self.job, self.typed = form, job, typed
        self.fields = fields_of(form, typed)
        self.head = self._head()
        self.cautions = [
            self._choice(f"cautions.{one['code']}", one["look_for"], CAUTION_ANSWERS, one["act"])
            for one in form["cautions"]
        ]

    def document(self) -> tuple[dict[str, Any], dict[str, str]]:
        """The document, and where each of its paths was typed."""
        record, places = document_of(self.fields)
        typed = self.typed
        record |= {
            "kind": self.form["kind"],
            "client_key": typed.get("client_key", ""),
            "job": str(self.job.pk),
            "visit": typed.get("visit") or None,
            "method": typed.get("method", ""),
            "taken_at": _moment(typed.get("taken_at", "")),
            "operator": typed.get("operator", ""),
            "phase": typed.get("phase", ""),
            "units": {name: text for name in UNIT_CHOICES if (text := typed.get(f"units.{name}"))},
            "cautions": {
                one["code"]: answer
                for one in self.form["cautions"]
                if (answer := typed.get(f"cautions.{one['code']}"))
            },
        }
        return record, places

    def _head(self) -> list[TypedField]:
        visits = [(str(one.pk), str(one)) for one in self.job.visits.all()]
        used = {one["named_by"] for one in self.form["units"].values()}
        ways = [(one, words.coded(one)) for one in self.form["methods"]]
        return [
            self._choice("method", "Way the test was made", ways),
            self._choice("phase", "Phase of the work", TestRun.Phase.choices),
            self._choice("visit", "Visit", visits, need="optional"),
            TypedField(
                name="taken_at",
                label="When it was made, by the office's clock",
                type="moment",
                value=self.typed.get("taken_at", ""),
            ),
            TypedField(
                name="operator",
                label="Who made it",
                type="text",
                value=self.typed.get("operator", ""),
            ),
            *(
                self._choice(
                    f"units.{name}",
                    f"Unit of {words.coded(name).lower()}",
                    [(code, UNITS.get(code, code)) for code in UNIT_CHOICES[name]],
                )
                for name in UNIT_CHOICES
                if name in used or name == "pressure"
            ),
        ]

    def _choice(
        self, name: str, label: str, choices: Any, hint: str = "", need: str = ""
    ) -> TypedField:
        return TypedField(
            name=name,
            label=label,
            type="choice",
            hint=hint,
            need=need,
            value=self.typed.get(name, choices[0][0] if name.startswith("units.") else ""),
            choices=list(choices),
        )


def _moment(text: str) -> Any:
    """The office's local time with its distance from UTC; unreadable text stays as it is."""
    try:
        moment: datetime | None = parse_datetime(text)
    except ValueError:
        return text
    if moment is None:
        return text
    return timezone.make_aware(moment).isoformat() if timezone.is_naive(moment) else text


def _show(
    request: DeskRequest,
    typed: _Typed,
    *,
    reasons: Sequence[FieldReason] = (),
    places: Mapping[str, str] = MappingProxyType({}),
) -> HttpResponse:
    errors: dict[str, list[str]] = {}
    for one in reasons:
        limit = f" It may be {one.limit}." if one.limit else ""
        errors.setdefault(one.field, []).append(f"{one.message}{limit} {one.next_step}")
    told = with_errors([*typed.head, *typed.fields, *typed.cautions], errors, places)
    context = {
        "job": typed.job,
        "form": typed.form,
        "typed": typed,
        "errors": told,
        "inch_of_water": words.INCH_OF_WATER,
    }
    status = 422 if told else 200
    return render_page(request, "office/type_in.html", context, section="jobs", status=status)
