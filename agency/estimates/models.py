"""Weather years and the savings estimate of one job, stored with all it rests on."""

import uuid

from django.db import models
from django.utils import timezone
from simple_history.models import HistoricalRecords

from agency.diagnostics.models import Comparison
from agency.jobs.models import Job
from agency.programs.models import County

from .bill_studies import (  # noqa: F401  models of this app
    BillAnalysis,
    BillStudy,
    NonRoutineChange,
    ProgramRealization,
)
from .billing import Bill, BillFile, UtilityAccount  # noqa: F401  models of this app
from .daily_weather import DailyWeather, DailyWeatherFile  # noqa: F401  models of this app
from .descriptions import EnergyDescription  # noqa: F401  models of this app
from .measures import Measure  # noqa: F401  models of this app
from .measures_estimates import MeasuresEstimate, PackageRun  # noqa: F401  models of this app


class WeatherStation(models.Model):
    """One typical-year weather file and the counties it stands for."""

    class Format(models.TextChoices):
        EPW = "epw", "EPW"
        TMY3 = "tmy3", "TMY3"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    name = models.CharField(max_length=120)
    format = models.CharField(max_length=4, choices=Format)
    file = models.FileField(upload_to="weather/")
    counties = models.ManyToManyField(County, related_name="weather_stations", blank=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ["name", "id"]

    def __str__(self) -> str:
        return self.name


class SavingsEstimate(models.Model):
    """First-year saving from less air leakage, as a range; modelled, not measured."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="estimates")
    comparison = models.ForeignKey(Comparison, on_delete=models.PROTECT, related_name="+")
    computed_at = models.DateTimeField(default=timezone.now, editable=False)
    method = models.CharField(max_length=120)
    edition = models.CharField(max_length=80)
    maths_version = models.CharField(max_length=20)
    weather = models.CharField(max_length=240, blank=True)
    input_hash = models.CharField(max_length=64)
    inputs = models.JSONField()
    figures = models.JSONField(help_text="Empty when nothing could be estimated.")
    refusals = models.JSONField(default=list, help_text="What is missing, in words.")

    class Meta:
        ordering = ["-computed_at", "-id"]
        constraints = [
            models.UniqueConstraint(fields=["job", "input_hash"], name="estimate_once_an_input")
        ]

    def __str__(self) -> str:
        return f"Savings estimate of {self.job}"
