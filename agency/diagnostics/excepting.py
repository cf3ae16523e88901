"""Exceptions: a manager lets readings of an instrument in doubt stand, by name and reason."""

import uuid
from collections.abc import Iterable
from datetime import date
from typing import TYPE_CHECKING, Self
from uuid import UUID

from django.db import models
from django.utils import timezone

from agency.accounts.models import User
from agency.errors import TransitionRefused
from agency.instruments.doubts import Cause, Doubt
from agency.instruments.models import Instrument
from agency.wording import words

if TYPE_CHECKING:
    from .models import TestRun


class InstrumentExceptionQuerySet(models.QuerySet["InstrumentException"]):
    """Exceptions as someone asks who looks back."""

    def standing(self) -> Self:
        """Not withdrawn."""
        return self.filter(withdrawn_at=None)

    def of(self, instruments: Iterable[Instrument]) -> Self:
        """Given for any of these instruments, with the people and the run they name."""
        people = self.select_related("by", "withdrawn_by", "test_run__job")
        return people.filter(instrument__in=[one.pk for one in instruments]).defer(
            "test_run__document", "test_run__answer"
        )


class InstrumentException(models.Model):
    """Readings in doubt for one cause may stand: those of one run, or of a run of days.

    It changes no figure. A new cause, such as a finding out of tolerance, is not covered by it.
    """

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    instrument = models.ForeignKey(Instrument, on_delete=models.PROTECT, related_name="exceptions")
    cause = models.CharField(max_length=20, choices=Cause)
    test_run: "models.ForeignKey[TestRun | None, TestRun | None]" = models.ForeignKey(
        "diagnostics.TestRun",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="instrument_exceptions",
    )
    from_day = models.DateField(null=True, blank=True)
    to_day = models.DateField(null=True, blank=True)
    reason = models.TextField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(default=timezone.now, editable=False)
    withdrawn_by = models.ForeignKey(
        User, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    objects = InstrumentExceptionQuerySet.as_manager()

    class Meta:
        ordering = ["-at", "id"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(
                    test_run__isnull=False, from_day__isnull=True, to_day__isnull=True
                )
                | models.Q(
                    # Said outright: a comparison with an unknown day would let the row through.
                    test_run__isnull=True,
                    from_day__isnull=False,
                    to_day__isnull=False,
                    to_day__gte=models.F("from_day"),
                ),
                name="instrument_exception_run_or_days",
            ),
            models.CheckConstraint(
                condition=~models.Q(reason=""), name="instrument_exception_with_reason"
            ),
            models.CheckConstraint(
                condition=models.Q(withdrawn_by__isnull=True, withdrawn_at__isnull=True)
                | models.Q(withdrawn_by__isnull=False, withdrawn_at__isnull=False),
                name="instrument_exception_withdrawn_by_name",
            ),
            models.UniqueConstraint(
                fields=["instrument", "test_run", "cause"],
                condition=models.Q(withdrawn_at__isnull=True, test_run__isnull=False),
                name="instrument_exception_once_a_run",
            ),
        ]

    def __str__(self) -> str:
        return f"Exception for {self.instrument}, {self.scope}"

    @property
    def scope(self) -> str:
        """What it covers, in words."""
        if self.test_run is not None:
            return str(self.test_run)
        return f"{words.day(self.from_day)} to {words.day(self.to_day)}"

    def covers(self, doubt: Doubt, *, run_id: UUID, day: date) -> bool:
        """True when a run of `day`, in doubt for this reason, may stand."""
        if self.withdrawn_at is not None or self.cause != doubt.cause:
            return False
        if self.from_day is None or self.to_day is None:
            return self.test_run_id == run_id
        return self.from_day <= day <= self.to_day

    def withdraw(self, by: User) -> None:
        """Put what it covered back in doubt; the exception stays on record."""
        if not by.may_approve:
            raise TransitionRefused(
                self, "withdrawn", f"only a manager does this, and {by} is not one"
            )
        if self.withdrawn_at is not None:
            raise TransitionRefused(self, "withdrawn", f"{self.withdrawn_by} has already done so")
        self.withdrawn_by, self.withdrawn_at = by, timezone.now()
        self.save(update_fields=["withdrawn_by", "withdrawn_at"])
