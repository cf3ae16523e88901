"""Kinds of test: what each asks, how the gauge is hooked up, and the rules it is held against."""

from collections.abc import Mapping, Sequence
from typing import Any

from django.http import Http404, HttpResponse
from django.utils import timezone

from agency.charts.drawing import NARROW, WIDE
from agency.charts.hookup import HookupCard, draw_hookup
from agency.diagnostics.documents import KINDS
from agency.diagnostics.form_definitions import REGISTERED, UNIT_CHOICES, definition_of
from agency.rulebook.models import Rule
from agency.wording import words

from .access import DeskRequest, desk_only
from .pages import render_page
from .readings import UNITS

TYPE_WORDS = {"flag": "yes or no", "text": "text", "texts": "names", "numbers": "several numbers"}


@desk_only
def test_kinds(request: DeskRequest) -> HttpResponse:
    """Every kind of test with the question it answers."""
    context = {"kinds": listed_kinds()}
    return render_page(request, "office/test_kinds.html", context, section="kinds")


def listed_kinds() -> list[dict[str, str]]:
    """Every kind of test by its code, title and purpose."""
    return [
        {"kind": kind, "title": one.form.title, "purpose": one.form.purpose}
        for kind, one in KINDS.items()
    ]


@desk_only
def test_kind(request: DeskRequest, kind: str) -> HttpResponse:
    """One kind: cautions, hook-up cards, every field asked for, and what it must keep to."""
    if kind not in KINDS:
        raise Http404
    form = definition_of(kind, Rule.objects.effective_on(timezone.localdate()))
    context = {
        "form": form,
        "methods": [words.coded(one) for one in form["methods"]],
        "cards": [_card(number, one) for number, one in enumerate(KINDS[kind].form.hookups)],
        "asked": list(_asked(form["fields"], form["units"])),
    }
    return render_page(request, "office/test_kind.html", context, section="kinds")


def _card(number: int, card: HookupCard) -> dict[str, Any]:
    return {
        "anchor": f"card-{number}",
        "title": card.title,
        "wide": draw_hookup(card, width=WIDE),
        "narrow": draw_hookup(card, width=NARROW),
        "columns": ("Channel", "Input side", "Reference side", "Expected"),
        "rows": [
            tuple(side or "not used" for side in (one.name, one.input, one.reference, one.expected))
            for one in card.channels
        ],
    }


def _asked(
    fields: Sequence[Mapping[str, Any]], units: Mapping[str, Any], within: str = ""
) -> list[dict[str, str]]:
    """Every field with its unit and range; those of a group carry the group's name."""
    rows: list[dict[str, str]] = []
    for one in fields:
        if one["path"] in REGISTERED:
            continue
        if "fields" in one:
            inside = f"{within}, {one['label'].lower()}" if within else one["label"]
            rows += _asked(one["fields"], units, inside)
            continue
        rows.append(
            {
                "within": within,
                "label": one["label"],
                "form": _form_words(one, units),
                "need": _need_words(one),
                "hint": one.get("hint") or "",
            }
        )
    return rows


def _form_words(field: Mapping[str, Any], units: Mapping[str, Any]) -> str:
    if field.get("choices"):
        return ", ".join(words.coded(one).lower() for one in field["choices"])
    quantity = field.get("quantity") or ""
    if quantity in units:
        power = {"floor_area": "²", "volume": "³"}.get(quantity, "")
        named = [UNITS.get(one, one) + power for one in UNIT_CHOICES[units[quantity]["named_by"]]]
        return f"{words.coded(quantity)} in {' or '.join(named)}"
    return field.get("unit") or TYPE_WORDS.get(field["type"], "number")


def _need_words(field: Mapping[str, Any]) -> str:
    if field.get("needed_by"):
        return "needed for " + ", ".join(words.coded(one).lower() for one in field["needed_by"])
    return "needed" if field["required"] else "may stay empty: not measured"
