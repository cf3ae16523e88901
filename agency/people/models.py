"""Clients with their households, and crews: persons, not log-ins."""

import uuid
from datetime import date
from typing import Self

from django.db import models
from simple_history.models import HistoricalRecords

from agency.accounts.models import User
from agency.errors import ActionRefused


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
    legal_hold = models.CharField(
        max_length=240, blank=True, help_text="Why this file must be kept: an audit, a claim."
    )
    erased_at = models.DateTimeField(null=True, editable=False)
    history = HistoricalRecords()

    class Meta:
        ordering = ["name", "id"]
        indexes = [models.Index(fields=["name", "id"], name="client_by_name")]

    def __str__(self) -> str:
        return self.name


class Household(models.Model):
    """Who lives in a dwelling together, counted by age band; nobody but the client is named."""

    BANDS = {
        "under_6": (0, 5),
        "aged_6_to_17": (6, 17),
        "aged_18": (18, 18),
        "aged_19_to_59": (19, 59),
        "aged_60_or_over": (60, None),
    }
    """Youngest and oldest age of each band, both included."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    client = models.ForeignKey(Client, on_delete=models.PROTECT, related_name="households")
    under_6 = models.PositiveSmallIntegerField(default=0)
    aged_6_to_17 = models.PositiveSmallIntegerField("6 to 17", default=0)
    aged_18 = models.PositiveSmallIntegerField("18", default=0)
    aged_19_to_59 = models.PositiveSmallIntegerField("19 to 59", default=0)
    aged_60_or_over = models.PositiveSmallIntegerField("60 or over", default=0)
    with_disability = models.PositiveSmallIntegerField(default=0)
    native_american = models.PositiveSmallIntegerField(default=0)
    history = HistoricalRecords()

    class Meta:
        ordering = ["client", "id"]

    def __str__(self) -> str:
        return f"Household of {self.client}"

    @property
    def size(self) -> int:
        """People who live in the dwelling."""
        return sum(getattr(self, band) for band in self.BANDS)

    def aged_from(self, age: int) -> int:
        """People of that age or older; an age inside a band is refused."""
        return self._counted(age, wants_older=True)

    def aged_below(self, age: int) -> int:
        """People younger than that; an age inside a band is refused."""
        return self._counted(age, wants_older=False)

    def _counted(self, age: int, *, wants_older: bool) -> int:
        firsts = [first for first, _ in self.BANDS.values()]
        if age not in firsts:
            allowed = ", ".join(str(first) for first in firsts)
            raise ActionRefused(
                f"The age {age} lies inside a band, so the household cannot be counted by it. "
                f"The rule book must hold one of {allowed}."
            )
        return sum(
            getattr(self, band)
            for band, (first, _) in self.BANDS.items()
            if (first >= age) == wants_older
        )


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


class CredentialQuerySet(models.QuerySet["Credential"]):
    """Questions about credentials."""

    def valid_on(self, day: date) -> Self:
        """In force on `day`, which is the day of a visit and not today."""
        return self.filter(issued_on__lte=day, expires_on__gte=day).filter(
            models.Q(revoked_on=None) | models.Q(revoked_on__gt=day)
        )

    def held_by(self, user: User) -> Self:
        """Of this person, whether entered for the log-in or for the crew member."""
        return self.filter(models.Q(user=user) | models.Q(member__user=user))

    def in_crew(self, crew: Crew) -> Self:
        """Of anybody who works in this crew."""
        return self.filter(
            models.Q(member__crew=crew) | models.Q(user__crew_member__crew=crew)
        ).distinct()


class Credential(models.Model):
    """What a person is certified for, from when to when."""

    class Kind(models.TextChoices):
        AUDITOR = "energy_auditor", "Energy auditor"
        INSPECTOR = "quality_control_inspector", "Quality control inspector"
        CREW_LEADER = "crew_leader", "Crew leader"
        INSTALLER = "retrofit_installer", "Retrofit installer"
        RENOVATOR = "certified_renovator", "Certified renovator (lead-safe)"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    member = models.ForeignKey(
        CrewMember, on_delete=models.PROTECT, null=True, blank=True, related_name="credentials"
    )
    user = models.ForeignKey(
        User, on_delete=models.PROTECT, null=True, blank=True, related_name="credentials"
    )
    kind = models.CharField(max_length=32, choices=Kind)
    number = models.CharField(max_length=40)
    issued_on = models.DateField()
    expires_on = models.DateField(help_text="The last day on which it is valid.")
    revoked_on = models.DateField(null=True, blank=True)
    proof = models.CharField(max_length=240, blank=True, help_text="Where the paper is kept.")
    history = HistoricalRecords()

    objects = CredentialQuerySet.as_manager()

    class Meta:
        ordering = ["kind", "expires_on", "id"]
        constraints = [
            models.UniqueConstraint(fields=["kind", "number"], name="credential_number_once"),
            models.CheckConstraint(
                condition=models.Q(member__isnull=False, user=None)
                | models.Q(member=None, user__isnull=False),
                name="credential_of_one_person",
            ),
            models.CheckConstraint(
                condition=models.Q(expires_on__gt=models.F("issued_on")),
                name="credential_days_in_order",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.number}"

    @property
    def holder(self) -> str:
        """Whose it is."""
        return str(self.member or self.user)

    def is_valid_on(self, day: date) -> bool:
        """In force on that day."""
        is_revoked = self.revoked_on is not None and self.revoked_on <= day
        return self.issued_on <= day <= self.expires_on and not is_revoked
