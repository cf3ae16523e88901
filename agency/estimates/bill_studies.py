"""Savings measured by bills: what was asked, what came out, and what a programme realized."""

import uuid
from datetime import date
from typing import Any, Self

from django.db import models
from django.db.models import Q
from django.utils import timezone
from simple_history.models import HistoricalRecords

from agency.accounts.models import User
from agency.errors import ActionRefused
from agency.jobs.models import Job
from agency.programs.models import Program

from .billing import UtilityAccount


class BillStudyQuerySet(models.QuerySet["BillStudy"]):
    """Questions about studies."""

    def visible_to(self, user: User) -> Self:
        """Bills are for the desk; a crew sees none, not even of its own jobs."""
        return self if user.works_at_desk else self.none()


class BillStudy(models.Model):
    """The bills of one account before a job's work against those after it."""

    class Model(models.TextChoices):
        HEATING = "3P heating", "Heating (3 parameters)"
        COOLING = "3P cooling", "Cooling (3 parameters)"
        BOTH = "5P", "Heating and cooling (5 parameters)"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="bill_studies")
    account = models.ForeignKey(UtilityAccount, on_delete=models.PROTECT, related_name="studies")
    model = models.CharField(max_length=12, choices=Model)
    asked_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    asked_at = models.DateTimeField(default=timezone.now, editable=False)
    history = HistoricalRecords()

    objects = BillStudyQuerySet.as_manager()

    class Meta:
        ordering = ["job", "account__fuel"]
        verbose_name_plural = "bill studies"
        constraints = [
            models.UniqueConstraint(fields=["job", "account"], name="study_once_a_job_and_account")
        ]

    def __str__(self) -> str:
        return f"Bills of {self.job}, {self.account.get_fuel_display().lower()}"


class BillAnalysis(models.Model):
    """One measured saving, or why none can be told, with all it rests on; never changed."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    study = models.ForeignKey(BillStudy, on_delete=models.PROTECT, related_name="analyses")
    computed_at = models.DateTimeField(default=timezone.now, editable=False)
    last_found_at = models.DateTimeField(
        default=timezone.now, editable=False, help_text="When its inputs were last in force."
    )
    method = models.CharField(max_length=120)
    edition = models.CharField(max_length=160)
    maths_version = models.CharField(max_length=20)
    weather = models.CharField(max_length=240, blank=True)
    input_hash = models.CharField(max_length=64)
    inputs = models.JSONField()
    figures = models.JSONField(help_text="Empty when nothing could be fitted.")
    refusals = models.JSONField(default=list, help_text="Why there is no saving, in words.")
    checks = models.JSONField(default=list, help_text="Each rule held against the fits.")

    class Meta:
        ordering = ["-last_found_at", "-id"]
        verbose_name_plural = "bill analyses"
        constraints = [
            models.UniqueConstraint(fields=["study", "input_hash"], name="analysis_once_an_input")
        ]

    def __str__(self) -> str:
        return f"{self.study}, {self.computed_at:%Y-%m-%d}"

    @property
    def saving(self) -> dict[str, Any] | None:
        """The measured saving with its range; None when none can be told."""
        return (self.figures or {}).get("saving")

    @property
    def unmet(self) -> list[str]:
        """In words, every rule the fits do not keep that forbids to count them."""
        return [one["message"] for one in self.checks if one["status"] == "reject"]


class NonRoutineChange(models.Model):
    """Something besides the work that changed what a house uses; never corrected for."""

    class Kind(models.TextChoices):
        OCCUPANCY = "occupancy", "Occupancy"
        ADDED_LOAD = "added_load", "Added load"
        FUEL_SWITCH = "fuel_switch", "Fuel switch"
        OTHER = "other", "Other"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="non_routine_changes")
    kind = models.CharField(max_length=12, choices=Kind)
    since: "models.DateField[date, date]" = models.DateField()
    note = models.CharField(max_length=240)
    noted_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    noted_at = models.DateTimeField(default=timezone.now, editable=False)
    confirmed_by = models.ForeignKey(
        User, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    confirmed_at = models.DateTimeField(null=True, blank=True)
    confirmed_reason = models.TextField(blank=True, help_text="Why the job counts all the same.")
    history = HistoricalRecords()

    class Meta:
        ordering = ["since", "id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(confirmed_at=None, confirmed_by=None, confirmed_reason="")
                | Q(confirmed_at__isnull=False, confirmed_by__isnull=False)
                & ~Q(confirmed_reason=""),
                name="change_confirmed_with_reason",
            )
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} since {self.since:%Y-%m-%d}"

    @property
    def is_open(self) -> bool:
        """Nobody has said that the job counts all the same."""
        return self.confirmed_at is None

    def confirm(self, by: User, reason: str) -> None:
        """Let the job count in spite of it."""
        if not by.may_approve:
            raise ActionRefused(
                f"Only a manager lets a job with a change count. {by} is signed in as "
                f"{by.get_role_display().lower()}; ask a manager."
            )
        if not reason.strip():
            raise ActionRefused("The reason is empty. Write why the job counts all the same.")
        if not self.is_open:
            raise ActionRefused(f"{self} is confirmed by {self.confirmed_by} already.")
        self.confirmed_by, self.confirmed_at = by, timezone.now()
        self.confirmed_reason = reason.strip()
        self.save(update_fields=["confirmed_by", "confirmed_at", "confirmed_reason"])


class ProgramRealization(models.Model):
    """Savings measured over savings predicted for one grant's homes; never changed."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    program = models.ForeignKey(Program, on_delete=models.PROTECT, related_name="realizations")
    computed_at = models.DateTimeField(default=timezone.now, editable=False)
    last_found_at = models.DateTimeField(
        default=timezone.now, editable=False, help_text="When its inputs were last in force."
    )
    method = models.CharField(max_length=120)
    edition = models.CharField(max_length=160)
    maths_version = models.CharField(max_length=20)
    input_hash = models.CharField(max_length=64)
    inputs = models.JSONField()
    figures = models.JSONField(help_text="Empty when fewer than two homes can be counted.")
    refusals = models.JSONField(default=list)

    class Meta:
        ordering = ["-last_found_at", "-id"]
        constraints = [
            models.UniqueConstraint(
                fields=["program", "input_hash"], name="realization_once_an_input"
            )
        ]

    def __str__(self) -> str:
        return f"Realization of {self.program}, {self.computed_at:%Y-%m-%d}"
