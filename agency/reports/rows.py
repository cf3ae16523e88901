"""One line per job of a period, read from stored results in a fixed number of queries."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any
from uuid import UUID

from django.db.models import QuerySet

from agency.diagnostics.bridge.group import HomePair, TestShare
from agency.diagnostics.models import Comparison
from agency.estimates.models import SavingsEstimate
from agency.houses.models import House
from agency.jobs.models import Job
from agency.programs.models import Fuel, Program

from .periods import Period

NORMAL_95 = 1.959963984540054
"""Two-sided 95 % quantile of the normal distribution. [-]"""

PAIRED = frozenset({Comparison.Verdict.DETECTABLE, Comparison.Verdict.NOT_DETECTABLE})
NOT_COMPARED = "not_compared"
"""Verdict of a job nobody has compared yet; no stored comparison carries it."""
JOB_FIELDS = {
    "job_id": "pk",
    "number": "number",
    "house_id": "house_id",
    "units": "house__units",
    "city": "house__city",
    "county_code": "house__county_id",
    "county": "house__county__name",
    "dwelling_code": "house__dwelling",
    "heating_fuel": "house__heating_fuel",
    "year_built": "house__year_built",
    "crew": "crew__name",
    "program": "program__grant_number",
    "opened_on": "opened_on",
    "counted_on": "inspection_passed_on",
}
"""Facts of a row that are read as they are stored, and where."""
DWELLINGS = {code: str(label) for code, label in House.Dwelling.choices}
COMPARISON_FIELDS = (
    "pk",
    "job_id",
    "verdict",
    "maths_version",
    "before_id",
    "after_id",
    "before_flow_50",
    "after_flow_50",
    "reduction",
    "reduction_uncertainty",
    "reasons",
    "figures__share",
    "before__figures__uncertainty",
    "before__figures__instruments",
    "after__figures__uncertainty",
    "after__figures__instruments",
    "before__method",
    "before__edition",
    "after__method",
    "after__edition",
)
ESTIMATE_FIELDS = (
    "job_id",
    "comparison_id",
    "maths_version",
    "refusals",
    "figures__heating",
    "figures__cooling",
    "inputs__before__result",
    "inputs__after__result",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Range:
    """A modelled figure with the two ends of its range."""

    low: float
    central: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class FuelSaving:
    """What one home's estimate says about one fuel, for the first year. Modelled."""

    part: str
    """heating or cooling"""
    fuel: str
    mmbtu: Range
    """Site energy. [million Btu]"""
    dollars: Range | None
    """None: no price held on the day of the estimate."""


@dataclass(frozen=True, slots=True, kw_only=True)
class JobRow:
    """One job of the report. None: not measured."""

    job_id: UUID
    number: str
    house_id: UUID
    units: int = 1
    """Dwelling units inside the tested envelope; above 1 for a whole building."""
    city: str
    county_code: str
    county: str
    dwelling_code: str
    dwelling: str
    heating_fuel: str
    """Code of the fuel the house record names; empty when it names none."""
    year_built: int | None
    crew: str
    program: str
    opened_on: date
    counted_on: date
    verdict: str
    reasons: tuple[str, ...]
    maths_version: str
    standards: tuple[str, ...]
    """Standard and edition of each test behind the comparison."""
    before: float | None
    """Flow at 50 Pa. [m³/s]"""
    after: float | None
    """Flow at 50 Pa. [m³/s]"""
    reduction: float | None
    """Share of the flow before, negative when the house leaks more. [-]"""
    reduction_low: float | None
    reduction_high: float | None
    """Ends of the 95 % interval. [-]"""
    before_share: TestShare | None
    after_share: TestShare | None
    """How much of each test's uncertainty comes from which instruments."""
    savings: tuple[FuelSaving, ...]
    savings_maths_version: str
    no_savings_reasons: tuple[str, ...]

    @property
    def is_pair(self) -> bool:
        """Both tests accepted and comparable, whether or not a change is shown."""
        measured = (self.before, self.after, self.reduction)
        return self.verdict in PAIRED and None not in measured

    @property
    def pair(self) -> HomePair | None:
        """Both flows of a pair; None when the row is none."""
        if not self.is_pair or self.before is None or self.after is None:
            return None
        return HomePair(
            before=self.before,
            after=self.after,
            before_share=self.before_share,
            after_share=self.after_share,
        )

    @property
    def verdict_word(self) -> str:
        """The verdict as the office says it."""
        if self.verdict == NOT_COMPARED:
            return "Not compared yet"
        return str(Comparison.Verdict(self.verdict).label)


def rows_of(period: Period, program: Program | None) -> tuple[JobRow, ...]:
    """The jobs counted in `period`, by job number."""
    counted = Job.objects.counted_between(period.first, period.last)
    if program is not None:
        counted = counted.filter(program=program)
    comparisons = _comparisons(counted)
    estimates = _estimates(counted)
    # Plain values: a hundred thousand records of five kinds would take twice the time.
    jobs = counted.order_by("number").values(*JOB_FIELDS.values(), "no_before_test_reason")
    return tuple(_row(job, comparisons.get(job["pk"]), estimates.get(job["pk"])) for job in jobs)


def _comparisons(counted: QuerySet[Job]) -> dict[UUID, dict[str, Any]]:
    newest = Comparison.objects.current().filter(job__in=counted.order_by().values("pk"))
    return {row["job_id"]: row for row in newest.values(*COMPARISON_FIELDS)}


