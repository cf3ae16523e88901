"""Final inspections, an attempt a record, and their findings, each closed by evidence."""

import uuid
from typing import Self

from django.db import models
from django.utils import timezone
from simple_history.models import HistoricalRecords

from agency.accounts.models import User
from agency.errors import ActionRefused


class Inspection(models.Model):
    """The signed form of one final inspection."""

    class Independence(models.TextChoices):
        INDEPENDENT = "independent", "Independent of audit and work"
        AUDITOR_SAME = "auditor_same", "The auditor of the same job"
        NONE = "none", "Worked on the job"

    class Basis(models.TextChoices):
        OWN_TEST = "own_test", "Own re-test"
        RELIED = "relied", "Relied on the crew's test"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    job = models.ForeignKey("jobs.Job", on_delete=models.PROTECT, related_name="final_inspections")
    visit = models.OneToOneField(
        "jobs.Visit", on_delete=models.PROTECT, related_name="final_inspection"
    )
    attempt = models.PositiveSmallIntegerField()
    inspector = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    credential_number = models.CharField(max_length=40, blank=True)
    independence = models.CharField(max_length=12, choices=Independence)
    basis = models.CharField(max_length=8, choices=Basis)
    basis_reason = models.TextField(blank=True, help_text="Why the crew's test could be relied on.")
    has_passed = models.BooleanField()
    note = models.TextField(blank=True)
    signed_as = models.CharField(max_length=160)
    signed_at = models.DateTimeField(default=timezone.now, editable=False)

    class Meta:
        ordering = ["job", "attempt"]
        constraints = [
            models.UniqueConstraint(fields=["job", "attempt"], name="inspection_attempt_once"),
            models.CheckConstraint(
                condition=~models.Q(has_passed=True)
                | ~models.Q(independence="none") & ~models.Q(credential_number=""),
                name="inspection_passed_by_certified_stranger",
            ),
        ]

    def __str__(self) -> str:
        return f"Final inspection {self.attempt} of {self.job}"


class FindingQuerySet(models.QuerySet["Finding"]):
    """Findings as crews and inspectors speak of them."""

    def open(self) -> Self:
        """Not closed by evidence yet."""
        return self.filter(closed_at=None)

    def with_records(self) -> Self:
        """Fetched with job, house, crew and people in one query."""
        return self.select_related("job__house", "job__crew", "found_by", "closed_by")


class Finding(models.Model):
    """One thing an inspector wants put right."""

    class Severity(models.TextChoices):
        SAFETY = "safety", "Health and safety"
        MAJOR = "major", "Major"
        MINOR = "minor", "Minor"

    class Touches(models.TextChoices):
        NEITHER = "neither", "Neither envelope nor combustion"
        ENVELOPE = "envelope", "The envelope"
        COMBUSTION = "combustion", "Combustion"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    job = models.ForeignKey("jobs.Job", on_delete=models.PROTECT, related_name="findings")
    visit = models.ForeignKey(
        "jobs.Visit", on_delete=models.PROTECT, null=True, blank=True, related_name="findings"
    )
    severity = models.CharField(max_length=8, choices=Severity)
    touches = models.CharField(max_length=12, choices=Touches, default=Touches.NEITHER)
    words = models.CharField(max_length=400)
    found_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    found_at = models.DateTimeField(default=timezone.now, editable=False)
    evidence = models.TextField(blank=True, help_text="What was done, and how it can be seen.")
    photo = models.UUIDField(null=True, blank=True, help_text="A photo of the job, where it shows.")
    closed_by = models.ForeignKey(
        User, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    closed_at = models.DateTimeField(null=True, blank=True)
    history = HistoricalRecords()

    objects = FindingQuerySet.as_manager()

    class Meta:
        ordering = ["found_at", "id"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(closed_at=None, closed_by=None, evidence="")
                | models.Q(closed_at__isnull=False, closed_by__isnull=False)
                & ~models.Q(evidence=""),
                name="finding_closed_by_evidence",
            )
        ]

    def __str__(self) -> str:
        return f"Finding on {self.job}: {self.words}"

    @property
    def is_open(self) -> bool:
        """Not closed yet."""
        return self.closed_at is None

    def close(self, by: User, evidence: str, photo: uuid.UUID | None = None) -> None:
        """Put right, with what shows it."""
        evidence = evidence.strip()
        if not self.is_open:
            raise ActionRefused(f"This finding is closed already, by {self.closed_by}.")
        if not evidence:
            raise ActionRefused(
                "The finding needs evidence to be closed. Write what was done and how it can be "
                "seen."
            )
        self.evidence, self.photo = evidence, photo
        self.closed_by, self.closed_at = by, timezone.now()
        self.save(update_fields=["evidence", "photo", "closed_by", "closed_at"])
