"""What the schedule is read with: typed forecasts, and each crew's calendar address."""

import secrets
import uuid
from datetime import datetime

from django.db import models, transaction
from django.utils import timezone
from django.utils.crypto import salted_hmac
from simple_history.models import HistoricalRecords

from agency.accounts.models import User
from agency.people.models import Crew
from agency.programs.models import County

ADDRESS_BYTES = 24
"""192 bits: nobody finds an address by trying. Own choice."""


class Forecast(models.Model):
    """The weather expected on a day, as someone typed it from a forecast. None: not said."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    day = models.DateField()
    county = models.ForeignKey(
        County, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    wind_mph = models.FloatField(null=True, blank=True)
    low_f = models.FloatField(null=True, blank=True)
    high_f = models.FloatField(null=True, blank=True)
    words = models.CharField(max_length=160, blank=True)
    source = models.CharField(max_length=120, help_text="Where it was read.")
    typed_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    typed_at = models.DateTimeField(default=timezone.now)
    history = HistoricalRecords()

    class Meta:
        ordering = ["day", "county"]
        constraints = [
            models.UniqueConstraint(fields=["day", "county"], name="forecast_once_a_county"),
            # Databases hold two empty counties for different ones.
            models.UniqueConstraint(
                fields=["day"], condition=models.Q(county=None), name="forecast_once_a_day"
            ),
            models.CheckConstraint(
                condition=models.Q(wind_mph=None) | models.Q(wind_mph__gte=0),
                name="forecast_wind_not_negative",
            ),
        ]

    def __str__(self) -> str:
        return f"Forecast for {self.day:%Y-%m-%d}"


class CalendarAddress(models.Model):
    """A secret address at which a crew's calendar can be read. Stored as a hash only."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    crew = models.ForeignKey(Crew, on_delete=models.PROTECT, related_name="calendar_addresses")
    key_hash = models.CharField(max_length=64, unique=True, editable=False)
    made_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField(default=timezone.now, editable=False)
    revoked_at = models.DateTimeField(null=True, editable=False)

    class Meta:
        ordering = ["-made_at", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["crew"], condition=models.Q(revoked_at=None), name="calendar_address_one"
            )
        ]

    def __str__(self) -> str:
        return f"Calendar address of {self.crew}"

    @classmethod
    @transaction.atomic
    def make(cls, crew: Crew, *, made_by: User, now: datetime) -> str:
        """A new key, shown once and never stored; an older address of the crew is void."""
        cls.objects.filter(crew=crew, revoked_at=None).update(revoked_at=now)
        key = secrets.token_urlsafe(ADDRESS_BYTES)
        cls.objects.create(crew=crew, key_hash=_key_hash(key), made_by=made_by, made_at=now)
        return key

    @classmethod
    def find(cls, key: str) -> "CalendarAddress | None":
        """The living address of this key."""
        alive = cls.objects.filter(revoked_at=None).select_related("crew")
        return alive.filter(key_hash=_key_hash(key)).first()

    def revoke(self, now: datetime) -> None:
        """Give nothing out at this address from now on."""
        if self.revoked_at is None:
            self.revoked_at = now
            self.save(update_fields=["revoked_at"])


def _key_hash(key: str) -> str:
    """Keyed, so that a copy of the database alone gives no address away."""
    return salted_hmac("agency.jobs.CalendarAddress", key, algorithm="sha256").hexdigest()
