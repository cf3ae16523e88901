"""Which part of the bridge evaluates which kind of test."""

from collections.abc import Iterable

from agency.rulebook.shipped import RuleLike

from ..documents import EnvelopeDocument
from ..evaluation import Context, Evaluation
from .document import NO_CONTEXT, evaluate_document

EVALUATORS = {"envelope": evaluate_document}
"""Evaluators by a document's `kind`; a further kind of test is one more entry."""


def evaluate(
    document: EnvelopeDocument, *, rules: Iterable[RuleLike], context: Context = NO_CONTEXT
) -> Evaluation:
    """Figures, checks and verdict of one test of any kind."""
    return EVALUATORS[document.kind](document, rules=rules, context=context)
