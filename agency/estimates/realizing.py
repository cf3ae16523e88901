"""From a grant's predicted and measured savings to the stored rate of what it realized."""

from collections.abc import Iterator
from typing import Any
from uuid import UUID

from django.db.models import QuerySet
from django.utils import timezone

from agency.jobs.models import Job
from agency.programs.models import Program
from agency.rulebook.models import Rule
from agency.rulebook.shipped import effective_on

from .bill_inputs import HomeSaving, LeftOut, RealizationInputs
from .bill_studies import BillAnalysis, BillStudy, NonRoutineChange, ProgramRealization
from .bridge.realization import realize
from .models import SavingsEstimate

PARTS = ("heating", "cooling")
"""Parts of a stored estimate, each with its own fuel."""


def realize_program(program_id: UUID) -> ProgramRealization:
    """Work one grant out and store the row; the same inputs give the same row again."""
    program = Program.objects.get(pk=program_id)
    outcome = realize(inputs_of_program(program))
    input_hash = outcome.pop("input_hash")
    row, is_new = ProgramRealization.objects.get_or_create(
        program=program, input_hash=input_hash, defaults=outcome
    )
    if not is_new:
        row.last_found_at = timezone.now()
        row.save(update_fields=["last_found_at"])
    return row


def inputs_of_program(program: Program) -> RealizationInputs:
    """Every approved home of the grant that has bills, counted or left out by name."""
    rules = effective_on(Rule.objects.filter(code__startswith="realization."), timezone.localdate())
    homes: list[HomeSaving] = []
    left_out: list[LeftOut] = []
    for study in _studies(program):
        found = _home(study)
        if isinstance(found, HomeSaving):
            homes.append(found)
        else:
            left_out.append(found)
    return RealizationInputs(
        program=program.grant_number,
        homes=tuple(homes),
        left_out=tuple(left_out),
        confidence=rules.setting("realization.confidence"),
        trials=int(rules.setting("realization.trials")),
    )


def _studies(program: Program) -> "QuerySet[BillStudy]":
    counted = BillStudy.objects.filter(job__program=program, job__status=Job.Status.APPROVED)
    return (
        counted.select_related("job", "account")
        .prefetch_related("analyses", "job__non_routine_changes", "job__estimates")
        .order_by("job__number", "account__fuel")
    )


def _home(study: BillStudy) -> HomeSaving | LeftOut:
    job, fuel = study.job, study.account.fuel
    analysis = next(iter(study.analyses.all()), None)
    estimate = next(iter(job.estimates.all()), None)
    predicted = None if estimate is None else predicted_saving(estimate, fuel)
    reasons = [*_unmeasured(analysis), *_unpredicted(predicted), *_changed(job)]
    if reasons or analysis is None or estimate is None or predicted is None:
        reason = " ".join(reasons)
        return LeftOut(job=str(job.pk), number=job.number, fuel=fuel, reason=reason)
    saving = analysis.figures["saving"]["mmbtu"]
    return HomeSaving(
        job=str(job.pk),
        number=job.number,
        fuel=fuel,
        predicted=predicted,
        measured=saving["central"],
        low=saving["low"],
        high=saving["high"],
        estimate=str(estimate.pk),
        analysis=str(analysis.pk),
    )


def predicted_saving(estimate: SavingsEstimate, fuel: str) -> float | None:
    """What the estimate predicts of one fuel; None when it says nothing of it. [MMBtu]"""
    parts: list[dict[str, Any]] = [
        figures
        for part in PARTS
        if (figures := (estimate.figures or {}).get(part)) and figures["fuel"] == fuel
    ]
    return sum(figures["mmbtu"]["central"] for figures in parts) if parts else None


def _unmeasured(analysis: BillAnalysis | None) -> Iterator[str]:
    if analysis is None:
        yield "Its bills are not analysed yet."
    elif analysis.saving is None:
        yield "Its bills tell no saving."
    else:
        yield from analysis.unmet


def _unpredicted(predicted: float | None) -> Iterator[str]:
    if predicted is None:
        yield "No saving of this fuel is predicted."
    elif predicted <= 0:
        yield "The predicted saving is not above 0, so nothing can be a share of it."


def _changed(job: Job) -> Iterator[str]:
    changes: list[NonRoutineChange] = list(job.non_routine_changes.all())
    for change in changes:
        if change.is_open:
            yield f"{change}: {change.note}; no manager has confirmed that it counts."
