"""Who may sign in, in which role, and which phones may send readings."""

import secrets
import uuid
from datetime import datetime, timedelta
from typing import ClassVar

from django.contrib.auth.models import AbstractUser
from django.db import models, transaction
from django.utils import timezone
from django.utils.crypto import salted_hmac
from knox.models import AuthToken
from knox.settings import knox_settings
from simple_history.models import HistoricalRecords

from agency.wording.words import UNMISTAKABLE

QUIET_AFTER = timedelta(days=3)
"""A paired phone that has not called for this long is shown to the office. Own choice."""
CODE_LIFE = timedelta(minutes=15)
"""Long enough to walk over to the crew. Own choice."""
CODE_LENGTH = 8
"""Of 30 letters and digits each: 6.6e11 codes, of which a handful are alive at a time."""


class User(AbstractUser):
    """One person's log-in."""

    class Role(models.TextChoices):
        OFFICE = "office", "Office"
        CREW = "crew", "Crew"
        INSPECTOR = "inspector", "Inspector"
        MANAGER = "manager", "Manager"
        ADMIN = "admin", "Administrator"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    role = models.CharField(max_length=12, choices=Role)
    history = HistoricalRecords(excluded_fields=["last_login", "password"])

    REQUIRED_FIELDS: ClassVar[list[str]] = ["email", "role"]

    class Meta:
        ordering = ["username"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(role__in=["office", "crew", "inspector", "manager", "admin"]),
                name="user_role_known",
            )
        ]

    def __str__(self) -> str:
        return self.get_full_name() or self.username

    @property
    def works_at_desk(self) -> bool:
        """Everyone but crews sees the office pages."""
        return self.role != self.Role.CREW

    @property
    def may_review(self) -> bool:
        """Accept test runs or send them back."""
        return self.role in {self.Role.OFFICE, self.Role.MANAGER, self.Role.ADMIN}

    @property
    def may_inspect(self) -> bool:
        """Record a final inspection."""
        return self.role == self.Role.INSPECTOR

    @property
    def may_approve(self) -> bool:
        """Approve a job, reissue its certificate."""
        return self.role in {self.Role.MANAGER, self.Role.ADMIN}

    @property
    def may_see_sensitive(self) -> bool:
        """Income, benefits, disability and what follows from them; need-to-know only."""
        return self.role in {self.Role.OFFICE, self.Role.MANAGER}

    @property
    def may_clear_stops(self) -> bool:
        """Clear a safety stop on a job that the person has not worked on."""
        return self.may_inspect or self.may_approve


