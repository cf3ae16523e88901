"""What a helping process does: it knows the rules, evaluates documents, and asks no database."""

import django

from agency.diagnostics.bridge.kinds import evaluate
from agency.diagnostics.documents import parse_json
from agency.diagnostics.evaluation import Context, Evaluation
from agency.rulebook.shipped import RuleEntry

_rules: list[RuleEntry] = []


def know_rules(rules: list[RuleEntry]) -> None:
    """Told once, when the process starts."""
    # What it is sent may hold choices of records, which cannot be read before this.
    django.setup()
    _rules[:] = rules


def evaluated(work: tuple[str, Context]) -> Evaluation:
    """One document, as text, with what the register knows of it."""
    text, context = work
    return evaluate(parse_json(text), rules=_rules, context=context)
