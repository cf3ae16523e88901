"""Bridge to the formulas for a group of homes: pairs of stored tests in, group figures out."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from agency.errors import ActionRefused
from agency.leakage.errors import LeakageError
from agency.leakage.group import GroupReduction as FormulaResult
from agency.leakage.group import GroupTests
from agency.leakage.group import group_reduction as reduction_of_group
from agency.leakage.line import NORMAL_QUANTILE
from agency.leakage.reduction import Bounded


@dataclass(frozen=True, slots=True, kw_only=True)
class TestShare:
    """One test's error by cause: relative standard uncertainties of its flow at 50 Pa. [-]"""

    __test__ = False

    independent: float
    """All that no other test shares."""
    gauge: float
    gauge_name: str
    """Serial number; empty when it was not recorded."""
    fan: float
    fan_name: str
    """Serial numbers and configurations; empty when they were not all recorded."""

    @classmethod
    def of(
        cls, uncertainty: Mapping[str, Any], instruments: Mapping[str, Any]
    ) -> "TestShare | None":
        """From a stored result's figures; None when they do not say."""
        gauge, fan, other, random, systematic = (
            uncertainty.get(name) for name in ("gauge", "fan", "other", "random", "systematic")
        )
        gauge_name = str(instruments.get("gauge") or "")
        fan_name = _fan_name(instruments)
        if random is None:
            return None
        if gauge is not None and fan is not None and other is not None:
            return cls(
                independent=float(np.hypot(random, other)),
                gauge=gauge,
                gauge_name=gauge_name,
                fan=fan,
                fan_name=fan_name,
            )
        if systematic is None:
            return None
        # Not split by cause: common only to tests with the same gauge, fan and configuration.
        together = f"{gauge_name} | {fan_name}" if gauge_name and fan_name else ""
        return cls(independent=random, gauge=0.0, gauge_name="", fan=systematic, fan_name=together)


def _fan_name(instruments: Mapping[str, Any]) -> str:
    fans, configurations = (
        sorted(instruments.get(name) or []) for name in ("fans", "configurations")
    )
    known = all([*fans, *configurations]) and fans and configurations
    return f"{'+'.join(fans)} {'+'.join(configurations)}" if known else ""


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
        found = [_caused_by(pairs, cause) for cause in ("independent", "gauge", "fan")]
    except LeakageError as refusal:
        raise ActionRefused(f"The pairs of tests cannot be taken together: {refusal}") from refusal
    known = all(pair.before_share and pair.after_share for pair in pairs)
    return GroupReduction(
        mean=_figure([one.mean_share for one in found], known=known),
        pooled=_figure([one.pooled_share for one in found], known=known),
        saved=_figure([one.difference for one in found], known=known),
        flow_before=float(np.sum([pair.before for pair in pairs])),
        flow_after=float(np.sum([pair.after for pair in pairs])),
    )


def _caused_by(pairs: Sequence[HomePair], cause: str) -> FormulaResult:
    """The group's figures with the uncertainty that one cause alone gives them."""
    return reduction_of_group(
        before=_tests(pairs, "before", cause), after=_tests(pairs, "after", cause), percentiles=()
    )


def _tests(pairs: Sequence[HomePair], side: str, cause: str) -> GroupTests:
    shares: list[TestShare | None] = [getattr(pair, f"{side}_share") for pair in pairs]
    # Where a share is missing the uncertainty is withheld in the end, so its zero is never seen.
    sizes = [getattr(share, cause) if share else 0.0 for share in shares]
    names = [getattr(share, f"{cause}_name", "") for share in shares]
    shared = cause != "independent"
    return GroupTests(
        flow=[getattr(pair, side) for pair in pairs],
        random=0.0 if shared else sizes,
        systematic=sizes if shared else 0.0,
        instruments=[
            name or f"{side} of home {number}, not recorded" for number, name in enumerate(names)
        ],
    )


def _figure(found: Sequence[Bounded], *, known: bool) -> GroupFigure:
    """One figure, its causes of error being independent of each other."""
    value = found[0].value
    if not known:
        return GroupFigure(value=value, uncertainty=None, low=None, high=None)
    uncertainty = float(np.linalg.norm([one.uncertainty for one in found]))
    half_width = NORMAL_QUANTILE * uncertainty
    return GroupFigure(
        value=value, uncertainty=uncertainty, low=value - half_width, high=value + half_width
    )
