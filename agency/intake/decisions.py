"""What was decided on an application, frozen: determinations and priority scores."""

import uuid
from datetime import date
from decimal import Decimal

from django.db import models
from django.utils import timezone

from agency.accounts.models import User
from agency.errors import ActionRefused


class Frozen(models.Model):
    """A decision is written once; a later one stands beside it. Only erasure blanks it."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    made_at = models.DateTimeField(default=timezone.now, editable=False)
    made_on = models.DateField()
    made_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    rules_version = models.CharField(
        max_length=64, help_text="Hash of every rule and table it was made by."
    )
    inputs = models.JSONField(help_text="Everything it was made from, as it was that day.")
    lines = models.JSONField(help_text="The arithmetic in words, line by line.")
    erased_at = models.DateTimeField(null=True, editable=False)

    class Meta:
        abstract = True

    def save(self, *args: object, **kwargs: object) -> None:
        """Once."""
        if not self._state.adding:
            raise ActionRefused(f"{self} is frozen. Make a new one instead.")
        super().save(*args, **kwargs)  # type: ignore[arg-type]


class Determination(Frozen):
    """Whether a household was eligible on a day, by which method, table and figures."""

    class Outcome(models.TextChoices):
        ELIGIBLE = "eligible", "Eligible"
        OVER_LIMIT = "over_limit", "Income over the limit"
        DWELLING_BARRED = "dwelling_barred", "Dwelling weatherized too recently"

    application = models.ForeignKey(
        "intake.Application", on_delete=models.PROTECT, related_name="determinations"
    )
    outcome = models.CharField(max_length=16, choices=Outcome)
    method = models.CharField(max_length=16)
    household_size = models.PositiveSmallIntegerField()
    annual_income: "models.DecimalField[Decimal | None, Decimal | None]" = models.DecimalField(
        max_digits=10, decimal_places=2, null=True
    )
    limit: "models.DecimalField[Decimal | None, Decimal | None]" = models.DecimalField(
        max_digits=10, decimal_places=2, null=True
    )
    basis = models.CharField(max_length=160, help_text="What the income was held against.")
    table_version = models.CharField(max_length=160)
    expires_on = models.DateField(help_text="The last day on which work may start by it.")

    class Meta:
        ordering = ["-made_at", "id"]
        indexes = [
            models.Index(fields=["application", "-made_at"], name="determination_newest"),
            models.Index(fields=["outcome", "expires_on"], name="determination_expiry"),
        ]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(expires_on__gt=models.F("made_on")),
                name="determination_days_in_order",
            )
        ]

    def __str__(self) -> str:
        return f"Determination of {self.made_on:%Y-%m-%d}"

    @property
    def is_eligible(self) -> bool:
        """The household may be served by it."""
        return self.outcome == self.Outcome.ELIGIBLE

    def holds_on(self, day: date) -> bool:
        """Whether work may start on that day by it."""
        return self.is_eligible and self.made_on <= day <= self.expires_on


class PriorityScore(Frozen):
    """The points of an application by the rules of a day; the waiting list is sorted by them."""

    application = models.ForeignKey(
        "intake.Application", on_delete=models.PROTECT, related_name="scores"
    )
    points = models.PositiveSmallIntegerField()
    is_emergency = models.BooleanField()
    waiting_since = models.DateField()

    class Meta:
        ordering = ["-made_at", "id"]
        indexes = [
            models.Index(fields=["-is_emergency", "-points", "waiting_since"], name="score_in_rank")
        ]

    def __str__(self) -> str:
        return f"Score of {self.made_on:%Y-%m-%d}"
