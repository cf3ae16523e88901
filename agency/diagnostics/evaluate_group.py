"""Bridge to the formulas for a group of homes: pairs of stored tests in, group figures out."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from agency.errors import ActionRefused
from agency.leakage.errors import LeakageError
from agency.leakage.group import GroupTests
from agency.leakage.group import group_reduction as reduction_of_group
from agency.leakage.reduction import Bounded


@dataclass(frozen=True, slots=True, kw_only=True)
class TestShare:
    """What is known of one test's error: relative standard uncertainties of its flow."""

    __test__ = False

    random: float
    systematic: float
    instruments: str
    """Gauge, fans and configurations as one name; empty when they were not all recorded."""

    @classmethod
    def of(cls, *, systematic: float, random: float, instruments: Mapping[str, Any]) -> "TestShare":
        """From a stored result's figures; an unrecorded instrument is shared with nobody."""
        parts = [
            [instruments.get("gauge") or ""],
            sorted(instruments.get("fans") or []),
            sorted(instruments.get("configurations") or []),
        ]
        known = all(part and all(part) for part in parts)
        name = " | ".join("+".join(part) for part in parts) if known else ""
        return cls(random=random, systematic=systematic, instruments=name)


@dataclass(frozen=True, slots=True, kw_only=True)
class HomePair:
    """One home's flows before and after the work. [m³/s] None: no uncertainty is stored."""

    before: float
    after: float
    before_share: TestShare | None
    after_share: TestShare | None


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupFigure:
    """A figure of the group; its uncertainty is None when one home's is not known."""

    value: float
    uncertainty: float | None
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupReduction:
    """The reductions of all homes together, as shares of the flow before."""

    mean: GroupFigure
    """Of the homes' own reductions."""
    pooled: GroupFigure
    """All flow saved over all flow before."""
    saved: GroupFigure
    """All flow saved. [m³/s]"""
    flow_before: float
    flow_after: float
    """Sums over the homes. [m³/s]"""


def group_reduction(pairs: Sequence[HomePair]) -> GroupReduction | None:
    """Figures of the group, errors of shared instruments kept together; None without a home."""
    if not pairs:
        return None
    try:
        found = reduction_of_group(
            before=_tests(pairs, "before"), after=_tests(pairs, "after"), percentiles=()
        )
    except LeakageError as refusal:
        raise ActionRefused(f"The pairs of tests cannot be taken together: {refusal}") from refusal
    known = all(pair.before_share and pair.after_share for pair in pairs)
    return GroupReduction(
        mean=_figure(found.mean_share, known=known),
        pooled=_figure(found.pooled_share, known=known),
        saved=_figure(found.difference, known=known),
        flow_before=float(np.sum([pair.before for pair in pairs])),
        flow_after=float(np.sum([pair.after for pair in pairs])),
    )


def _tests(pairs: Sequence[HomePair], side: str) -> GroupTests:
    shares: list[TestShare | None] = [getattr(pair, f"{side}_share") for pair in pairs]
    return GroupTests(
        flow=[getattr(pair, side) for pair in pairs],
        # Where one is missing the group's uncertainty is withheld, so the zero is never seen.
        random=[share.random if share else 0.0 for share in shares],
        systematic=[share.systematic if share else 0.0 for share in shares],
        instruments=[
            share.instruments if share and share.instruments else f"{side} of home {number}"
            for number, share in enumerate(shares)
        ],
    )


def _figure(found: Bounded, *, known: bool) -> GroupFigure:
    return GroupFigure(
        value=found.value,
        uncertainty=found.uncertainty if known else None,
        low=found.low if known else None,
        high=found.high if known else None,
    )
