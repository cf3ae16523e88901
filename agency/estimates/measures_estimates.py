"""Stored estimates of measures, and what a budget buys of them."""

import uuid
from decimal import Decimal
from typing import TYPE_CHECKING

from django.core.validators import MinValueValidator
from django.db import models
from django.utils import timezone

from agency.accounts.models import User
from agency.jobs.models import Job

if TYPE_CHECKING:
    from .models import WeatherStation  # noqa: F401  named in a field below


class MeasuresEstimateQuerySet(models.QuerySet["MeasuresEstimate"]):
    """Questions about estimates of measures."""

    def visible_to(self, user: User) -> "MeasuresEstimateQuerySet":
        """Desk staff see every estimate, a crew member those of the own crew's jobs."""
        if user.works_at_desk:
            return self
        return self.filter(job__crew__members__user=user)


class MeasuresEstimate(models.Model):
    """What the measures of a job save, step by step, as ranges; modelled, not measured."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="measures_estimates")
    station = models.ForeignKey(
        "WeatherStation", on_delete=models.PROTECT, null=True, related_name="+"
    )
    computed_at = models.DateTimeField(default=timezone.now, editable=False)
    method = models.CharField(max_length=200)
    edition = models.CharField(max_length=80)
    maths_version = models.CharField(max_length=20)
    weather = models.CharField(max_length=240, blank=True)
    input_hash = models.CharField(max_length=64)
    inputs = models.JSONField()
    figures = models.JSONField(help_text="Empty when nothing could be estimated.")
    refusals = models.JSONField(default=list, help_text="What is missing, in words.")

    objects = MeasuresEstimateQuerySet.as_manager()

    class Meta:
        ordering = ["-computed_at", "-id"]
        constraints = [
            models.UniqueConstraint(
                fields=["job", "input_hash"], name="measures_estimate_once_an_input"
            )
        ]

    def __str__(self) -> str:
        return f"Estimate of measures of {self.job}"


class PackageRun(models.Model):
    """What one budget buys of one estimate's measures; blank until a worker has chosen."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    estimate = models.ForeignKey(
        MeasuresEstimate, on_delete=models.PROTECT, related_name="package_runs"
    )
    budget: "models.DecimalField[Decimal, Decimal]" = models.DecimalField(
        max_digits=10, decimal_places=2, validators=[MinValueValidator(0)]
    )
    asked_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    asked_at = models.DateTimeField(default=timezone.now, editable=False)
    computed_at = models.DateTimeField(null=True)
    maths_version = models.CharField(max_length=20, blank=True)
    input_hash = models.CharField(max_length=64, blank=True)
    figures = models.JSONField(default=dict)
    refusals = models.JSONField(default=list)

    class Meta:
        ordering = ["-asked_at", "-id"]
        constraints = [
            models.UniqueConstraint(fields=["estimate", "budget"], name="package_once_a_budget"),
            models.CheckConstraint(
                condition=models.Q(budget__gte=0), name="package_budget_not_negative"
            ),
        ]

    def __str__(self) -> str:
        return f"What ${self.budget:,.2f} buys of {self.estimate.job}"
