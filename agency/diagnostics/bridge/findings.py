"""What a bench test found: figures to be shown, the answer to its question, and what to draw."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field
from enum import StrEnum
from typing import Any

from ..evaluation import Check, Step, Stop


class Answer(StrEnum):
    """The answer to the question a test was made for."""

    FOUND = "found"
    """A figure, with no limit to hold it against."""
    MET = "met"
    MISSED = "missed"
    ACTION = "action"
    """Someone could be hurt: work stops until it is cleared."""
    OPEN = "open"
    """Not everything that decides was measured; never a pass."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """One figure as it is shown. Value and bounds in the SI unit of the quantity."""

    name: str
    quantity: str
    """A key of `wording.words.QUANTITIES`."""
    value: float | None
    """None: not measured, or not determined; `note` says which."""
    low: float | None = None
    high: float | None = None
    note: str = ""

    def as_dict(self) -> dict[str, Any]:
        """The same as plain data."""
        return asdict(self)


@dataclass(frozen=True, slots=True, kw_only=True)
class Findings:
    """What one kind's bridge makes of a document."""

    method: str
    edition: str
    answer: Answer
    words: str
    """The answer in one sentence."""
    shown: Sequence[Shown]
    """The first is the headline."""
    limits: Sequence[Check] = ()
    """Limits held against the figures. They decide the answer, not whether the test is valid."""
    checks: Sequence[Check] = ()
    """Whether the test is valid."""
    steps: Sequence[Step] = ()
    stops: Sequence[Stop] = ()
    drawing: Mapping[str, Any] | None = None
    """`type` bars, curve or schema, with what `office.bench_drawings` needs, in SI."""
    details: Mapping[str, Any] = field(default_factory=dict)
    """Further figures under fixed names, for later tests and reports, in SI."""


def step(
    what: str,
    formula: str,
    value: float | None,
    unit: str,
    *,
    source: tuple[str, str],
    **numbers: Any,
) -> Step:
    """One step of the calculation; `source` is where the formula stands and how that is known."""
    where, provenance = source
    return Step(
        what=what,
        formula=formula,
        numbers={name: _number(one) for name, one in numbers.items()},
        value=value,
        unit=unit,
        source=where,
        provenance=provenance,
    )


def answer_of(limits: Sequence[Check]) -> Answer:
    """What limits held against a figure answer together: one miss decides, a blank never passes."""
    statuses = {one.status for one in limits}
    if statuses & {"advisory", "reject"}:
        return Answer.MISSED
    if "not_verifiable" in statuses:
        return Answer.OPEN
    return Answer.MET if limits else Answer.FOUND


def state_of(limits: Sequence[Check]) -> str:
    """The same as the look of a bar: met, missed or unjudged."""
    return {Answer.MET: "met", Answer.MISSED: "missed"}.get(answer_of(limits), "unjudged")


def spoken(limits: Sequence[Check]) -> str:
    """The limits in words, the missed ones first."""
    if not limits:
        return "The rule book holds no limit for it."
    order = {"reject": 0, "advisory": 1, "not_verifiable": 2}
    ranked = sorted(limits, key=lambda one: order.get(one.status, 3))
    return " ".join(one.message for one in ranked)


def _number(value: Any) -> str:
    return f"{value:.5g}" if isinstance(value, int | float) else str(value)
