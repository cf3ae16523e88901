"""Certificates: frozen figures, a number, a file; a reissue never changes an old one."""

import uuid

from django.db import models
from django.utils import timezone

from agency.estimates.models import SavingsEstimate
from agency.jobs.models import Job


class Certificate(models.Model):
    """One paper handed to a household."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="certificates")
    estimate = models.ForeignKey(SavingsEstimate, on_delete=models.PROTECT, related_name="+")
    number = models.CharField(max_length=32, unique=True)
    issued_at = models.DateTimeField(default=timezone.now, editable=False)
    replaces = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="replaced_by"
    )
    reason = models.CharField(max_length=240, blank=True, help_text="Why it was reissued.")
    input_hash = models.CharField(max_length=64)
    figures = models.JSONField()
    file = models.FileField(upload_to="certificates/")
    file_hash = models.CharField(max_length=64)

    class Meta:
        ordering = ["-issued_at", "-number"]
        constraints = [
            models.UniqueConstraint(fields=["job", "input_hash"], name="certificate_once_an_input")
        ]

    def __str__(self) -> str:
        return f"Certificate {self.number}"
