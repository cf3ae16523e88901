"""Letters and forms: what each told when it was made is kept, and printed from that."""

import uuid
from typing import Self

from django.db import models
from django.utils import timezone

from agency.accounts.models import User
from agency.jobs.models import Job
from agency.people.models import Client


class LetterQuerySet(models.QuerySet["Letter"]):
    """Questions about letters."""

    def visible_to(self, user: User) -> Self:
        """Desk staff see every letter; a crew sees none, for they name households."""
        return self if user.works_at_desk else self.none()


class Letter(models.Model):
    """One letter or form of a job."""

    class Kind(models.TextChoices):
        APPOINTMENT = "appointment", "Appointment"
        DEFERRAL = "deferral", "Deferral notice"
        PERMISSION = "permission", "Owner's permission"
        WORK_ORDER = "work_order", "Work order"
        INSPECTION = "inspection", "Final inspection form"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="letters")
    kind = models.CharField(max_length=12, choices=Kind)
    language = models.CharField(max_length=2, choices=Client.Language)
    number = models.CharField(max_length=32, unique=True)
    figures = models.JSONField(help_text="All that it tells.")
    made_at = models.DateTimeField(default=timezone.now, editable=False)
    made_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")

    objects = LetterQuerySet.as_manager()

    class Meta:
        ordering = ["-made_at", "-number"]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.number}"
