"""What a saving measured by bills is made from, and what comes out of it, as plain data."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from agency.rulebook.shipped import RuleLike


@dataclass(frozen=True, slots=True, kw_only=True)
class BillInput:
    """One stored bill."""

    start: date
    end: date
    """No longer counted."""
    energy: float
    """[J]"""
    estimated: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class DailyMeans:
    """Actual daily mean temperatures of one station; None: not known."""

    station: str
    first_day: date
    means: tuple[float | None, ...]
    """[°C]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class NormalYear:
    """Daily means of the typical year both models are put on."""

    station: str
    kind: str
    sha256: str
    means: tuple[float, ...]
    """[°C]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class BillInputs:
    """All that a measured saving rests on."""

    fuel: str
    model: str
    bills: tuple[BillInput, ...]
    work_started_on: date | None
    work_ended_on: date | None
    weather: DailyMeans | None
    normal: NormalYear | None
    no_normal_because: str
    rules: Mapping[str, RuleLike]
    """Every rule of the bills in force, by code."""

    def setting(self, code: str) -> float:
        """The number of a rule."""
        limit = self.rules[code].limit
        assert limit is not None
        return limit


@dataclass(frozen=True, slots=True, kw_only=True)
class BillOutcome:
    """One analysis, ready to be stored as a row."""

    method: str
    edition: str
    maths_version: str
    weather: str
    inputs: dict[str, Any]
    input_hash: str
    figures: dict[str, Any]
    refusals: list[str] = field(default_factory=list)
    checks: list[dict[str, Any]] = field(default_factory=list)


@dataclass(frozen=True, slots=True, kw_only=True)
class HomeSaving:
    """One home's saving of one fuel, predicted and measured."""

    job: str
    number: str
    fuel: str
    predicted: float
    """[MMBtu]"""
    measured: float
    """[MMBtu]"""
    low: float
    high: float
    estimate: str
    analysis: str
    """Which stored rows they were read from."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOut:
    """A home that has bills but does not count, and why."""

    job: str
    number: str
    fuel: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RealizationInputs:
    """All that a realization rate rests on."""

    program: str
    homes: tuple[HomeSaving, ...]
    left_out: tuple[LeftOut, ...]
    confidence: float
    trials: int
