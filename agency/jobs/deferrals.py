"""Deferrals: why a house is not ready, what puts it right, and when the agency looks again."""

import uuid
from datetime import date
from typing import Self

from django.db import models
from django.utils import timezone
from simple_history.models import HistoricalRecords

from agency.accounts.models import User
from agency.errors import ActionRefused
from agency.people.models import Client


class DeferralQuerySet(models.QuerySet["Deferral"]):
    """Deferrals as those who follow them up speak of them."""

    def proposed(self) -> Self:
        """Waiting for a manager's word."""
        return self.filter(decided_at=None)

    def in_force(self) -> Self:
        """Approved and not ended."""
        return self.filter(is_approved=True, ended_at=None)

    def due(self, day: date) -> Self:
        """In force, and the day to look again has come."""
        return self.in_force().filter(review_on__lte=day)

    def with_records(self) -> Self:
        """Fetched with job, house, client and people in one query."""
        return self.select_related(
            "job__house", "job__client", "proposed_by", "decided_by", "ended_by"
        )


class Deferral(models.Model):
    """One deferral, from its proposal to its cure or the end of its time."""

    class Reason(models.TextChoices):
        STRUCTURE = "structure", "Unsound structure or roof"
        MOISTURE = "moisture", "Water or mold"
        ELECTRICAL = "electrical", "Unsafe wiring"
        PLUMBING = "plumbing", "Sewage or plumbing"
        COMBUSTION = "combustion", "Unsafe heater or chimney"
        ASBESTOS = "asbestos", "Asbestos or vermiculite"
        LEAD = "lead", "Lead paint in bad repair"
        PESTS = "pests", "Pests"
        CLUTTER = "clutter", "Rooms cannot be reached"
        HEALTH = "health", "Someone's health does not allow it"
        CONDUCT = "conduct", "Crew not safe in the home"
        REMODEL = "remodel", "Being rebuilt"
        OWNER = "owner", "Owner has not agreed"

    class End(models.TextChoices):
        CURED = "cured", "Cured"
        TIMED_OUT = "timed_out", "Time is up"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    job = models.ForeignKey("jobs.Job", on_delete=models.PROTECT, related_name="deferrals")
    reasons = models.JSONField(help_text="Codes of the reasons.")
    words = models.TextField(help_text="What was found, in plain words.")
    cure = models.TextField(help_text="What puts it right, and who does it.")
    referral = models.TextField(blank=True, help_text="Who may help.")
    notice_given_on = models.DateField()
    language = models.CharField(max_length=2, choices=Client.Language)
    review_on = models.DateField(help_text="When the agency looks again.")
    proposed_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    proposed_at = models.DateTimeField(default=timezone.now, editable=False)
    is_approved = models.BooleanField(null=True)
    decided_by = models.ForeignKey(
        User, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    decided_at = models.DateTimeField(null=True, blank=True)
    ended_as = models.CharField(max_length=12, choices=End, blank=True)
    ended_by = models.ForeignKey(
        User, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    ended_at = models.DateTimeField(null=True, blank=True)
    proof_of_end = models.TextField(blank=True, help_text="How the cure was seen, or the letter.")
    history = HistoricalRecords()

    objects = DeferralQuerySet.as_manager()

    class Meta:
        ordering = ["-proposed_at", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["job"],
                condition=models.Q(ended_at=None) & ~models.Q(is_approved=False),
                name="deferral_one_at_a_time",
            ),
            models.CheckConstraint(
                condition=models.Q(decided_at=None, decided_by=None, is_approved=None)
                | models.Q(
                    decided_at__isnull=False, decided_by__isnull=False, is_approved__isnull=False
                ),
                name="deferral_decided_by_name",
            ),
            models.CheckConstraint(
                condition=models.Q(ended_at=None, ended_by=None, ended_as="", proof_of_end="")
                | models.Q(ended_at__isnull=False, ended_by__isnull=False, is_approved=True)
                & ~models.Q(proof_of_end="")
                & ~models.Q(ended_as=""),
                name="deferral_ended_with_proof",
            ),
        ]

    def __str__(self) -> str:
        return f"Deferral of {self.job}"

    @property
    def reason_words(self) -> str:
        """The reasons, one after the other."""
        known = dict(self.Reason.choices)
        return "; ".join(str(known.get(code, code)) for code in self.reasons)

    def decide(self, by: User, *, as_approved: bool) -> None:
        """A manager's word; not the auditor's own."""
        if not by.may_approve:
            raise ActionRefused(f"{self} is decided by a manager. You are signed in as {by}.")
        if self.decided_at is not None:
            raise ActionRefused(f"{self} is decided already, by {self.decided_by}.")
        if by == self.proposed_by:
            raise ActionRefused(
                f"{self} was proposed by {by}; another manager decides. Ask a colleague."
            )
        self.is_approved, self.decided_by, self.decided_at = as_approved, by, timezone.now()
        self.save(update_fields=["is_approved", "decided_by", "decided_at"])

    def end(self, by: User, how: str, proof: str) -> None:
        """Cured, or out of time; either is shown by something on file."""
        if not self.is_approved or self.ended_at is not None:
            raise ActionRefused(f"{self} is not in force. There is nothing to end.")
        if not proof.strip():
            raise ActionRefused(
                f"{self} needs proof to be ended. Write how the cure was seen, or which letter "
                "told the household that its time is up."
            )
        self.ended_as, self.ended_by, self.ended_at = how, by, timezone.now()
        self.proof_of_end = proof.strip()
        self.save(update_fields=["ended_as", "ended_by", "ended_at", "proof_of_end"])
