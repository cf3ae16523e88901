"""How much less a house leaks after the work, and how sure that is."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import exp, sqrt

from agency.leakage.errors import OutOfRange
from agency.leakage.line import NORMAL_QUANTILE
from agency.leakage.ranges import above


class Verdict(StrEnum):
    """What a comparison of two tests shows."""

    DETECTABLE = "detectable"
    NOT_DETECTABLE = "not_detectable"
    NOT_COMPARABLE = "not_comparable"


@dataclass(frozen=True, slots=True, kw_only=True)
class ErrorPart:
    """One cause of error in both tests: relative standard uncertainties. [-]"""

    name: str
    before: float
    after: float
    correlation: float
    """1 where one error touches both tests alike, 0 where each has its own. [-]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bounded:
    """A figure, its standard uncertainty and its 95 % interval."""

    value: float
    uncertainty: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Reduction:
    """Before against after; negative where the house leaks more after the work."""

    difference: Bounded
    """In the unit of the flows."""
    share: Bounded
    """Of what it was before: 0.3 for 30 %. [-]"""
    verdict: Verdict
    reasons: tuple[str, ...]
    """Why the tests cannot be compared; empty where they can."""


def reduction(
    *,
    before: float,
    after: float,
    parts: Sequence[ErrorPart],
    detectable_factor: float,
    reasons: Sequence[str],
) -> Reduction:
    r"""Reduction of a flow as a difference and as a share of what it was.

    .. math::
        D = A - B,\quad
        u^2(D) = \sum_k (A u_{A,k})^2 + (B u_{B,k})^2 - 2 \rho_k A B u_{A,k} u_{B,k}

        R = 1 - \frac{B}{A},\quad
        u^2(R) = \left(\frac{B}{A}\right)^2 \sum_k u_{A,k}^2 + u_{B,k}^2 - 2 \rho_k u_{A,k} u_{B,k}

    Parameters
    ----------
    before, after : float
        Flows A and B at one reference pressure, unrounded, more than 0; one unit for both.
    parts : sequence of ErrorPart
        Causes of error, independent of each other.
    detectable_factor : float
        A reduction is shown when R exceeds this many u(R). [-]
    reasons : sequence of str
        Why the tests cannot be compared, in words; any makes the verdict so.

    Returns
    -------
    Reduction
        The figures are given whatever the verdict. The interval of the share is that of B/A taken
        as lognormal, so it is lopsided.

    Raises
    ------
    LeakageError
        A flow of 0 or less, a negative uncertainty, or a correlation beyond ± 1.

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), 5.2.2 (from memory), applied (derived). A common error of both
       tests cancels in the share and not in the difference.
    """
    above("Flow before the work", before, low=0, unit="")
    above("Flow after the work", after, low=0, unit="")
    _refuse_wrong_parts(parts)
    ratio = after / before
    u_difference = sqrt(sum(_square(before * p.before, after * p.after, p) for p in parts))
    u_log_ratio = sqrt(sum(_square(p.before, p.after, p) for p in parts))
    share = 1 - ratio
    u_share = ratio * u_log_ratio
    return Reduction(
        difference=Bounded(
            value=before - after,
            uncertainty=u_difference,
            low=before - after - NORMAL_QUANTILE * u_difference,
            high=before - after + NORMAL_QUANTILE * u_difference,
        ),
        share=Bounded(
            value=share,
            uncertainty=u_share,
            low=1 - ratio * exp(NORMAL_QUANTILE * u_log_ratio),
            high=1 - ratio * exp(-NORMAL_QUANTILE * u_log_ratio),
        ),
        verdict=_verdict(share, limit=detectable_factor * u_share, reasons=reasons),
        reasons=tuple(reasons),
    )


def _verdict(share: float, *, limit: float, reasons: Sequence[str]) -> Verdict:
    if reasons:
        return Verdict.NOT_COMPARABLE
    return Verdict.DETECTABLE if share > limit else Verdict.NOT_DETECTABLE


def _square(before: float, after: float, part: ErrorPart) -> float:
    # As a sum of squares, so that a common error cancels without rounding below zero.
    alone = (1 - part.correlation) * (before**2 + after**2)
    return alone + part.correlation * (before - after) ** 2


def _refuse_wrong_parts(parts: Sequence[ErrorPart]) -> None:
    for part in parts:
        smaller = min(part.before, part.after)
        if not smaller >= 0:
            raise OutOfRange(
                quantity=f"Standard uncertainty of {part.name}",
                value=smaller,
                limit="0 or more",
                next_step="Give its size, without a sign.",
            )
        if not -1 <= part.correlation <= 1:
            raise OutOfRange(
                quantity=f"Correlation of {part.name}",
                value=part.correlation,
                limit="from -1 to 1",
                next_step="Give 1 for a common error and 0 for independent ones.",
            )
