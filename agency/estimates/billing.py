"""Utility accounts of a house, the bill files kept as they came, and the bills read from them."""

import uuid
from typing import TYPE_CHECKING, Any, Self

from django.db import models
from django.db.models import F, Q
from django.utils import timezone
from simple_history.models import HistoricalRecords

from agency.accounts.models import User
from agency.errors import ActionRefused
from agency.houses.models import House
from agency.programs.models import Fuel

if TYPE_CHECKING:
    from datetime import datetime


def own_name(_file: Any, _sent: str) -> str:
    """A name nobody can guess, and nobody outside has chosen."""
    return f"bills/{uuid.uuid4().hex}"


class UtilityAccount(models.Model):
    """What one house buys of one fuel; its number and supplier are not kept here."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    house = models.ForeignKey(House, on_delete=models.PROTECT, related_name="utility_accounts")
    fuel = models.CharField(max_length=12, choices=Fuel)
    opened_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    opened_at = models.DateTimeField(default=timezone.now, editable=False)
    history = HistoricalRecords()

    class Meta:
        ordering = ["house", "fuel"]
        constraints = [
            models.UniqueConstraint(fields=["house", "fuel"], name="account_once_a_house_and_fuel")
        ]

    def __str__(self) -> str:
        return f"{self.get_fuel_display()} account"


class KeptFile(models.Model):
    """A file kept as it came; its rows are taken in together, and can be taken out together."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    name = models.CharField(max_length=120, help_text="As its sender named it.")
    sha256 = models.CharField(max_length=64, editable=False)
    size = models.PositiveIntegerField(help_text="Bytes.")
    reading = models.JSONField(default=dict, help_text="How it is read: columns, units, dates.")
    sent_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    sent_at = models.DateTimeField(default=timezone.now, editable=False)
    imported_by = models.ForeignKey(
        User, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    imported_at = models.DateTimeField(null=True, blank=True)
    undone_by = models.ForeignKey(
        User, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    undone_at = models.DateTimeField(null=True, blank=True)
    undone_reason = models.TextField(blank=True)

    class Meta:
        abstract = True
        ordering = ["-sent_at", "id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(imported_at=None, imported_by=None)
                | Q(imported_at__isnull=False, imported_by__isnull=False),
                name="%(class)s_imported_by_name",
            ),
            models.CheckConstraint(
                condition=Q(undone_at=None, undone_by=None, undone_reason="")
                | Q(undone_at__isnull=False, undone_by__isnull=False, imported_at__isnull=False)
                & ~Q(undone_reason=""),
                name="%(class)s_undone_with_reason",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def state(self) -> str:
        """Waiting, imported or undone."""
        if self.undone_at is not None:
            return "undone"
        return "waiting" if self.imported_at is None else "imported"

    def note_import(self, by: User, at: "datetime") -> None:
        """Its rows are taken in; once only."""
        if self.state != "waiting":
            raise ActionRefused(f"{self.name} is {self.state} already. Send the file again.")
        self.imported_by, self.imported_at = by, at
        self.save(update_fields=["imported_by", "imported_at"])

    def note_undoing(self, by: User, at: "datetime", reason: str) -> None:
        """Its rows are taken out; the file stays."""
        if self.state != "imported":
            raise ActionRefused(f"{self.name} is {self.state}; only an import can be undone.")
        if not reason.strip():
            raise ActionRefused("The reason is empty. Write why the import is undone.")
        self.undone_by, self.undone_at, self.undone_reason = by, at, reason.strip()
        self.save(update_fields=["undone_by", "undone_at", "undone_reason"])


class BillFile(KeptFile):
    """Bills of one account as a supplier or client gave them."""

    class Kind(models.TextChoices):
        CSV = "csv", "CSV"
        ESPI = "espi", "ESPI XML"

    account = models.ForeignKey(UtilityAccount, on_delete=models.PROTECT, related_name="files")
    kind = models.CharField(max_length=4, choices=Kind)
    file = models.FileField(upload_to=own_name, max_length=60)

    class Meta(KeptFile.Meta):
        pass


class BillQuerySet(models.QuerySet["Bill"]):
    """Questions about bills."""

    def touching(self, account: UtilityAccount, *, first: Any, last: Any) -> Self:
        """Bills of the account with a day from `first` up to, not including, `last`."""
        return self.filter(account=account, start__lt=last, end__gt=first)


class Bill(models.Model):
    """Energy between two meter readings."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    account = models.ForeignKey(UtilityAccount, on_delete=models.PROTECT, related_name="bills")
    file = models.ForeignKey(BillFile, on_delete=models.PROTECT, related_name="bills")
    start = models.DateField(help_text="Day of the opening reading; the first day counted.")
    end = models.DateField(help_text="Day of the closing reading; no longer counted.")
    energy = models.FloatField(help_text="Joules.")
    estimated = models.BooleanField(default=False, help_text="Nobody read the meter at the end.")
    is_correction = models.BooleanField(
        default=False, help_text="Less than nothing on purpose: it corrects bills before it."
    )
    place = models.CharField(max_length=60, help_text="Where it stands in the file.")

    objects = BillQuerySet.as_manager()

    class Meta:
        ordering = ["account", "start"]
        constraints = [
            models.CheckConstraint(condition=Q(end__gt=F("start")), name="bill_end_after_start"),
            models.CheckConstraint(
                condition=Q(energy__gte=0) | Q(is_correction=True),
                name="bill_negative_only_when_stated",
            ),
            models.UniqueConstraint(fields=["account", "start"], name="bill_once_a_start"),
            models.UniqueConstraint(fields=["account", "end"], name="bill_once_an_end"),
        ]

    def __str__(self) -> str:
        return f"Bill {self.start:%Y-%m-%d} to {self.end:%Y-%m-%d}"

    @property
    def days(self) -> int:
        """Days between the readings."""
        return (self.end - self.start).days
