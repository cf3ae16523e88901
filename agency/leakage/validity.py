"""Judging a measured number against one criterion of a standard."""

import math
import operator
from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

from agency.leakage.errors import LeakageError

COMPARISONS: dict[str, Callable[[float, float], bool]] = {
    ">=": operator.ge,
    "<=": operator.le,
    ">": operator.gt,
    "<": operator.lt,
    "==": operator.eq,
}
BETWEEN = "between"


class Status(StrEnum):
    """What a criterion says of a test."""

    PASS = "pass"
    ADVISORY = "advisory"
    REJECT = "reject"
    NOT_VERIFIABLE = "not_verifiable"


@dataclass(frozen=True, slots=True, kw_only=True)
class Criterion:
    """One limit: what passes, and what it means when it does not."""

    code: str
    operator: str
    """>=, <=, >, < or == with `limit`; between, both ends included, with `low` and `high`."""
    limit: float | None = None
    low: float | None = None
    high: float | None = None
    unit: str = ""
    rejects: bool
    """True: a miss makes the test invalid; otherwise it is reported beside the result."""

    @property
    def limit_words(self) -> str:
        """The limit as it is written beside a measured value."""
        words = (
            f"{self.low:g} to {self.high:g}"
            if self.operator == BETWEEN
            else f"{self.operator} {self.limit:g}"
        )
        return f"{words} {self.unit}".strip()


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """The answer to one criterion."""

    status: Status
    measured: float | None
    limit: str
    criterion: Criterion


def judge(measured: float | None, criterion: Criterion) -> Verdict:
    """Whether `measured` keeps to `criterion`; unrounded, and None is never a pass.

    Parameters
    ----------
    measured : float or None
        The number in the criterion's unit; None where it was not measured.
    criterion : Criterion
        The limit.
    """
    if measured is None:
        status = Status.NOT_VERIFIABLE
    elif not math.isfinite(measured):
        raise LeakageError(f"{criterion.code}: {measured} is not a finite number.")
    elif _holds(measured, criterion):
        status = Status.PASS
    else:
        status = Status.REJECT if criterion.rejects else Status.ADVISORY
    return Verdict(
        status=status, measured=measured, limit=criterion.limit_words, criterion=criterion
    )


def _holds(measured: float, criterion: Criterion) -> bool:
    if criterion.operator == BETWEEN:
        if criterion.low is None or criterion.high is None:
            raise LeakageError(f"{criterion.code}: between needs both low and high.")
        return criterion.low <= measured <= criterion.high
    compare = COMPARISONS.get(criterion.operator)
    if compare is None or criterion.limit is None:
        raise LeakageError(f"{criterion.code}: {criterion.operator!r} needs a known operator.")
    return compare(measured, criterion.limit)
