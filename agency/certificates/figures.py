"""All a certificate tells, frozen from stored records as plain data."""

from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from typing import Any

from django.conf import settings
from django.utils import timezone

from agency.diagnostics.models import Comparison, Result
from agency.estimates.models import SavingsEstimate
from agency.jobs.models import Job, Visit
from agency.programs.models import Agency
from agency.rulebook.models import Rule
from agency.rulebook.shipped import effective_on
from agency.wording import words

from .models import Handover

EDITION = "2"
"""Of the paper's text and layout; raised with every change of what it says."""
NORMAL_95 = 1.959963984540054
"""Two-sided 95 % quantile of the normal distribution. [-]"""
SHOWING = {Comparison.Verdict.DETECTABLE, Comparison.Verdict.NOT_DETECTABLE}


def certificate_figures(
    job: Job, comparison: Comparison, estimate: SavingsEstimate, agency: Agency
) -> dict[str, Any]:
    """All a certificate tells, as plain data: what is not in here is never printed.

    No names of the household, no income, no prices; no percent unless the tests can be compared.
    """
    house, air = job.house, _air(comparison)
    return {
        "edition": EDITION,
        "language": job.client.language,
        "paper": settings.PAPER_SIZE,
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
        "handover": _handover(job),
        "dates": _dates(job.inspection_passed_on),
        "sources": {
            "comparison": comparison.input_hash,
            "comparison_maths": comparison.maths_version,
            "estimate": estimate.input_hash,
            "estimate_maths": estimate.maths_version,
            "estimate_method": f"{estimate.method}, {estimate.edition}",
        },
    }


def _handover(job: Job) -> dict[str, Any]:
    """What was written down for the household; empty where nothing was."""
    told = Handover.objects.filter(job=job).first()
    inspection = (
        job.visits.filter(kind=Visit.Kind.FINAL_INSPECTION, outcome=Visit.Outcome.PASSED)
        .select_related("inspector")
        .last()
    )
    inspector = inspection.inspector if inspection else None
    return {
        "work": _lines(told.work if told else ""),
        "ventilation": told.ventilation if told else "",
        "alarms": _lines(told.alarms if told else ""),
        "lead_safe": told.lead_safe if told else "",
        "inspector": str(inspector) if inspector else "",
        "inspector_certificate": told.inspector_certificate if told else "",
    }


def _lines(text: str) -> list[str]:
    return [line.strip() for line in text.splitlines() if line.strip()]


def _dates(finished_on: date | None) -> dict[str, str]:
    """How far two promises reach, by the rules in force on the day the work was passed."""
    if finished_on is None:
        return {"workmanship_until": "", "weatherized_again_from": ""}
    rules = effective_on(Rule.objects.all(), finished_on)
    return {
        name: words.iso(_years_later(finished_on, rules.setting(code)))
        for name, code in (
            ("workmanship_until", "paper.workmanship"),
            ("weatherized_again_from", "paper.reweatherization"),
        )
    }


def _years_later(day: date, years: float) -> date:
    """The same day of a later year; a leap day becomes the first of March."""
    try:
        return day.replace(year=day.year + int(years))
    except ValueError:
        return date(day.year + int(years), 3, 1)


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
