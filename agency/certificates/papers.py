"""Figures frozen from stored records become a page, and the page becomes an accessible PDF."""

import unicodedata
from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from typing import Any

from django.template.loader import render_to_string
from django.utils import timezone
from weasyprint import HTML
from weasyprint.urls import FatalURLFetchingError

from agency.diagnostics.models import Comparison, Result
from agency.errors import ActionRefused
from agency.estimates.models import SavingsEstimate
from agency.jobs.models import Job
from agency.programs.models import Agency
from agency.wording import words

from .assets import STYLE, PackagedAssets, UnlistedAssetError
from .sentences import air_said, savings_said

EDITION = "1"
"""Of the paper's text and layout; raised with every change of what it says."""
NORMAL_95 = 1.959963984540054
"""Two-sided 95 % quantile of the normal distribution. [-]"""
SHOWING = {Comparison.Verdict.DETECTABLE, Comparison.Verdict.NOT_DETECTABLE}
LONGEST_BAR = 560.0
"""Of the picture's own 560 units."""
MOST_CHARACTERS = 60_000
"""A certificate has about 8,000; far more is not a certificate. Own choice."""
CROWDED = 300
"""So many characters of names and addresses need the smaller type. Own choice, by eye."""
REORDERING = set("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")


def certificate_figures(
    job: Job, comparison: Comparison, estimate: SavingsEstimate, agency: Agency
) -> dict[str, Any]:
    """All a certificate tells, as plain data: what is not in here is never printed.

    No names of people, no income, no prices; no percent unless the tests can be compared.
    """
    house, air = job.house, _air(comparison)
    return {
        "edition": EDITION,
        "agency": {
            "name": agency.name,
            "address": agency.address,
            "phone": agency.phone,
            "complaint_route": agency.complaint_route,
        },
        "home": {
            "street": ", ".join(part for part in (house.address, house.unit) if part),
            "place": f"{house.city}, {house.state} {house.postal_code}",
        },
        "job": {"id": str(job.pk), "number": job.number},
        "finished_on": words.iso(job.inspection_passed_on),
        "air": air,
        "savings": _savings(estimate) if air["is_clear"] else None,
        "sources": {
            "comparison": comparison.input_hash,
            "comparison_maths": comparison.maths_version,
            "estimate": estimate.input_hash,
            "estimate_maths": estimate.maths_version,
            "estimate_method": f"{estimate.method}, {estimate.edition}",
        },
    }


def _air(comparison: Comparison) -> dict[str, Any]:
    """Flows in m³/s, the reduction as a share; None where nothing may be printed."""
    shown = comparison.verdict in SHOWING and comparison.reduction is not None
    # Two flows side by side invite a percentage, so tests that cannot be compared show neither.
    hidden = comparison.verdict == Comparison.Verdict.NOT_COMPARABLE
    low, high = _interval(comparison) if shown else (None, None)
    return {
        "verdict": comparison.verdict,
        "before": None if hidden else comparison.before_flow_50,
        "after": None if hidden else comparison.after_flow_50,
        "reduction": comparison.reduction if shown else None,
        "is_clear": shown and _is_clear(comparison, high),
        "low": low,
        "high": high,
        "before_on": _tested_on(comparison.before),
        "after_on": _tested_on(comparison.after),
    }


def _is_clear(comparison: Comparison, high: float | None) -> bool:
    """A reduction that is shown, or a house whose whole interval says that it leaks more."""
    return comparison.verdict == Comparison.Verdict.DETECTABLE or (high is not None and high < 0)


def _interval(comparison: Comparison) -> tuple[float | None, float | None]:
    """The stored 95 % interval, else the normal one of the stored standard uncertainty."""
    stored = comparison.figures.get("share")
    if isinstance(stored, Mapping) and stored.get("low") is not None:
        return stored["low"], stored["high"]
    if comparison.reduction is None or comparison.reduction_uncertainty is None:
        return None, None
    half_width = NORMAL_95 * comparison.reduction_uncertainty
    return comparison.reduction - half_width, comparison.reduction + half_width


