"""A job's house, comparison and saving in the words and rows its page shows."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.urls import reverse

from agency.diagnostics.models import Comparison, Result
from agency.estimates.models import SavingsEstimate
from agency.houses.models import House
from agency.wording import words
from agency.wording.templatetags.wording import cuft, feet, moment, sqft

from .readings import as_read


@dataclass(frozen=True, slots=True, kw_only=True)
class ComparisonWords:
    """Both ruled figures, the difference, and the verdict with its reasons."""

    before: str
    after: str
    difference: str
    before_note: str
    after_note: str
    verdict: str
    is_shown: bool
    uncertainty: str
    reasons: Sequence[str]
    basis: str


@dataclass(frozen=True, slots=True, kw_only=True)
class EstimateWords:
    """The saving as sentences and rows, what is missing for it, and what it rests on."""

    sentences: Sequence[str]
    rows: Sequence[tuple[str, str]]
    refusals: Sequence[str]
    basis: Sequence[tuple[str, str]]


def house_rows(house: House) -> list[tuple[str, str]]:
    """The house record; what nobody measured says so."""
    storeys = words.NOT_MEASURED if house.storeys is None else as_read(house.storeys)
    shelter = house.get_shelter_display() if house.shelter else words.NOT_MEASURED
    return [
        ("County", str(house.county)),
        ("Dwelling", house.get_dwelling_display()),
        ("Built", str(house.year_built or "not known")),
        ("Storeys", storeys),
        ("Floor area", sqft(house.floor_area_sqft)),
        ("Volume", cuft(house.volume_cuft)),
        ("Height", feet(house.height_ft)),
        ("Envelope area", sqft(house.envelope_area_sqft)),
        ("Elevation", words.quantity(house.elevation_ft, "ft")),
        ("Bedrooms", _count(house.bedrooms)),
        ("People living there", _count(house.occupants)),
        ("Shelter from wind", str(shelter)),
        ("Heating", _heating(house)),
        ("Cooling, heat moved per electricity", _cooling(house)),
        ("Distribution efficiency", words.percent(house.distribution_efficiency)),
    ]


def comparison_words(comparison: Comparison | None) -> ComparisonWords | None:
    """Before against after, worded; None while nothing was compared."""
    if comparison is None:
        return None
    shown = comparison.verdict in {
        Comparison.Verdict.DETECTABLE,
        Comparison.Verdict.NOT_DETECTABLE,
    }
    before, after = comparison.before_flow_50, comparison.after_flow_50
    difference = words.flow_difference(before, after)
    if before is not None and after is not None and not shown:
        difference = "not comparable"
    return ComparisonWords(
        before=words.flow(before),
        after=words.flow(after),
        difference=difference,
        before_note=_range_note(comparison.before),
        after_note=_range_note(comparison.after),
        verdict=comparison.get_verdict_display(),
        is_shown=shown,
        uncertainty=words.percent(comparison.reduction_uncertainty, 1),
        reasons=[_reason(reason) for reason in comparison.reasons],
        basis=f"Compared {moment(comparison.computed_at)}, maths {comparison.maths_version}",
    )


def estimate_words(estimate: SavingsEstimate | None) -> EstimateWords | None:
    """The saving worded; None while none was worked out."""
    if estimate is None:
        return None
    figures = estimate.figures or {}
    return EstimateWords(
        sentences=figures.get("words") or [],
        rows=_estimate_rows(figures),
        refusals=[_reason(refusal) for refusal in estimate.refusals],
        basis=[
            ("Method", f"{estimate.method}, {estimate.edition}"),
            ("Weather", estimate.weather or "none"),
            ("Maths version", estimate.maths_version),
            ("Worked out", moment(estimate.computed_at)),
            ("Input hash", estimate.input_hash),
        ],
    )


def _estimate_rows(figures: Mapping[str, Any]) -> list[tuple[str, str]]:
    rows = []
    for part, name in (("heating", "Heating energy"), ("cooling", "Cooling energy")):
        figure = figures.get(part)
        if figure:
            rows.append((name, _shown(figure["fuel_units"], figure["unit"])))
    total = figures.get("total") or {}
    if total.get("dollars"):
        shown = total["dollars"]["shown"]
        rows.append(("Money", words.money_range(shown["low"], shown["high"])))
    return rows


def _shown(figure: Mapping[str, Any], unit: str) -> str:
    shown = figure["shown"]
    decimals = 0 if abs(shown["high"]) >= 10 else 1
    return f"{words.quantity_range(shown['low'], shown['high'], unit, decimals)} a year"


def _reason(reason: Any) -> str:
    """A stored reason, kept as text or as a refusal with its next step."""
    if isinstance(reason, Mapping):
        parts = (reason.get("message") or reason.get("reason"), reason.get("next_step"))
        return " ".join(str(part) for part in parts if part)
    return str(reason)


def _range_note(result: Result | None) -> str:
    if result is None:
        return ""
    interval = result.figures.get("flow_50") or {}
    low, high = interval.get("low"), interval.get("high")
    if low is None or high is None:
        return ""
    return f"{words.flow(low)} to {words.flow(high)}"


def _count(number: int | None) -> str:
    return words.NOT_MEASURED if number is None else words.number(number)


def _heating(house: House) -> str:
    if not house.heating_fuel:
        return "not recorded"
    efficiency = house.heating_efficiency
    said = "efficiency not measured" if efficiency is None else f"efficiency {as_read(efficiency)}"
    return f"{house.get_heating_fuel_display()}, {said}"


def _cooling(house: House) -> str:
    return "no cooling" if house.cooling_efficiency is None else as_read(house.cooling_efficiency)


def run_url(result: Result | None) -> str:
    """Where the test run behind a result is shown."""
    return reverse("office:test_run", args=[result.test_run_id]) if result else ""
