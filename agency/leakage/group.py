"""Reduction of many houses together, with errors of instruments shared between them."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from agency.leakage.errors import ShapeMismatch, TooFewPoints
from agency.leakage.line import NORMAL_QUANTILE
from agency.leakage.ranges import Array, above
from agency.leakage.reduction import Bounded


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupTests:
    """One result before and one after the work for each of H houses; shape (H,)."""

    flow: ArrayLike
    """[any one unit of flow]"""
    random: ArrayLike
    """Relative standard uncertainty, independent for each test. [-]"""
    systematic: ArrayLike
    """Relative standard uncertainty common to all tests with the same instruments. [-]"""
    instruments: Sequence[str]
    """What the systematic error belongs to: gauge, fan and configuration as one name."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupReduction:
    """Reduction of a group. Shares are of 1: 0.3 for 30 %."""

    houses: int
    difference: Bounded
    """Sum over the houses, in the unit of the flows."""
    pooled_share: Bounded
    """Sum of the differences over the sum before."""
    mean_share: Bounded
    """Mean of the houses' own shares; its uncertainty is that of measuring these houses."""
    percentiles: dict[float, float]
    """Of the houses' own shares; 50 is the median."""


def group_reduction(
    *, before: GroupTests, after: GroupTests, percentiles: Sequence[float]
) -> GroupReduction:
    r"""Sum, ratio of sums, mean and percentiles of the reduction of many houses.

    .. math::
        u^2 = \sum_t (c_t Q_t r_t)^2 + \sum_k \Big(\sum_{t \in k} c_t Q_t s_t\Big)^2

    with :math:`c_t` the derivative of the figure by the flow of test t, and k the instruments.

    Parameters
    ----------
    before, after : GroupTests
        In the same order of houses.
    percentiles : sequence of float
        Which to give, 0 to 100; linear between houses.

    Returns
    -------
    GroupReduction
        Intervals are 95 %, value ± 1.96 u.

    Raises
    ------
    LeakageError
        No house, arrays of different length, or a flow of 0 or less.

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), 5.1.2 and 5.2 (from memory), applied (derived). Linear percentiles
       are numpy's default, definition 7 of Hyndman and Fan, 1996 (from memory).
    """
    old, new = _flows(before, after)
    houses = old.size
    ratio = new / old
    total_before, total_after = float(old.sum()), float(new.sum())
    pooled = total_after / total_before
    shares = 1 - ratio
    error = _Errors(before=before, after=after, old=old, new=new)
    ones = np.ones(houses)
    return GroupReduction(
        houses=houses,
        difference=_bounded(total_before - total_after, error.of(ones, -ones)),
        pooled_share=_bounded(
            1 - pooled, error.of(ones * pooled / total_before, -ones / total_before)
        ),
        mean_share=_bounded(
            float(shares.mean()), error.of(ratio / old / houses, -1 / old / houses)
        ),
        percentiles={
            p: float(value)
            for p, value in zip(percentiles, np.percentile(shares, percentiles), strict=True)
        },
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Errors:
    """Carries the errors of all tests into one figure."""

    before: GroupTests
    after: GroupTests
    old: Array
    new: Array

    def of(self, by_before: Array, by_after: Array) -> float:
        """Standard uncertainty of a figure with these derivatives by each flow."""
        effect = np.concatenate([by_before * self.old, by_after * self.new])
        random = effect * _both(self.before.random, self.after.random, self.old.size)
        common = effect * _both(self.before.systematic, self.after.systematic, self.old.size)
        names = [*self.before.instruments, *self.after.instruments]
        _, place = np.unique(names, return_inverse=True)
        return float(np.sqrt(np.sum(random**2) + np.sum(np.bincount(place, common) ** 2)))


def _flows(before: GroupTests, after: GroupTests) -> tuple[Array, Array]:
    old = np.atleast_1d(above("Flow before the work", before.flow, low=0, unit=""))
    new = np.atleast_1d(above("Flow after the work", after.flow, low=0, unit=""))
    if old.size == 0:
        raise TooFewPoints(
            quantity="Number of houses",
            value=0,
            limit="at least 1",
            next_step="Choose a period in which tests before and after were accepted.",
        )
    counts = (old.size, new.size, len(before.instruments), len(after.instruments))
    if len(set(counts)) > 1:
        raise ShapeMismatch(
            quantity="Number of flows and instruments before and after",
            value=", ".join(map(str, counts)),
            limit="the same for all",
            next_step="Give one test before and one after for each house.",
        )
    return old, new


def _both(before: ArrayLike, after: ArrayLike, houses: int) -> Array:
    shape = (houses,)
    return np.concatenate(
        [np.broadcast_to(np.asarray(u, np.float64), shape) for u in (before, after)]
    )


def _bounded(value: float, uncertainty: float) -> Bounded:
    half = NORMAL_QUANTILE * uncertainty
    return Bounded(value=value, uncertainty=uncertainty, low=value - half, high=value + half)
