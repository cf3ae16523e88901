"""When a visit is made, by whom, in which vehicle and with which instruments: never twice at once.

The database itself refuses two claims to one thing at one time; see the migration that adds it.
"""

import uuid
from collections.abc import Iterable
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import models
from django.utils import timezone
from simple_history.models import HistoricalRecords

from agency.accounts.models import User
from agency.instruments.models import Instrument
from agency.people.models import Crew

from .schedule_querysets import BookingQuerySet, ClaimQuerySet


class Vehicle(models.Model):
    """A van or car that goes to one place at a time."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    name = models.CharField(max_length=80, unique=True)
    crew = models.ForeignKey(
        Crew, on_delete=models.PROTECT, null=True, blank=True, related_name="vehicles"
    )
    retired_on = models.DateField(null=True, blank=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class Booking(models.Model):
    """The time of one visit, and who and what goes there."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    visit = models.ForeignKey("jobs.Visit", on_delete=models.PROTECT, related_name="bookings")
    crew = models.ForeignKey(
        Crew, on_delete=models.PROTECT, null=True, blank=True, related_name="bookings"
    )
    inspector = models.ForeignKey(
        User, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    vehicle = models.ForeignKey(
        Vehicle, on_delete=models.PROTECT, null=True, blank=True, related_name="bookings"
    )
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    booked_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    booked_at = models.DateTimeField(default=timezone.now, editable=False)
    sequence = models.PositiveIntegerField(default=0, help_text="How often it was changed.")
    changed_at = models.DateTimeField(default=timezone.now, editable=False)
    cancelled_at = models.DateTimeField(null=True, blank=True)
    history = HistoricalRecords()

    objects = BookingQuerySet.as_manager()

    class Meta:
        ordering = ["starts_at", "id"]
        indexes = [models.Index(fields=["starts_at"], name="booking_starts_at")]
        constraints = [
            models.UniqueConstraint(
                fields=["visit"],
                condition=models.Q(cancelled_at=None),
                name="booking_once_a_visit",
            ),
            models.CheckConstraint(
                condition=models.Q(ends_at__gt=models.F("starts_at")), name="booking_ends_later"
            ),
            models.CheckConstraint(
                condition=models.Q(crew__isnull=False) | models.Q(inspector__isnull=False),
                name="booking_has_someone",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.visit.get_kind_display()} for {self.visit.job}"

    @property
    def who(self) -> str:
        """Whoever goes there."""
        return str(self.crew or self.inspector)

    @property
    def instruments(self) -> list[Instrument]:
        """By kind and serial number; no query where `with_claims` fetched them."""
        found = [claim.instrument for claim in self.claims.all() if claim.instrument]
        return sorted(found, key=lambda one: (one.kind, one.serial))

    def claim(self, things: "Iterable[Claim]") -> None:
        """Hold these things for the time of the booking, and no others."""
        self.claims.all().delete()
        # One order for everybody: two bookings of the same things never wait for each other.
        for thing in sorted(things, key=lambda one: str(one.thing)):
            thing.booking, thing.starts_at, thing.ends_at = self, self.starts_at, self.ends_at
            thing.save(force_insert=True)


class Claim(models.Model):
    """One thing held by one booking for its time."""

    class Kind(models.TextChoices):
        CREW = "crew", "Crew"
        INSPECTOR = "inspector", "Inspector"
        VEHICLE = "vehicle", "Vehicle"
        INSTRUMENT = "instrument", "Instrument"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    booking = models.ForeignKey(Booking, on_delete=models.CASCADE, related_name="claims")
    kind = models.CharField(max_length=12, choices=Kind)
    thing = models.UUIDField(help_text="Key of the crew, person, vehicle or instrument.")
    instrument = models.ForeignKey(
        Instrument, on_delete=models.PROTECT, null=True, blank=True, related_name="claims"
    )
    name = models.CharField(max_length=160, help_text="As it is said when it is taken.")
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()

    objects = ClaimQuerySet.as_manager()

    class Meta:
        ordering = ["kind", "name", "id"]
        indexes = [models.Index(fields=["thing", "starts_at"], name="claim_thing_time")]

    def __str__(self) -> str:
        return f"{self.name} for {self.booking}"

    @classmethod
    def to(cls, kind: str, record: Any) -> "Claim":
        """A claim to a record, not yet of any booking."""
        instrument = record if isinstance(record, Instrument) else None
        return cls(kind=kind, thing=record.pk, instrument=instrument, name=str(record))


class Rebooking(models.Model):
    """A booking was moved or called off: why, by whom, from when to when."""

    class Code(models.TextChoices):
        CLIENT_ABSENT = "client_absent", "Client absent"
        CLIENT_SICK = "client_sick", "Client sick"
        OWNER_REFUSED = "owner_refused", "Owner refused"
        CREW_SHORT = "crew_short", "Crew short of people"
        EQUIPMENT_DOWN = "equipment_down", "Equipment down"
        CALIBRATION_DUE = "calibration_due", "Calibration due"
        WEATHER = "weather", "Weather"
        UNSAFE_ROAD = "unsafe_road", "Unsafe road"
        MATERIAL_LATE = "material_late", "Material late"
        PETS = "pets", "Pets"
        PESTS = "pests", "Pests"
        UTILITY_OFF = "utility_off", "Utility off"
        LANGUAGE_HELP = "language_help", "Language help missing"
        EMERGENCY_ELSEWHERE = "emergency_elsewhere", "Heating emergency elsewhere"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    booking = models.ForeignKey(Booking, on_delete=models.PROTECT, related_name="rebookings")
    code = models.CharField(max_length=20, choices=Code)
    words = models.CharField(max_length=240, blank=True)
    at = models.DateTimeField(default=timezone.now, editable=False)
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    old_starts_at = models.DateTimeField()
    old_who = models.CharField(max_length=160)
    new_starts_at = models.DateTimeField(null=True, blank=True, help_text="Empty: called off.")
    new_who = models.CharField(max_length=160, blank=True)

    class Meta:
        ordering = ["at", "id"]

    def __str__(self) -> str:
        return f"{self.booking} moved: {self.get_code_display().lower()}"


def overlapping(things: Iterable[UUID], starts_at: datetime, ends_at: datetime) -> "ClaimQuerySet":
    """Claims of others to these things that meet the time."""
    return Claim.objects.filter(thing__in=things).meeting(starts_at, ends_at)