def _tested_on(result: Result | None) -> str | None:
    if result is None:
        return None
    taken_at = result.test_run.corrected_taken_at
    return words.iso(taken_at.astimezone(timezone.get_current_timezone()).date())


def _savings(estimate: SavingsEstimate) -> dict[str, Any] | None:
    """The rounded ranges; None when nothing could be estimated."""
    if not estimate.figures:
        return None
    dollars = estimate.figures["total"]["dollars"]
    parts = [(name, estimate.figures[name]) for name in ("heating", "cooling")]
    return {
        "dollars": None if dollars is None else dollars["shown"],
        "energy": [_energy(name, figures) for name, figures in parts if figures],
    }


def _energy(part: str, figures: Mapping[str, Any]) -> dict[str, Any]:
    shown = figures["fuel_units"]["shown"]
    ends = shown["low"], shown["high"]
    return {
        "part": part,
        "fuel": figures["fuel"],
        "unit": figures["unit"],
        "low": shown["low"],
        "high": shown["high"],
        "decimals": max(map(_decimals, ends)),
    }


def _decimals(value: float) -> int:
    """How many the estimate's own rounding left."""
    exponent = Decimal(repr(value)).normalize().as_tuple().exponent
    return max(0, -exponent) if isinstance(exponent, int) else 0


def certificate_html(figures: Mapping[str, Any]) -> str:
    """The page of numbered figures; every word of a person is escaped by the template."""
    cleaned = _printable(figures)
    air = cleaned["air"]
    context = {
        **cleaned,
        "style": STYLE,
        "finished": _day(cleaned["finished_on"]),
        "issued": _day(cleaned["issued_on"]),
        "before_on": _day(air["before_on"]),
        "after_on": _day(air["after_on"]),
        "air_said": air_said(air),
        "change": _change(air),
        "bars": _bars(air),
        "savings_said": savings_said(cleaned["savings"]),
        "has_savings": cleaned["savings"] is not None,
        "is_crowded": _letters(cleaned["agency"]) + _letters(cleaned["home"]) > CROWDED,
    }
    return render_to_string("papers/certificate.html", context)


def _change(air: Mapping[str, Any]) -> str:
    """The words between the two figures; no percentage that the tests do not carry."""
    if air["reduction"] is None:
        return words.NOT_MEASURED
    if not air["is_clear"]:
        return "too close to tell"
    return words.flow_difference(air["before"], air["after"])


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


def _day(text: str | None) -> str:
    return words.day(date.fromisoformat(text) if text else None)


def _printable(value: Any) -> Any:
    """The same figures without control characters and marks that reorder text."""
    if isinstance(value, Mapping):
        return {name: _printable(one) for name, one in value.items()}
    if isinstance(value, list):
        return [_printable(one) for one in value]
    if isinstance(value, str):
        return "".join(map(_printable_character, value))
    return value


def _printable_character(character: str) -> str:
    if unicodedata.category(character) in {"Cc", "Cs", "Co", "Cn"}:
        return " "
    return "" if character in REORDERING else character


def certificate_pdf(figures: Mapping[str, Any]) -> bytes:
    """The page as tagged PDF (PDF/UA-1, ISO 14289-1), made without network or file access."""
    page = certificate_html(figures)
    if len(page) > MOST_CHARACTERS:
        raise ActionRefused(
            f"The certificate's text has {len(page):,} characters; {MOST_CHARACTERS:,} are the "
            "most. Shorten the address or the agency's texts."
        )
    return pdf_of(page)


def pdf_of(page: str) -> bytes:
    """Render a page; one that asks for anything but the packaged assets is not rendered at all."""
    paper = HTML(string=page, base_url="packaged:", url_fetcher=PackagedAssets())
    try:
        written: bytes = paper.write_pdf(pdf_variant="pdf/ua-1")
    except FatalURLFetchingError as fault:
        # Not an Exception for the renderer's sake; a worker must see an ordinary one.
        raise UnlistedAssetError(str(fault)) from fault
    return written