class SensitiveView(models.Model):
    """Someone was shown sensitive data: who, when, of what record, which part of it."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    at = models.DateTimeField(default=timezone.now, editable=False, db_index=True)
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="sensitive_views")
    record = models.CharField(max_length=80, help_text="Number or kind of the record.")
    record_id = models.UUIDField(db_index=True)
    part = models.CharField(max_length=120, help_text="What was shown of it.")

    class Meta:
        ordering = ["-at", "id"]

    def __str__(self) -> str:
        return f"{self.by} saw {self.part} of {self.record}"


DESK = "Typed in at a desk"
"""Label of what stands for a phone at a desk."""


class DeviceQuerySet(models.QuerySet["Device"]):
    """Questions about phones."""

    def phones(self) -> "DeviceQuerySet":
        """Without what stands for a phone at a desk."""
        return self.exclude(label=DESK)

    def quiet(self, now: datetime) -> "DeviceQuerySet":
        """Still paired, but not heard from for longer than `QUIET_AFTER`.

        Each call renews the token, so the day it ends tells when the last call was.
        """
        return self.filter(
            revoked_at=None, token__expiry__lt=now + knox_settings.TOKEN_TTL - QUIET_AFTER
        ).select_related("user", "token")


class Device(models.Model):
    """A paired phone. Its token is stored as a hash only and works until revoked."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    user = models.ForeignKey(User, on_delete=models.PROTECT, related_name="devices")
    label = models.CharField(max_length=80)
    token = models.OneToOneField(
        AuthToken, on_delete=models.SET_NULL, null=True, editable=False, related_name="device"
    )
    paired_at = models.DateTimeField(default=timezone.now, editable=False)
    revoked_at = models.DateTimeField(null=True, editable=False)
    history = HistoricalRecords(excluded_fields=["token"])

    objects = DeviceQuerySet.as_manager()

    class Meta:
        ordering = ["-paired_at", "id"]

    def __str__(self) -> str:
        return f"{self.label} ({self.user})"

    @classmethod
    def pair(cls, user: User, label: str) -> tuple["Device", str]:
        """Register a phone; the returned token is shown once and never stored."""
        stored, token = AuthToken.objects.create(user)
        return cls.objects.create(user=user, label=label, token=stored), token

    @classmethod
    def at_desk(cls, user: User) -> "Device":
        """What stands for the phone when someone types a test in at a desk."""
        return cls.objects.get_or_create(user=user, label=DESK, token=None)[0]

    @property
    def last_heard(self) -> datetime | None:
        """When the phone last called; None when its token is gone."""
        if self.token is None or self.token.expiry is None:
            return None
        heard: datetime = self.token.expiry - knox_settings.TOKEN_TTL
        return heard

    @property
    def is_revoked(self) -> bool:
        return self.revoked_at is not None

    def revoke(self) -> None:
        """Refuse this phone from now on; its token stays known so that it can be told so."""
        if not self.is_revoked:
            self.revoked_at = timezone.now()
            self.save(update_fields=["revoked_at"])


class PairingCode(models.Model):
    """A code that pairs one phone for one person, once and soon. Stored as a hash only."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    code_hash = models.CharField(max_length=64, unique=True, editable=False)
    user = models.ForeignKey(User, on_delete=models.PROTECT, related_name="pairing_codes")
    made_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    expires_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True, editable=False)
    device = models.OneToOneField(
        Device, on_delete=models.PROTECT, null=True, editable=False, related_name="pairing_code"
    )

    class Meta:
        ordering = ["-expires_at", "id"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(used_at=None, device=None)
                | models.Q(used_at__isnull=False, device__isnull=False),
                name="pairing_code_used_by_a_device",
            )
        ]

    def __str__(self) -> str:
        return f"Pairing code for {self.user}"

    @classmethod
    def make(cls, user: User, *, made_by: User, now: datetime) -> str:
        """A new code, shown once and never stored; an older one of the same person is void."""
        code = "".join(secrets.choice(UNMISTAKABLE) for _ in range(CODE_LENGTH))
        with transaction.atomic():
            cls.objects.filter(user=user, used_at=None, expires_at__gt=now).update(expires_at=now)
            cls.objects.create(
                code_hash=_code_hash(code), user=user, made_by=made_by, expires_at=now + CODE_LIFE
            )
        return code

    @classmethod
    @transaction.atomic
    def redeem(cls, code: str, *, label: str, now: datetime) -> tuple[Device, str] | None:
        """Pair the phone that sends a living code; None for any other."""
        alive = cls.objects.filter(used_at=None, expires_at__gt=now, user__is_active=True)
        # The lock makes the second of two requests wait, and then find the code used.
        found = alive.select_for_update(of=("self",)).filter(code_hash=_code_hash(code)).first()
        if found is None:
            return None
        found.device, token = Device.pair(found.user, label)
        found.used_at = now
        found.save(update_fields=["device", "used_at"])
        return found.device, token


def _code_hash(code: str) -> str:
    """Keyed, so that a copy of the database alone does not tell the few living codes."""
    plain = "".join(letter for letter in code.upper() if letter.isalnum())
    return salted_hmac("agency.accounts.PairingCode", plain, algorithm="sha256").hexdigest()
