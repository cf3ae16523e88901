"""What takes two people: changes of ordered work, and the reopening of a closed job."""

import uuid
from typing import Self

from django.db import models
from django.utils import timezone

from agency.accounts.models import User
from agency.errors import ActionRefused


class Asked(models.Model):
    """Asked by one person, decided by another."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    asked_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    asked_at = models.DateTimeField(default=timezone.now, editable=False)
    is_approved = models.BooleanField(null=True)
    decided_by = models.ForeignKey(
        User, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    decided_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        abstract = True

    @property
    def is_open(self) -> bool:
        """Nobody has decided yet."""
        return self.decided_at is None

    def decide(self, by: User, *, as_approved: bool) -> None:
        """A manager's word; never of the one who asked."""
        if not by.may_approve:
            raise ActionRefused(f"{self} is decided by a manager. You are signed in as {by}.")
        if not self.is_open:
            raise ActionRefused(f"{self} is decided already, by {self.decided_by}.")
        if by == self.asked_by:
            raise ActionRefused(f"{self} was asked for by {by}; a second person decides.")
        self.is_approved, self.decided_by, self.decided_at = as_approved, by, timezone.now()
        self.save(update_fields=["is_approved", "decided_by", "decided_at"])


def decided_by_another(name: str) -> models.CheckConstraint:
    """Nobody decides what was asked for by the same person."""
    return models.CheckConstraint(
        condition=models.Q(decided_at=None, decided_by=None, is_approved=None)
        | models.Q(decided_at__isnull=False, decided_by__isnull=False, is_approved__isnull=False)
        & ~models.Q(decided_by=models.F("asked_by")),
        name=name,
    )


class ChangeOrderQuerySet(models.QuerySet["ChangeOrder"]):
    """Questions about change orders."""

    def waiting(self) -> Self:
        """Asked for, not decided."""
        return self.filter(decided_at=None)


class ChangeOrder(Asked):
    """Work other than ordered, that a crew asks to be allowed."""

    job = models.ForeignKey("jobs.Job", on_delete=models.PROTECT, related_name="change_orders")
    words = models.CharField(max_length=400)

    objects = ChangeOrderQuerySet.as_manager()

    class Meta:
        ordering = ["asked_at", "id"]
        constraints = [decided_by_another("change_order_decided_by_another")]

    def __str__(self) -> str:
        return f"The change order of {self.job}"


class Reopening(Asked):
    """A closed job is to be opened again."""

    class Goal(models.TextChoices):
        PAPERS = "inspection_passed", "Only its papers: approve it anew"
        WORK = "rework", "Work at the house: back to the crew"

    job = models.ForeignKey("jobs.Job", on_delete=models.PROTECT, related_name="reopenings")
    reason = models.TextField()
    goal = models.CharField(max_length=20, choices=Goal)

    class Meta:
        ordering = ["-asked_at", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["job"],
                condition=models.Q(decided_at=None),
                name="reopening_asked_once",
            ),
            models.CheckConstraint(condition=~models.Q(reason=""), name="reopening_says_why"),
            decided_by_another("reopening_decided_by_another"),
        ]

    def __str__(self) -> str:
        return f"The reopening of {self.job}"
