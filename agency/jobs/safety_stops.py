"""Safety stops: hazards found on jobs, acknowledged by name, cleared by someone else."""

import uuid
from datetime import datetime

from django.db import models
from django.utils import timezone
from simple_history.models import HistoricalRecords

from agency.accounts.models import User
from agency.errors import ActionRefused

from .querysets import SafetyStopQuerySet


class SafetyStop(models.Model):
    """A hazard found on a job: work rests until someone who did not do it says it may go on."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    job = models.ForeignKey("jobs.Job", on_delete=models.PROTECT, related_name="safety_stops")
    raised_at = models.DateTimeField(default=timezone.now, editable=False)
    hazard = models.CharField(max_length=60, help_text="Code of the hazard.")
    words = models.TextField(help_text="What was found, with value and limit.")
    steps = models.JSONField(default=list, help_text="What to do, one sentence a step.")
    cautions = models.TextField(help_text="Who decides: local code and licensed practice.")
    source = models.UUIDField(
        null=True, blank=True, help_text="The test run it came from; empty when it came from none."
    )
    acknowledged_name = models.CharField(max_length=160, blank=True)
    acknowledged_by = models.ForeignKey(
        User, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    acknowledged_at = models.DateTimeField(
        null=True, blank=True, help_text="By the clock of the phone it was acknowledged on."
    )
    cleared_by = models.ForeignKey(
        User, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    cleared_at = models.DateTimeField(null=True, blank=True)
    cleared_reason = models.TextField(blank=True)
    history = HistoricalRecords()

    objects = SafetyStopQuerySet.as_manager()

    class Meta:
        ordering = ["-raised_at", "id"]
        indexes = [models.Index(fields=["cleared_at", "raised_at"], name="stop_oldest_open")]
        constraints = [
            models.UniqueConstraint(fields=["job", "source", "hazard"], name="stop_once_a_source"),
            # Databases hold two empty sources for different ones.
            models.UniqueConstraint(
                fields=["job", "hazard"],
                condition=models.Q(source=None, cleared_at=None),
                name="stop_once_while_open",
            ),
            models.CheckConstraint(
                condition=models.Q(acknowledged_at=None, acknowledged_by=None, acknowledged_name="")
                | models.Q(acknowledged_at__isnull=False, acknowledged_by__isnull=False)
                & ~models.Q(acknowledged_name=""),
                name="stop_acknowledged_by_name",
            ),
            models.CheckConstraint(
                condition=models.Q(cleared_at=None, cleared_by=None, cleared_reason="")
                | models.Q(
                    cleared_at__isnull=False,
                    cleared_by__isnull=False,
                    acknowledged_at__isnull=False,
                )
                & ~models.Q(cleared_reason=""),
                name="stop_cleared_with_reason_once_acknowledged",
            ),
        ]

    def __str__(self) -> str:
        return f"Safety stop on {self.job}"

    @property
    def is_open(self) -> bool:
        """Not cleared yet."""
        return self.cleared_at is None

    @property
    def is_acknowledged(self) -> bool:
        """Someone has said by name that it was read."""
        return self.acknowledged_at is not None

    def acknowledge(self, by: User, name: str, at: datetime | None = None) -> None:
        """Write down who has read it; the same name again changes nothing."""
        name = " ".join(name.split())
        if not name:
            raise ActionRefused(f"{self} needs a name. Type who has read it.")
        if at is not None and timezone.is_naive(at):
            raise ActionRefused(f"{self} cannot be acknowledged at {at}. Send the time's zone too.")
        if self.is_acknowledged:
            if name == self.acknowledged_name:
                return
            raise ActionRefused(
                f"{self} is acknowledged by {self.acknowledged_name} already. "
                f"It does not need {name} as well."
            )
        self.acknowledged_name, self.acknowledged_by = name, by
        self.acknowledged_at = at or timezone.now()
        self.save(update_fields=["acknowledged_name", "acknowledged_by", "acknowledged_at"])

    def clear(self, by: User, reason: str) -> None:
        """Let the work go on; never by those whose work was stopped."""
        self._refuse_to_be_cleared_by(by)
        reason = reason.strip()
        if not reason:
            raise ActionRefused(
                f"{self} needs a reason to be cleared. Write what was found and put right."
            )
        self.cleared_by, self.cleared_at, self.cleared_reason = by, timezone.now(), reason
        self.save(update_fields=["cleared_by", "cleared_at", "cleared_reason"])

    def _refuse_to_be_cleared_by(self, by: User) -> None:
        if not self.is_open:
            raise ActionRefused(f"{self} is cleared already, by {self.cleared_by}.")
        if not by.may_clear_stops:
            role = by.get_role_display().lower()
            raise ActionRefused(
                f"{self} is cleared by an inspector or manager only. You are {by}, {role}."
            )
        if self.job.was_worked_by(by):
            raise ActionRefused(
                f"{self} cannot be cleared by {by}, whose crew has worked on this job. "
                "Ask an inspector or manager who has not."
            )
        if not self.is_acknowledged:
            raise ActionRefused(
                f"{self} is not acknowledged yet. Whoever was at the house acknowledges it by "
                "name first."
            )
