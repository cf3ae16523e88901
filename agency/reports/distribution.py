"""How the reductions of a group of homes are spread: order statistics and fixed bins."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final
from uuid import UUID

import numpy as np

FEWEST = 5
"""Below this many homes only their number is told. Common practice, no source."""
BIN_EDGES = (0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6)
"""Lower edges of the bins after the first. [share of the flow before]"""
BIN_DIGITS = 9
PERCENTILE_METHOD: Final = "linear"


@dataclass(frozen=True, slots=True, kw_only=True)
class Distribution:
    """Order statistics of the reductions; only `n` when there are fewer than five."""

    n: int
    mean: float | None = None
    standard_deviation: float | None = None
    """Of the sample, divisor n - 1."""
    minimum: float | None = None
    p10: float | None = None
    p25: float | None = None
    median: float | None = None
    p75: float | None = None
    p90: float | None = None
    maximum: float | None = None
    jobs: tuple[UUID, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Bin:
    """The homes whose reduction is at least `low` and below `high`; None is open."""

    label: str
    low: float | None
    high: float | None
    jobs: tuple[UUID, ...]

    @property
    def n(self) -> int:
        return len(self.jobs)

    @property
    def short(self) -> str:
        """Fits under a bar: "below 0 %", "10 to 20 %", "from 60 %"."""
        low, high = (
            None if edge is None else f"{100 * edge:.0f}" for edge in (self.low, self.high)
        )
        if low is None:
            return f"below {high} %"
        return f"from {low} %" if high is None else f"{low} to {high} %"


def distribution_of(reductions: Sequence[tuple[UUID, float]]) -> Distribution:
    """Order statistics of (job, reduction); percentiles are interpolated linearly."""
    jobs = tuple(job for job, _ in reductions)
    if len(reductions) < FEWEST:
        return Distribution(n=len(reductions), jobs=jobs)
    values = np.array([reduction for _, reduction in reductions])
    percentiles = np.percentile(values, [0, 10, 25, 50, 75, 90, 100], method=PERCENTILE_METHOD)
    minimum, p10, p25, median, p75, p90, maximum = (float(value) for value in percentiles)
    return Distribution(
        n=len(reductions),
        mean=float(values.mean()),
        standard_deviation=float(values.std(ddof=1)),
        minimum=minimum,
        p10=p10,
        p25=p25,
        median=median,
        p75=p75,
        p90=p90,
        maximum=maximum,
        jobs=jobs,
    )


def bins_of(reductions: Sequence[tuple[UUID, float]]) -> tuple[Bin, ...]:
    """Every bin, the empty ones too, in order."""
    lows: list[float | None] = [None, *BIN_EDGES]
    highs: list[float | None] = [*BIN_EDGES, None]
    return tuple(
        Bin(
            label=_label(low, high),
            low=low,
            high=high,
            jobs=tuple(job for job, value in reductions if _lies_in(value, low, high)),
        )
        for low, high in zip(lows, highs, strict=True)
    )


def _lies_in(value: float, low: float | None, high: float | None) -> bool:
    # 1 - 900 / 1000 is a hair below 0.1 in binary, yet it is a reduction of 10 %.
    exact = round(value, BIN_DIGITS)
    return (low is None or exact >= low) and (high is None or exact < high)


def _label(low: float | None, high: float | None) -> str:
    if low is None:
        return "below 0 %, leakier"
    if high is None:
        return f"{low:.0%} or more".replace("%", " %")
    return f"{round(100 * low)} to under {round(100 * high)} %"
