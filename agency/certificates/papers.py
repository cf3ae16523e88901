"""Numbered figures become a page in the household's language, and the page an accessible PDF."""

from collections.abc import Mapping
from typing import Any

from django.template.loader import render_to_string
from django.utils.safestring import mark_safe
from django.utils.translation import override

from agency.errors import ActionRefused
from agency.papers.assets import CERTIFICATE_STYLE
from agency.papers.printing import printed
from agency.papers.squares import square

from . import sentences

LONGEST_BAR = 470.0
"""Of the picture's own 560 units; the rest is for the figure behind it."""
MOST_CHARACTERS = 60_000
"""A certificate has about 14,000; far more is not a certificate. Own choice."""
CROWDED = 300
"""So many characters of names and addresses need the smaller type. Own choice, by eye."""


def certificate_html(figures: Mapping[str, Any]) -> str:
    """The page of numbered figures; every word of a person is escaped by the template."""
    air, dates = figures["air"], figures["dates"]
    with override(figures["language"]):
        context = {
            **figures,
            "style": CERTIFICATE_STYLE,
            "finished": sentences.day(figures["finished_on"]),
            "issued": sentences.day(figures["issued_on"]),
            "before": sentences.flow(air["before"]),
            "after": sentences.flow(air["after"]),
            "before_on": sentences.day(air["before_on"]),
            "after_on": sentences.day(air["after_on"]),
            "workmanship_until": sentences.day(dates["workmanship_until"]),
            "weatherized_again_from": sentences.day(dates["weatherized_again_from"]),
            "air_said": sentences.air_said(air),
            "change": sentences.change(air),
            "bars": _bars(air),
            "savings_said": sentences.savings_said(figures["savings"]),
            # Drawn here from letters and digits of our own; nothing a person typed is in it.
            "square": mark_safe(square(figures["verify_at"], title=figures["verify_at"])),
            "is_crowded": _letters(figures["agency"]) + _letters(figures["home"]) > CROWDED,
        }
        return render_to_string("papers/certificate.html", context)


def certificate_pdf(figures: Mapping[str, Any]) -> bytes:
    """The certificate as it is handed out."""
    page = certificate_html(figures)
    if len(page) > MOST_CHARACTERS:
        raise ActionRefused(
            f"The certificate's text has {len(page):,} characters; {MOST_CHARACTERS:,} are the "
            "most. Shorten the address, the agency's texts or what the household is told."
        )
    return printed(page)


def _letters(texts: Mapping[str, str]) -> int:
    return sum(map(len, texts.values()))


def _bars(air: Mapping[str, Any]) -> dict[str, float] | None:
    """Lengths of the two bars from zero; None when the two may not stand side by side."""
    before, after = air["before"], air["after"]
    if air["reduction"] is None or not before or after is None:
        return None
    longest = max(before, after)
    return {
        "before": round(LONGEST_BAR * before / longest, 1),
        "after": round(LONGEST_BAR * after / longest, 1),
    }
