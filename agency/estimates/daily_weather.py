"""The weather that was: daily mean temperatures of a station, with every gap named."""

import uuid
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from django.db import models
from django.utils import timezone

from agency.accounts.models import User

from .billing import KeptFile

LOWEST, HIGHEST = -70.0, 60.0
"""Daily means outside it are slips of a unit. [°C]  The range a weather file is held to, less the
heat of single hours."""


class DailyWeatherFile(KeptFile):
    """Daily means of one station as they came."""

    station = models.ForeignKey(
        "WeatherStation", on_delete=models.PROTECT, related_name="day_files"
    )
    content = models.BinaryField(editable=False)

    class Meta(KeptFile.Meta):
        pass


class DailyWeather(models.Model):
    """Mean outdoor temperature of one day; a day without a row is not known and never filled."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    station = models.ForeignKey("WeatherStation", on_delete=models.PROTECT, related_name="days")
    day = models.DateField()
    mean = models.FloatField(help_text="°C.")
    file = models.ForeignKey(
        DailyWeatherFile, on_delete=models.PROTECT, null=True, blank=True, related_name="days"
    )
    typed_by = models.ForeignKey(
        User, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    known_at = models.DateTimeField(default=timezone.now, editable=False)

    class Meta:
        ordering = ["station", "day"]
        constraints = [
            models.UniqueConstraint(fields=["station", "day"], name="daily_weather_once_a_day"),
            models.CheckConstraint(
                condition=models.Q(mean__gte=LOWEST, mean__lte=HIGHEST),
                name="daily_weather_plausible",
            ),
            models.CheckConstraint(
                condition=models.Q(file=None) ^ models.Q(typed_by=None),
                name="daily_weather_of_a_file_or_a_person",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.station}, {self.day:%Y-%m-%d}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """Days in a row that are not known."""

    first: date
    last: date

    @property
    def days(self) -> int:
        """How many."""
        return (self.last - self.first).days + 1

    def __str__(self) -> str:
        if self.first == self.last:
            return self.first.isoformat()
        return f"{self.first.isoformat()} to {self.last.isoformat()}"


def gaps_in(known: Iterable[date], *, first: date, last: date) -> list[Gap]:
    """Every gap among the days from `first` to `last`, both included."""
    one = timedelta(days=1)
    gaps, expected = [], first
    for day in sorted({day for day in known if first <= day <= last} | {last + one}):
        if day > expected:
            gaps.append(Gap(first=expected, last=day - one))
        expected = day + one
    return gaps
