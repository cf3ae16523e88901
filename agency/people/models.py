"""Clients and crews: persons, not log-ins."""

import uuid

from django.db import models
from simple_history.models import HistoricalRecords

from agency.accounts.models import User


class Client(models.Model):
    """The household member the agency deals with."""

    class Language(models.TextChoices):
        ENGLISH = "en", "English"
        SPANISH = "es", "Spanish"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    name = models.CharField(max_length=160)
    phone = models.CharField(max_length=32, blank=True)
    email = models.EmailField(blank=True)
    language = models.CharField(max_length=2, choices=Language, default=Language.ENGLISH)
    history = HistoricalRecords()

    class Meta:
        ordering = ["name", "id"]

    def __str__(self) -> str:
        return self.name


class Crew(models.Model):
    """People who work and travel together."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    name = models.CharField(max_length=80, unique=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class CrewMember(models.Model):
    """A person of a crew; the log-in is optional, for not everyone carries a phone."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    name = models.CharField(max_length=160)
    crew = models.ForeignKey(Crew, on_delete=models.PROTECT, related_name="members")
    user = models.OneToOneField(
        User, on_delete=models.PROTECT, null=True, blank=True, related_name="crew_member"
    )
    history = HistoricalRecords()

    class Meta:
        ordering = ["name", "id"]

    def __str__(self) -> str:
        return self.name
