"""Reports of visits as phones sent them; like a test's readings they never change."""

import uuid

from django.db import models
from django.db.models.functions import Coalesce
from django.utils import timezone

from agency.accounts.models import Device, User
from agency.jobs.models import Visit


class VisitReportQuerySet(models.QuerySet["VisitReport"]):
    """Questions about visit reports."""

    def newest(self) -> "VisitReport | None":
        """The one that tells of the latest moment, whichever came in last."""
        told = Coalesce("left_at", "arrived_at")
        return self.order_by(told.desc(), "-received_at", "-id").first()


class VisitReport(models.Model):
    """One report of how a visit went. The document is kept as it came."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="reports")
    device = models.ForeignKey(Device, on_delete=models.PROTECT, related_name="visit_reports")
    client_key = models.UUIDField()
    sent_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    arrived_at = models.DateTimeField(help_text="By the phone's clock.")
    left_at = models.DateTimeField(null=True, help_text="By the phone's clock; empty: still there.")
    not_safe = models.CharField(max_length=40, blank=True, help_text="Code of the reason.")
    received_at = models.DateTimeField(default=timezone.now, editable=False)
    document = models.TextField(editable=False)
    document_hash = models.CharField(max_length=64, editable=False)
    answer = models.JSONField(editable=False, help_text="First answer given to the phone.")

    objects = VisitReportQuerySet.as_manager()

    class Meta:
        ordering = ["received_at", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["device", "client_key"], name="visit_report_once_a_device_and_key"
            )
        ]

    def __str__(self) -> str:
        return f"Report of {self.visit}"

    @property
    def outcome(self) -> str:
        """What it says of the visit's outcome; empty while the crew is at work."""
        if self.not_safe:
            return Visit.Outcome.UNSAFE
        return Visit.Outcome.DONE if self.left_at else ""
