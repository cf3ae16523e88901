"""Locked quarters with what has changed in them since, and files asked for."""

import uuid
from datetime import datetime, timedelta

from django.db import models
from django.utils import timezone

from agency.accounts.models import User
from agency.jobs.models import Job
from agency.outbox.models import Errand
from agency.programs.models import Program

from .querysets import CorrectionQuerySet, ExportQuerySet, LockedQuarterQuerySet

KEPT = timedelta(days=7)
"""How long a finished file can be fetched. Own choice."""


class LockedQuarter(models.Model):
    """A quarter's report as it was handed in; the database refuses to change it."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    code = models.CharField(max_length=60, help_text="As 2026-Q3 or QM-26-01-2.")
    grant = models.CharField(max_length=40, blank=True, help_text="Empty: all grants.")
    program = models.ForeignKey(
        Program, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    label = models.CharField(max_length=240)
    first_day = models.DateField()
    last_day = models.DateField()
    locked_at = models.DateTimeField(default=timezone.now, editable=False)
    locked_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    edition = models.CharField(max_length=12, help_text="Of the report's arithmetic.")
    evidence = models.TextField(help_text="All the report was made from, as JSON.")
    evidence_hash = models.CharField(max_length=64)
    figures = models.TextField(help_text="The report as canonical JSON.")
    figures_hash = models.CharField(max_length=64)

    objects = LockedQuarterQuerySet.as_manager()

    class Meta:
        ordering = ["-last_day", "code", "grant"]
        constraints = [
            models.UniqueConstraint(fields=["code", "grant"], name="quarter_locked_once")
        ]

    def __str__(self) -> str:
        return f"{self.code}, {self.grant or 'all grants'}"


class Correction(models.Model):
    """One fact about one job of a locked quarter that is no longer what was reported."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    locked = models.ForeignKey(LockedQuarter, on_delete=models.PROTECT, related_name="corrections")
    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="+")
    what = models.CharField(max_length=40)
    old = models.JSONField(null=True)
    new = models.JSONField(null=True)
    why = models.TextField()
    noted_at = models.DateTimeField(editable=False)
    noted_on = models.DateField(help_text="Decides in which quarter's report it stands.")

    objects = CorrectionQuerySet.as_manager()

    class Meta:
        ordering = ["noted_at", "job__number", "what", "id"]
        indexes = [models.Index(fields=["noted_on"], name="correction_noted_on")]

    def __str__(self) -> str:
        return f"{self.job}: {self.what} changed after {self.locked} was locked"


class Export(models.Model):
    """A file too long to wait for: what was asked, by whom, how far it is, and the file."""

    class Form(models.TextChoices):
        CSV = "csv", "One table (CSV)"
        XLSX = "xlsx", "Workbook (XLSX)"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    asked_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    asked_at = models.DateTimeField(default=timezone.now, editable=False)
    quarter = models.CharField(max_length=60)
    program = models.ForeignKey(
        Program, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    form = models.CharField(max_length=4, choices=Form)
    table = models.CharField(max_length=40, blank=True, help_text="Of a CSV file.")
    options = models.JSONField(default=dict, help_text="names, withhold, mark: true or false.")
    errand = models.ForeignKey(Errand, on_delete=models.PROTECT, null=True, related_name="+")
    rows_done = models.PositiveIntegerField(default=0)
    rows_total = models.PositiveIntegerField(null=True, help_text="Unknown while it is gathered.")
    file = models.FileField(upload_to="exports/", blank=True)
    file_name = models.CharField(max_length=120, blank=True)
    file_hash = models.CharField(max_length=64, blank=True)
    file_size = models.PositiveBigIntegerField(null=True)
    finished_at = models.DateTimeField(null=True)
    cleaned_at = models.DateTimeField(null=True, help_text="When the file was thrown away.")

    objects = ExportQuerySet.as_manager()

    class Meta:
        ordering = ["-asked_at", "id"]

    def __str__(self) -> str:
        what = self.table.replace("_", " ") or "workbook"
        return f"{what[:1].upper()}{what[1:]} of {self.quarter}"

    @property
    def expires_at(self) -> datetime | None:
        """From then on the file is not given out any more."""
        return self.finished_at + KEPT if self.finished_at else None

    def is_ready(self, now: datetime) -> bool:
        """Written, and neither expired nor thrown away."""
        return bool(self.file) and self.expires_at is not None and now < self.expires_at

    @property
    def state(self) -> str:
        """Code of the state: queued, running, done, failed or expired."""
        if self.cleaned_at is not None:
            return "expired"
        return self.errand.state if self.errand else "queued"

    def note_progress(self, rows_done: int, rows_total: int) -> None:
        """Say how far it is."""
        self.rows_done, self.rows_total = rows_done, rows_total
        self.save(update_fields=["rows_done", "rows_total"])

    def throw_away(self) -> None:
        """Delete the file; what was asked stays written down."""
        self.file.delete(save=False)
        self.cleaned_at = timezone.now()
        self.save(update_fields=["file", "cleaned_at"])
