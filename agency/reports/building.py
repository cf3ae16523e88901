"""Tests of a building by technique: whole, each unit, guarded; techniques are never mixed."""

from collections.abc import Iterable
from dataclasses import dataclass

from agency.diagnostics.models import Comparison, TestRun
from agency.houses.models import Building
from agency.jobs.models import Job
from agency.wording import words

from .rows import PAIRED

GUARDED = "attached"
"""Kind of test that measures a dwelling without and with its neighbour guarded."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TestedPart:
    """What one job has shown of the building."""

    job: Job
    units: int
    before: float | None
    """Flow at 50 Pa. [m³/s]"""
    after: float | None
    reduction: float | None
    """Share of the flow before; None without a comparable pair. [-]"""
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Technique:
    """All that was tested one way."""

    code: str
    parts: tuple[TestedPart, ...]

    @property
    def units_measured(self) -> int:
        """Units behind the weighted reduction."""
        return sum(part.units for part in self.parts if part.reduction is not None)

    @property
    def reduction_by_units(self) -> float | None:
        """Mean reduction weighted by dwelling units; None without a comparable pair. [-]"""
        return weighted_by_units(
            (part.units, part.reduction) for part in self.parts if part.reduction is not None
        )


def weighted_by_units(pairs: Iterable[tuple[int, float]]) -> float | None:
    """Sum of units × reduction over the sum of units."""
    listed = list(pairs)
    units = sum(weight for weight, _ in listed)
    return sum(weight * value for weight, value in listed) / units if units else None


def building_tests(building: Building) -> list[Technique]:
    """Whole building, single units, guarded units; only what was tested is listed."""
    jobs = list(
        Job.objects.filter(house__building=building)
        .exclude(status=Job.Status.WITHDRAWN)
        .select_related("house")
        .order_by("house__unit", "number")
    )
    newest = _newest_comparisons(jobs)
    whole = [_part(job, newest.get(job.pk)) for job in jobs if job.house.units > 1]
    single = [_part(job, newest.get(job.pk)) for job in jobs if job.house.units == 1]
    found = (
        Technique(code=Building.Tested.WHOLE, parts=tuple(whole)),
        Technique(code=Building.Tested.UNIT, parts=tuple(single)),
        Technique(code=Building.Tested.GUARDED, parts=tuple(_guarded(jobs))),
    )
    return [technique for technique in found if technique.parts]


def _newest_comparisons(jobs: list[Job]) -> dict[object, Comparison]:
    found: dict[object, Comparison] = {}
    for comparison in Comparison.objects.filter(job__in=jobs).order_by("computed_at", "id"):
        found[comparison.job_id] = comparison
    return found


def _part(job: Job, comparison: Comparison | None) -> TestedPart:
    if comparison is None:
        return TestedPart(
            job=job, units=job.house.units, before=None, after=None, reduction=None,
            says="Not compared yet",
        )  # fmt: skip
    is_pair = comparison.verdict in PAIRED
    return TestedPart(
        job=job,
        units=job.house.units,
        before=comparison.before_flow_50,
        after=comparison.after_flow_50,
        reduction=comparison.reduction if is_pair else None,
        says=comparison.get_verdict_display(),
    )


def _guarded(jobs: list[Job]) -> Iterable[TestedPart]:
    """Accepted guarded tests; they tell the share that goes outside, not a reduction."""
    runs = TestRun.objects.filter(
        job__in=jobs, kind=GUARDED, review=TestRun.Review.ACCEPTED
    ).order_by("job__house__unit", "taken_at")
    for run in runs.select_related("job__house").prefetch_related("results"):
        headline = run.result.headline if run.result else None
        says = (
            words.figure(headline["quantity"], {"value": headline["value"]})
            if headline
            else "Not computed"
        )
        yield TestedPart(
            job=run.job, units=1, before=None, after=None, reduction=None,
            says=f"{run.get_phase_display()}: {says}",
        )  # fmt: skip
