"""Bridge to the formulas: before against after, from stored figures only."""

from collections.abc import Iterable, Sequence
from dataclasses import asdict
from math import sqrt
from typing import Any

from agency.leakage.comparability import Comparability, Conditions
from agency.leakage.comparability import compare as compare_conditions
from agency.leakage.power_law import ExponentSource
from agency.leakage.reduction import ErrorPart, Reduction, reduction
from agency.leakage.version import MATHS_VERSION
from agency.rulebook.shipped import RuleLike

from ..evaluation import ComparisonOutcome, TestSide, input_hash
from .book import Book

AFTER_WORK = ("after", "inspection")
REPORTABLE = {"valid", "advisory"}


def pair_of(sides: Iterable[TestSide]) -> tuple[TestSide | None, TestSide | None]:
    """The last test before the work, and the last one after it or at the final inspection.

    Tests made during the work steer it and are not counted.
    """
    ordered = sorted(sides, key=lambda one: one.taken_at)
    before = [one for one in ordered if one.phase == "before"]
    after = [one for one in ordered if one.phase in AFTER_WORK]
    return (before[-1] if before else None), (after[-1] if after else None)


def compare(
    before: TestSide | None, after: TestSide | None, *, rules: Iterable[RuleLike]
) -> ComparisonOutcome:
    """Reduction of the flow at 50 Pa with its uncertainty, or why there is none.

    A negative reduction stays as it is. What forbids the comparison is listed with the remarks.
    """
    if before is None:
        return _one_sided("no_before", before, after)
    if after is None:
        return _one_sided("no_after", before, after)
    book = Book(rules, after.taken_at.date())
    same = compare_conditions(before=_conditions(before), after=_conditions(after))
    reasons = [*_unusable(before, "before"), *_unusable(after, "after")]
    reasons += _order(before, after, book)
    reasons += [_reason("comparability", text, forbids=True) for text in same.reasons]
    reasons += [_reason("remark", text, forbids=False) for text in same.remarks]
    flows = [one.figures["flow_50"]["value"] for one in (before, after)]
    parts = _parts(before, after, same)
    if flows[0] is None or flows[1] is None or parts is None:
        return _outcome((before, after), "not_comparable", reasons, book=book, found=None)
    found = reduction(
        before=flows[0],
        after=flows[1],
        parts=parts,
        detectable_factor=book.setting("setting.detectable-factor"),
        reasons=[one["message"] for one in reasons if one["forbids"]],
    )
    for check in book.complaint("review.reduction", found.share.value, field="series"):
        reasons.append(_reason(check.code, f"{check.message} {check.next_step}", forbids=False))
    return _outcome(
        (before, after), str(found.verdict), reasons, book=book, found=found, shared=_shared(parts)
    )


def _shared(parts: Sequence[ErrorPart]) -> float:
    """Root of the covariance of both tests' relative errors: what one instrument does to both."""
    return sqrt(sum(part.correlation * part.before * part.after for part in parts))


def _conditions(side: TestSide) -> Conditions:
    figures = side.figures
    instruments = figures["instruments"]
    return Conditions(
        method=f"{side.method} {side.edition}",
        directions=frozenset(one["direction"] for one in figures["series"]),
        exponent_source=ExponentSource(figures["exponent_source"] or ExponentSource.FITTED),
        gauge=instruments["gauge"] or None,
        fans=frozenset(instruments["fans"]),
        configurations=frozenset(instruments["configurations"]),
        geometry=side.geometry,
        setup={name: answer for name, answer in figures["setup"].items() if answer},
    )


def _parts(before: TestSide, after: TestSide, same: Comparability) -> list[ErrorPart] | None:
    """Causes of error and what both tests share of them; None where one is not known."""
    correlation = {"gauge": same.gauge_correlation, "fan": same.fan_correlation}
    parts = []
    for name in ("random", "gauge", "fan", "other"):
        sizes = [one.figures["uncertainty"][name] for one in (before, after)]
        if sizes[0] is None or sizes[1] is None:
            return None
        parts.append(
            ErrorPart(
                name=name,
                before=sizes[0],
                after=sizes[1],
                correlation=correlation.get(name, 0.0),
            )
        )
    return parts


def _unusable(side: TestSide, when: str) -> list[dict[str, Any]]:
    if side.verdict in REPORTABLE:
        return []
    text = (
        f"The test {when} the work is {side.verdict.replace('_', ' ')}. "
        "Clear its open checks, or test again."
    )
    return [_reason("verdict", text, forbids=True)]


def _order(before: TestSide, after: TestSide, book: Book) -> list[dict[str, Any]]:
    days = (after.taken_at - before.taken_at).total_seconds() / 86_400
    words = f"The test after the work was made {-days:.1f} days before the one before it."
    found = book.complaint("order.sequence", days, field="taken_at", message=words)
    return [_reason(one.code, f"{one.message} {one.next_step}", forbids=True) for one in found]


def _reason(code: str, message: str, *, forbids: bool) -> dict[str, Any]:
    return {"code": code, "message": message, "forbids": forbids}


def _one_sided(verdict: str, before: TestSide | None, after: TestSide | None) -> ComparisonOutcome:
    missing = "before" if before is None else "after"
    text = f"There is no accepted test {missing} the work. Make one, or write down why not."
    return ComparisonOutcome(
        verdict=verdict,
        before_flow_50=None if before is None else before.figures["flow_50"]["value"],
        after_flow_50=None if after is None else after.figures["flow_50"]["value"],
        reduction=None,
        reduction_uncertainty=None,
        reasons=[_reason(verdict, text, forbids=True)],
        figures={},
        maths_version=MATHS_VERSION,
        input_hash=_hash((before, after), []),
    )


def _outcome(
    sides: tuple[TestSide, TestSide],
    verdict: str,
    reasons: list[dict[str, Any]],
    *,
    book: Book,
    found: Reduction | None,
    shared: float | None = None,
) -> ComparisonOutcome:
    before, after = sides
    figures: dict[str, Any] = {}
    if found is not None:
        figures = {
            "difference": asdict(found.difference),
            "share": asdict(found.share),
            "shared_uncertainty": shared,
        }
    return ComparisonOutcome(
        verdict=verdict,
        before_flow_50=before.figures["flow_50"]["value"],
        after_flow_50=after.figures["flow_50"]["value"],
        reduction=None if found is None else found.share.value,
        reduction_uncertainty=None if found is None else found.share.uncertainty,
        reasons=reasons,
        figures=figures,
        maths_version=MATHS_VERSION,
        input_hash=_hash(sides, book.plain()),
    )


def _hash(sides: Sequence[TestSide | None], rules: Sequence[dict[str, Any]]) -> str:
    plain = [None if side is None else asdict(side) for side in sides]
    return input_hash({"sides": plain, "rules": rules, "maths_version": MATHS_VERSION})
