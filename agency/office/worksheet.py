"""A visit on paper: the house, what to look for, and empty boxes for every reading asked for."""

from collections.abc import Sequence
from dataclasses import dataclass
from io import BytesIO
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect
from django.template.loader import render_to_string
from django.utils import timezone

from agency.charts.drawing import NARROW
from agency.charts.hookup import draw_hookup
from agency.diagnostics.cautions import CAUTIONS, DEFER
from agency.diagnostics.documents import KINDS
from agency.diagnostics.form_definitions import definition_of
from agency.diagnostics.house_setup import SETUP_QUESTIONS
from agency.diagnostics.requiring import RequiredTest
from agency.errors import AgencyError
from agency.jobs.models import Job, Visit
from agency.papers.assets import WORKSHEET_STYLE
from agency.papers.printing import printed
from agency.programs.models import Agency
from agency.rulebook.models import Rule
from agency.wording import words

from .access import DeskRequest, desk_only
from .files import to_save
from .result_words import house_rows
from .worksheet_form import Block, block_of

ONCE = ("gauge", "fans", "conditions")
"""Parts of every form that are written down once a visit."""
KNOWN = ("house",)
"""Printed from the register instead of asked for."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """One required test on paper."""

    title: str
    purpose: str
    methods: tuple[str, ...]
    block: Block
    cards: tuple[str, ...]
    """Hook-up cards as SVG."""


@desk_only
def worksheet(request: DeskRequest, pk: UUID) -> HttpResponseBase:
    """The visit's worksheet as PDF."""
    visits = Visit.objects.select_related("job__house__county", "job__client", "crew", "inspector")
    visible = Job.objects.visible_to(request.user)
    visit = get_object_or_404(visits.filter(job__in=visible), pk=pk)
    try:
        paper = printed(worksheet_html(visit))
    except AgencyError as refusal:
        messages.error(request, str(refusal))
        return redirect("office:job", visit.job_id)
    name = f"worksheet-{visit.job.number}-{visit.planned_on:%Y-%m-%d}.pdf"
    return to_save(BytesIO(paper), name=name, content_type="application/pdf")


def worksheet_html(visit: Visit) -> str:
    """The page to be printed."""
    required = RequiredTest.objects.filter(program=visit.job.program_id, visit_kind=visit.kind)
    asked = [one for one in required if one.kind in KINDS]
    rules = list(Rule.objects.effective_on(timezone.localdate()))
    forms = [definition_of(kind, rules) for kind in dict.fromkeys(one.kind for one in asked)]
    context = {
        "style": WORKSHEET_STYLE,
        "agency": Agency.objects.first(),
        "visit": visit,
        "job": visit.job,
        "house": _paired([(name, _known(text)) for name, text in house_rows(visit.job.house)]),
        "stops": visit.job.open_stops,
        "cautions": CAUTIONS if any(form["cautions"] for form in forms) else (),
        "defer": DEFER,
        "setup": SETUP_QUESTIONS if forms else (),
        "once": _once(forms),
        "sheets": [
            _sheet(form, [one for one in asked if one.kind == form["kind"]]) for form in forms
        ],
        "printed_on": timezone.localdate(),
    }
    return render_to_string("papers/worksheet.html", context)


def _known(text: str) -> str:
    """Empty where nobody has measured it: the crew may."""
    return "" if text == words.NOT_MEASURED else text


def _paired(rows: Sequence[tuple[str, str]]) -> list[Sequence[tuple[str, str]]]:
    """Two facts a line."""
    return [rows[place : place + 2] for place in range(0, len(rows), 2)]


def _once(forms: Sequence[dict[str, Any]]) -> Block | None:
    """The parts all forms share, from the form that knows the most units."""
    if not forms:
        return None
    units = {name: unit for form in forms for name, unit in form["units"].items()}
    fields = {one["name"]: one for form in forms for one in form["fields"] if one["name"] in ONCE}
    return block_of("", [fields[name] for name in ONCE if name in fields], units)


def _sheet(form: dict[str, Any], asked: Sequence[RequiredTest]) -> Sheet:
    named = [one.method for one in asked if one.method]
    own = [one for one in form["fields"] if one["name"] not in (*ONCE, *KNOWN)]
    return Sheet(
        title=form["title"],
        purpose=form["purpose"],
        methods=tuple(words.coded(one) for one in named or form["methods"]),
        block=block_of("", own, form["units"]),
        cards=tuple(draw_hookup(card, width=NARROW) for card in KINDS[form["kind"]].form.hookups),
    )
