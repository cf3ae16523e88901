"""A bench test's figures in words: headline, rows, answer, and the same test across the work."""

from dataclasses import dataclass
from typing import Any, Self

from django.urls import reverse

from agency.diagnostics.models import Result, TestRun
from agency.wording import words

BEFORE = TestRun.Phase.BEFORE


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherSide:
    """The test on the other side of the work, and the difference between the two in words."""

    name: str
    value: str
    difference: str
    url: str
    note: str

    @classmethod
    def of(cls, other: TestRun, *, value: str, difference: str) -> Self:
        """The side that `other` is, with what is said of it."""
        return cls(
            name=words.coded(other.phase),
            value=value,
            difference=difference,
            url=reverse("office:test_run", args=[other.pk]),
            note=words.state(other.review).word.lower(),
        )


def newest_across(run: TestRun) -> TestRun | None:
    """The newest test of this kind and method across the work, an accepted one first."""
    wanted = [TestRun.Phase.AFTER, TestRun.Phase.INSPECTION] if run.phase == BEFORE else [BEFORE]
    candidates = [
        other
        for other in run.job.test_runs.of_kind(run.kind).with_result().filter(phase__in=wanted)
        if other.review != TestRun.Review.RETURNED and other.result is not None
    ]
    if not candidates:
        return None
    return max(candidates, key=lambda one: (one.review == TestRun.Review.ACCEPTED, one.taken_at))


def headline_name(result: Result | None) -> str:
    """What the first figure is."""
    first = _first(result)
    return "Result" if first is None else str(first["name"])


def headline(result: Result | None) -> str:
    """The first figure with its bounds."""
    first = _first(result)
    return words.NOT_MEASURED if first is None else _worded(first)


def rows(result: Result | None) -> list[tuple[str, str]]:
    """Every figure, with its note."""
    if result is None:
        return []
    found = []
    for one in result.figures.get("shown") or []:
        text = _worded(one)
        note = one["note"]
        found.append((one["name"], _with_note(text, note, is_count=one["quantity"] == "number")))
    return found


def answer(result: Result | None) -> str:
    """The answer of the test in one sentence."""
    return "" if result is None else result.figures.get("words") or ""


def other_side(run: TestRun) -> OtherSide | None:
    """The same test across the work, and what changed of its headline."""
    other = newest_across(run)
    mine = _first(run.result)
    theirs = None if other is None else _first(other.result)
    if other is None or mine is None or theirs is None:
        return None
    if other.method != run.method or mine["quantity"] != theirs["quantity"]:
        difference = "by another method; not compared"
    else:
        before, after = (mine, theirs) if run.phase == BEFORE else (theirs, mine)
        difference = _difference(before, after)
    return OtherSide.of(
        other, value=words.figure(theirs["quantity"], theirs), difference=difference
    )


def _with_note(text: str, note: str, *, is_count: bool) -> str:
    if not note:
        return text
    if is_count:
        return f"{text} {note}"
    return f"{text}. {note[:1].upper()}{note[1:].removesuffix('.')}."


def _difference(before: dict[str, Any], after: dict[str, Any]) -> str:
    measure = words.QUANTITIES[before["quantity"]]
    scaled = [
        None if one["value"] is None else one["value"] / measure.one_unit for one in (before, after)
    ]
    return words.difference(*scaled, unit=measure.unit, decimals=measure.decimals)


def _worded(one: dict[str, Any]) -> str:
    """A figure with its bounds; one without a value but with a reason was not left unmeasured."""
    text = words.figure(one["quantity"], one)
    return "no value" if text == words.NOT_MEASURED and one["note"] else text


def _first(result: Result | None) -> dict[str, Any] | None:
    return None if result is None else result.headline
