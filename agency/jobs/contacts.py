"""Attempts to reach a household: kept whatever came of them, and never changed."""

import uuid
from typing import Self

from django.db import models
from django.utils import timezone

from agency.accounts.models import User
from agency.people.models import Client


class ContactQuerySet(models.QuerySet["ContactAttempt"]):
    """Questions about attempts."""

    def reached(self) -> Self:
        """Someone of the household was spoken with, or has answered."""
        return self.filter(outcome__in=["reached", "answered"])


class ContactAttempt(models.Model):
    """One call, message, letter or knock at the door."""

    class Channel(models.TextChoices):
        PHONE = "phone", "Telephone"
        TEXT = "text", "Text message"
        EMAIL = "email", "E-mail"
        LETTER = "letter", "Letter"
        DOOR = "door", "At the door"

    class Outcome(models.TextChoices):
        REACHED = "reached", "Reached"
        ANSWERED = "answered", "Answered later"
        MESSAGE_LEFT = "message_left", "Message left"
        NO_ANSWER = "no_answer", "No answer"
        WRONG_NUMBER = "wrong_number", "Wrong number or address"
        REFUSED = "refused", "Did not want to talk"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    job = models.ForeignKey("jobs.Job", on_delete=models.PROTECT, related_name="contacts")
    visit = models.ForeignKey(
        "jobs.Visit", on_delete=models.PROTECT, null=True, blank=True, related_name="contacts"
    )
    at = models.DateTimeField(default=timezone.now)
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    channel = models.CharField(max_length=8, choices=Channel)
    outcome = models.CharField(max_length=16, choices=Outcome)
    language = models.CharField(max_length=2, choices=Client.Language)
    with_interpreter = models.BooleanField(default=False)
    summary = models.CharField(max_length=400, blank=True)

    objects = ContactQuerySet.as_manager()

    class Meta:
        ordering = ["-at", "id"]

    def __str__(self) -> str:
        return f"{self.get_channel_display()}, {self.get_outcome_display().lower()}, {self.job}"
