"""Erasures that were done: to be repeated when an older backup is restored."""

import uuid

from django.db import models
from django.utils import timezone


class Erasure(models.Model):
    """One household's personal data, erased; only its id and what was blanked stay."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    client_id = models.UUIDField(db_index=True)
    at = models.DateTimeField(default=timezone.now, editable=False)
    reason = models.CharField(max_length=240)
    done = models.JSONField(help_text="How many rows of each kind were blanked or deleted.")

    class Meta:
        ordering = ["-at", "id"]

    def __str__(self) -> str:
        return f"Erasure of client {self.client_id}"
