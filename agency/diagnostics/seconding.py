"""Which confirmed values a second person must stand for before a run can be accepted."""

from datetime import date

from agency.errors import ActionRefused
from agency.rulebook.models import Rule
from agency.rulebook.shipped import RuleSet, effective_on

from .models import TIGHTNESS, Confirmation, TestRun

SAFETY_KINDS = {"combustion_zone"}
SAFETY_CODES = ("combustion.", "attached.combustion")
"""Beginnings of the rules that ask about safety, in whatever kind of test."""


def unseconded(run: TestRun, *, on: date) -> list[Confirmation]:
    """Confirmations that still lack the second person the rule book asks for."""
    waiting = list(run.confirmations.filter(second_by=None).select_related("by"))
    if not waiting:
        return []
    rules = effective_on(Rule.objects.filter(code__startswith="review.second_person"), on)
    return [one for one in waiting if needs_second(run, one.code, rules)]


def needs_second(run: TestRun, code: str, rules: RuleSet) -> bool:
    """Safety always; else as the row of the question says, else where the number is reported."""
    if run.kind in SAFETY_KINDS or code.startswith(SAFETY_CODES):
        return True
    if rules.get(f"review.second_person.{code}") is not None:
        return rules.setting(f"review.second_person.{code}") == 1
    return run.kind == TIGHTNESS and rules.setting("review.second_person_reported") == 1


def refuse_unseconded(run: TestRun, *, on: date) -> None:
    """Say whose answers wait for a second name."""
    waiting = unseconded(run, on=on)
    if not waiting:
        return
    said = "; ".join(f"{one.code}, confirmed by {one.by}" for one in waiting)
    raise ActionRefused(
        f"{run} cannot be accepted yet: {said}. The value bears on safety or on a reported number, "
        "so a second reviewer stands for it by name first. Ask a colleague to open this run."
    )
