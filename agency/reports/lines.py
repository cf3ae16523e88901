"""A figure in words with the key that leads to its jobs, and how intervals are said."""

from collections.abc import Sequence
from dataclasses import dataclass
from uuid import UUID

from agency.wording import words

from .figures import Figure


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One figure: its name, its words, its interval, how many homes, and the key of its jobs."""

    key: str
    name: str
    value: str
    interval: str = ""
    homes: str = ""
    jobs: Sequence[UUID] = ()


def percent_interval(figure: Figure) -> str:
    """The interval of a reduction, or in words why there is none."""
    if figure.low is None and figure.without_uncertainty:
        homes = words.count(len(figure.without_uncertainty), "home")
        return f"no interval: {homes} without a stored uncertainty"
    return interval_words(figure.low, figure.high)


def interval_words(low: float | None, high: float | None) -> str:
    """Two ends of a share: "12.3 % to 45.6 %"."""
    if low is None or high is None:
        return words.NOT_MEASURED
    return f"{words.percent(low, 1)} to {words.percent(high, 1)}"
