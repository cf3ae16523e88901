"""Photos of a job, stored under names of our own and without anything the camera wrote in."""

import uuid
from typing import TYPE_CHECKING, Any, Self

from django.db import models
from django.utils import timezone

from agency.accounts.models import Device, User
from agency.jobs.models import Job, Visit

if TYPE_CHECKING:
    from .models import TestRun


def large_name(_photo: Any, _sent: str) -> str:
    """A name nobody can guess, and nobody outside has chosen."""
    return f"photos/{uuid.uuid4().hex}.jpg"


def small_name(_photo: Any, _sent: str) -> str:
    """The same for the picture shown in lists."""
    return f"photos/small/{uuid.uuid4().hex}.jpg"


class PhotoQuerySet(models.QuerySet["Photo"]):
    """Questions about photos."""

    def visible_to(self, user: User) -> Self:
        """Desk staff see every photo, a crew member only those of the own crew's jobs."""
        return self.filter(job__in=Job.objects.visible_to(user))


class Photo(models.Model):
    """One photo. What was sent is not kept: only the picture made from its pixels."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="photos")
    visit = models.ForeignKey(
        Visit, on_delete=models.PROTECT, null=True, blank=True, related_name="photos"
    )
    test_key = models.UUIDField(
        null=True, blank=True, help_text="Client key of the test it belongs to, sent or not."
    )
    caption = models.CharField(max_length=240, blank=True)
    taken_at = models.DateTimeField(help_text="By the phone's clock.")
    device = models.ForeignKey(Device, on_delete=models.PROTECT, related_name="photos")
    client_key = models.UUIDField()
    sent_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    received_at = models.DateTimeField(default=timezone.now, editable=False)
    document_hash = models.CharField(
        max_length=64, editable=False, help_text="Of what was said of it and of the bytes sent."
    )
    answer = models.JSONField(editable=False, help_text="First answer given to the phone.")
    file = models.FileField(upload_to=large_name, max_length=60)
    small = models.FileField(upload_to=small_name, max_length=60)
    width = models.PositiveIntegerField(help_text="Pixels.")
    height = models.PositiveIntegerField(help_text="Pixels.")
    bytes = models.PositiveIntegerField()

    objects = PhotoQuerySet.as_manager()

    class Meta:
        ordering = ["taken_at", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["device", "client_key"], name="photo_once_a_device_and_key"
            )
        ]

    def __str__(self) -> str:
        return self.caption or f"Photo of {self.job}"

    @property
    def test_run(self) -> "TestRun | None":
        """The test it belongs to, once that has come in from the same phone."""
        if self.test_key is None:
            return None
        return self.job.test_runs.filter(device=self.device, client_key=self.test_key).first()