def _estimates(counted: QuerySet[Job]) -> dict[UUID, dict[str, Any]]:
    rows = (
        SavingsEstimate.objects.filter(job__in=counted.order_by().values("pk"))
        .order_by("computed_at", "pk")
        .values(*ESTIMATE_FIELDS)
    )
    # The last one written for a job stays.
    return {row["job_id"]: row for row in rows}


def _row(
    job: Mapping[str, Any],
    comparison: Mapping[str, Any] | None,
    estimate: Mapping[str, Any] | None,
) -> JobRow:
    compared = comparison or {"verdict": NOT_COMPARED, "reasons": [], "maths_version": ""}
    paired = compared["verdict"] in PAIRED
    reduction = compared.get("reduction") if paired else None
    low, high = _interval(compared) if reduction is not None else (None, None)
    savings, no_savings = _savings(compared, estimate) if paired else ((), ())
    return JobRow(
        **{name: job[stored] for name, stored in JOB_FIELDS.items()},
        dwelling=DWELLINGS[job["house__dwelling"]],
        verdict=compared["verdict"],
        reasons=_reasons(compared, job["no_before_test_reason"]),
        maths_version=compared["maths_version"],
        standards=_standards(compared),
        before=compared.get("before_flow_50"),
        after=compared.get("after_flow_50"),
        reduction=reduction,
        reduction_low=low,
        reduction_high=high,
        before_share=_share(compared, "before") if paired else None,
        after_share=_share(compared, "after") if paired else None,
        savings=savings,
        savings_maths_version=estimate["maths_version"] if estimate and savings else "",
        no_savings_reasons=no_savings,
    )


def _interval(compared: Mapping[str, Any]) -> tuple[float | None, float | None]:
    """The stored interval of the reduction, else the normal one of its standard uncertainty."""
    stored = compared["figures__share"]
    if isinstance(stored, Mapping) and stored.get("low") is not None:
        return stored["low"], stored.get("high")
    uncertainty = compared["reduction_uncertainty"]
    if uncertainty is None:
        return None, None
    half_width = NORMAL_95 * uncertainty
    return compared["reduction"] - half_width, compared["reduction"] + half_width


def _standards(compared: Mapping[str, Any]) -> tuple[str, ...]:
    sides = [
        (compared.get(f"{side}__method"), compared.get(f"{side}__edition"))
        for side in ("before", "after")
    ]
    return tuple(sorted({f"{method} {edition}".strip() for method, edition in sides if method}))


def _share(compared: Mapping[str, Any], side: str) -> TestShare | None:
    uncertainty = compared[f"{side}__figures__uncertainty"] or {}
    return TestShare.of(uncertainty, compared[f"{side}__figures__instruments"] or {})


def _reasons(compared: Mapping[str, Any], no_before_reason: str) -> tuple[str, ...]:
    """Why the job has no pair, in words; what the crew wrote down goes before our own."""
    if compared["verdict"] in PAIRED:
        return ()
    if compared["verdict"] == Comparison.Verdict.NO_BEFORE and no_before_reason:
        return (no_before_reason,)
    reasons = [one for one in compared["reasons"] or [] if _forbids(one)]
    return tuple(map(_reason_text, reasons)) or ("no reason recorded",)


def _forbids(reason: object) -> bool:
    """A remark stands beside a comparison and does not forbid it."""
    return not isinstance(reason, Mapping) or reason.get("forbids", True)


def _reason_text(reason: object) -> str:
    if isinstance(reason, Mapping):
        return str(reason.get("message") or reason.get("reason") or reason.get("code") or "")
    return str(reason)


def _savings(
    compared: Mapping[str, Any], estimate: Mapping[str, Any] | None
) -> tuple[tuple[FuelSaving, ...], tuple[str, ...]]:
    """The estimate's parts by fuel, or in words why there is none."""
    if estimate is None:
        return (), ("not estimated yet",)
    if not _rests_on(estimate, compared):
        return (), ("the estimate rests on tests that were replaced since",)
    parts = [
        (name, estimate[f"figures__{name}"])
        for name in ("heating", "cooling")
        if estimate[f"figures__{name}"]
    ]
    if not parts:
        return (), tuple(_texts(estimate["refusals"])) or ("no reason recorded",)
    return tuple(_fuel_saving(name, figures) for name, figures in parts), ()


def _rests_on(estimate: Mapping[str, Any], compared: Mapping[str, Any]) -> bool:
    if estimate["comparison_id"] == compared["pk"]:
        return True
    used = (estimate["inputs__before__result"], estimate["inputs__after__result"])
    return used == (str(compared["before_id"]), str(compared["after_id"]))


def _texts(refusals: Iterable[object]) -> list[str]:
    return [text for refusal in refusals or [] if (text := _reason_text(refusal))]


def _fuel_saving(part: str, figures: Mapping[str, Any]) -> FuelSaving:
    dollars = figures.get("dollars")
    return FuelSaving(
        part=part,
        fuel=figures["fuel"],
        mmbtu=_range(figures["mmbtu"]),
        dollars=None if dollars is None else _range(dollars),
    )


def _range(figures: Mapping[str, Any]) -> Range:
    return Range(low=figures["low"], central=figures["central"], high=figures["high"])


def fuel_word(fuel: str) -> str:
    """A fuel as the office says it."""
    return str(Fuel(fuel).label) if fuel in Fuel.values else fuel
