"""Readings of two channels less their baselines, along the way the fan drives the air."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from agency.leakage.fan_flow import Direction
from agency.leakage.reading_errors import (
    effective_samples,
    from_range,
    of_average,
    rectangular,
)
from agency.leakage.zones import ONE_SIDED_QUANTILE

from ..evaluation import Check
from .bench import Bench
from .visit_checks import sign_check


@dataclass(frozen=True, slots=True, kw_only=True)
class Drop:
    """Induced pressure of one reading, above 0 along the fan's way, with its uncertainty. [Pa]"""

    size: float
    u: float
    checks: Sequence[Check] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Channel:
    """One channel of the gauge over the states of a test."""

    bench: Bench
    label: str
    baselines: Sequence[float]
    """As read, fan off and sealed; none where none was recorded. [Pa]"""

    @property
    def sign(self) -> int:
        """Of a reading along the fan's way."""
        return Direction(self.bench.document.direction).sign

    @property
    def _subtracted(self) -> bool:
        gauge = self.bench.sent.gauge
        return gauge is not None and gauge.baseline_subtracted

    @property
    def zero(self) -> float:
        """What is taken off each reading. [Pa]"""
        if self._subtracted or not self.baselines:
            return 0.0
        return sum(self.baselines) / len(self.baselines)

    @property
    def u_zero(self) -> float:
        """Its standard uncertainty: the drift seen, or what the rule book foresees. [Pa]"""
        book = self.bench.book
        if self._subtracted:
            return float(rectangular(book.setting("uncertainty.baseline-subtracted")))
        if not self.baselines:
            return float(rectangular(book.setting("uncertainty.baseline-missing")))
        return float(from_range(lowest=min(self.baselines), highest=max(self.baselines)))

    def drop(
        self,
        reading: float,
        *,
        field: str,
        deviation: float | None = None,
        seconds: float | None = None,
    ) -> Drop:
        """The reading's induced pressure; a sign the hook-up card does not expect is a question.

        Until that is answered the size counts, as if the sides were swapped; a value that someone
        stands for counts as it was sent.
        """
        book = self.bench.book
        along = self.sign * (reading - self.zero)
        u = math.hypot(
            self.bench.u_pressure(reading), self.u_zero, self._u_wind(deviation, seconds)
        )
        # Nearer to 0 the sign is noise: the drop's upper bound is still on the expected side.
        told = along < -ONE_SIDED_QUANTILE * u
        checks = sign_check(
            book,
            self.sign * along if told else 0.0,
            sign=self.sign,
            field=field,
            label=f"{self.label}, baseline taken off,",
        )
        turned = any(not one.confirmed for one in checks)
        return Drop(size=-along if turned else along, u=u, checks=checks)

    def _u_wind(self, deviation: float | None, seconds: float | None) -> float:
        """Of a mean of a fluttering pressure; one reading where no time was written down. [Pa]"""
        if deviation is None:
            return 0.0
        effective = 1.0
        if seconds is not None:
            alike = self.bench.book.setting("uncertainty.correlation-time")
            # A time average is no finer than its flutter, however often the gauge samples.
            effective = effective_samples(
                samples=math.ceil(seconds), duration=seconds, correlation_time=alike
            )
        return float(of_average(deviation=deviation, effective=effective))

    def baseline_checks(self, field: str) -> list[Check]:
        """Whether there was a baseline, and whether it stayed."""
        if self._subtracted:
            return []
        count = len(self.baselines)
        found = self.bench.book.complaint(
            "reading.baseline-missing",
            float(count),
            field=field,
            message=f"{self.label}: no baseline was recorded.",
        )
        if count > 1:
            drift = max(self.baselines) - min(self.baselines)
            found += self.bench.book.complaint(
                "zone.baseline-drift",
                drift,
                field=field,
                message=f"{self.label}: the baseline drifted by {drift:.1f} Pa.",
            )
        return found


def recorded(values: Sequence[float | None]) -> list[float]:
    """Those that were measured."""
    return [one for one in values if one is not None]
