"""What is on file for a job's gates, each piece recorded by name and never overwritten."""

import uuid
from typing import Self

from django.db import models
from django.utils import timezone

from agency.accounts.models import User


class ProofQuerySet(models.QuerySet["Proof"]):
    """Questions about what is on file."""

    def standing(self) -> Self:
        """Not taken back."""
        return self.filter(withdrawn_at=None)


class Proof(models.Model):
    """One piece of evidence, or why this job needs none."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    job = models.ForeignKey("jobs.Job", on_delete=models.PROTECT, related_name="proofs")
    piece = models.CharField(max_length=40, help_text="As the gates' rules name it.")
    is_needed = models.BooleanField(
        default=True, help_text="No: the words say why this job needs none."
    )
    words = models.TextField(help_text="What it says, or where it is.")
    dated_on = models.DateField(help_text="Day of the paper or of the act.")
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(default=timezone.now, editable=False)
    withdrawn_by = models.ForeignKey(
        User, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    objects = ProofQuerySet.as_manager()

    class Meta:
        ordering = ["-at", "id"]
        indexes = [models.Index(fields=["job", "piece"], name="proof_job_piece")]
        constraints = [
            models.CheckConstraint(condition=~models.Q(words=""), name="proof_says_something"),
            models.CheckConstraint(
                condition=models.Q(withdrawn_at=None, withdrawn_by=None)
                | models.Q(withdrawn_at__isnull=False, withdrawn_by__isnull=False),
                name="proof_withdrawn_by_name",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.piece.replace('_', ' ')} of {self.job}"
