"""Applications for weatherization with their papers, and the history of their states."""

import uuid
from datetime import date
from decimal import Decimal

from django.db import models
from django.utils import timezone
from simple_history.models import HistoricalRecords

from agency.accounts.models import User
from agency.errors import TransitionRefused
from agency.houses.models import House
from agency.jobs.models import Job
from agency.people.models import Client, Household
from agency.programs.models import BenefitProgram, Fuel, Program

from .decisions import Determination, PriorityScore
from .querysets import ApplicationQuerySet

__all__ = [
    "Application",
    "ApplicationEvent",
    "Benefit",
    "Determination",
    "EnergyUse",
    "IncomeItem",
    "Paper",
    "PriorityScore",
]


class Application(models.Model):
    """One household's wish to have one dwelling weatherized under one grant."""

    class Status(models.TextChoices):
        RECEIVED = "received", "Received"
        INFO_NEEDED = "info_needed", "Papers needed"
        WAITLISTED = "waitlisted", "On the waiting list"
        JOB_OPENED = "job_opened", "Job opened"
        DENIED = "denied", "Denied"
        WITHDRAWN = "withdrawn", "Withdrawn"

    class Tenure(models.TextChoices):
        OWNER = "owner", "Lives in the own dwelling"
        RENTER = "renter", "Rents the dwelling"

    class IncomeMethod(models.TextChoices):
        TWELVE_MONTHS = "twelve_months", "Receipts of the last 12 months"
        SHORT = "short", "Receipts of the latest months, counted up to a year"
        NONE = "none", "No income, with a signed statement"
        BENEFIT = "benefit", "A benefit stands for the income test"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    number = models.CharField(max_length=20, unique=True)
    client = models.ForeignKey(Client, on_delete=models.PROTECT, related_name="applications")
    house = models.ForeignKey(House, on_delete=models.PROTECT, related_name="applications")
    program = models.ForeignKey(Program, on_delete=models.PROTECT, related_name="applications")
    household = models.OneToOneField(
        Household, on_delete=models.PROTECT, related_name="application"
    )
    status = models.CharField(max_length=12, choices=Status, default=Status.RECEIVED)
    received_on = models.DateField()
    tenure = models.CharField(max_length=8, choices=Tenure)
    income_method = models.CharField(max_length=16, choices=IncomeMethod, blank=True)
    papers_due_on = models.DateField(null=True, blank=True)
    no_utility_release_reason = models.CharField(max_length=240, blank=True)
    emergency_reason = models.CharField(max_length=240, blank=True)
    disaster_reason = models.CharField(max_length=240, blank=True)
    score = models.OneToOneField(
        PriorityScore, on_delete=models.PROTECT, null=True, editable=False, related_name="+"
    )
    job = models.OneToOneField(
        Job, on_delete=models.PROTECT, null=True, editable=False, related_name="application"
    )
    history = HistoricalRecords()

    objects = ApplicationQuerySet.as_manager()

    class Meta:
        ordering = ["-received_on", "-number"]
        indexes = [
            models.Index(fields=["status", "received_on"], name="application_by_status"),
            models.Index(fields=["-received_on", "-number"], name="application_newest_first"),
        ]
        constraints = [
            models.CheckConstraint(
                condition=~models.Q(status="job_opened") | models.Q(job__isnull=False),
                name="application_opened_has_job",
            ),
            models.CheckConstraint(
                condition=~models.Q(status="waitlisted") | models.Q(score__isnull=False),
                name="application_waiting_is_scored",
            ),
        ]

    def __str__(self) -> str:
        return f"Application {self.number}"

    @property
    def is_open(self) -> bool:
        """Neither a job nor ended."""
        return self.status not in ENDED

    @property
    def is_rental(self) -> bool:
        """The owner must permit the work."""
        return self.tenure == self.Tenure.RENTER

    @property
    def determination(self) -> Determination | None:
        """The newest; no query where `with_decisions` fetched them."""
        return next(iter(self.determinations.all()), None)

    def valid_determination(self, on: date) -> Determination | None:
        """What makes the household eligible on that day; None when nothing does."""
        newest = self.determination
        return newest if newest is not None and newest.holds_on(on) else None

    def ask_for_papers(self, by: User, *, what: str, due_on: date) -> None:
        """Tell what is missing and by when."""
        self._move({self.Status.RECEIVED, self.Status.INFO_NEEDED}, self.Status.INFO_NEEDED, by,
                   reason=what, papers_due_on=due_on)  # fmt: skip

    def put_on_waiting_list(self, by: User, score: PriorityScore) -> None:
        """Eligible and complete: it waits in the order of its score."""
        allowed = {self.Status.RECEIVED, self.Status.INFO_NEEDED, self.Status.WAITLISTED}
        self._move(allowed, self.Status.WAITLISTED, by, score=score)

    def deny(self, by: User, reason: str) -> None:
        """End it with a written reason."""
        self._move(set(self.Status) - ENDED, self.Status.DENIED, by, reason=reason)

    def withdraw(self, by: User, reason: str) -> None:
        """The household or the agency ends it."""
        self._move(set(self.Status) - ENDED, self.Status.WITHDRAWN, by, reason=reason)

    def become(self, job: Job, by: User) -> None:
        """The work has a job now."""
        self._move({self.Status.WAITLISTED}, self.Status.JOB_OPENED, by, job=job)

    def _move(
        self,
        allowed: "set[Application.Status]",
        to: "Application.Status",
        by: User,
        *,
        reason: str = "",
        **changes: date | Job | PriorityScore,
    ) -> None:
        if self.status not in allowed:
            raise TransitionRefused(self, to.label.lower())
        old, self.status = self.status, to
        for name, value in changes.items():
            setattr(self, name, value)
        self.save(update_fields=["status", *changes])
        self.events.create(old=old, new=to, by=by, role=by.role, reason=reason)


ENDED = {Application.Status.JOB_OPENED, Application.Status.DENIED, Application.Status.WITHDRAWN}


class ApplicationEvent(models.Model):
    """One change of an application's state: who, in which role, when, and why."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    application = models.ForeignKey(Application, on_delete=models.PROTECT, related_name="events")
    at = models.DateTimeField(default=timezone.now, editable=False)
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    role = models.CharField(max_length=12)
    old = models.CharField(max_length=12, choices=Application.Status)
    new = models.CharField(max_length=12, choices=Application.Status)
    reason = models.TextField(blank=True)

    class Meta:
        ordering = ["at", "id"]
        indexes = [models.Index(fields=["application", "at"], name="application_event_order")]

    def __str__(self) -> str:
        return f"{self.application}: {self.get_new_display()}"


class IncomeItem(models.Model):
    """One income of the household in the months its application looks at."""

    class Kind(models.TextChoices):
        WAGES = "wages", "Wages"
        SELF_EMPLOYMENT = "self_employment", "Self-employment, net"
        RENT = "rent", "Rent received, net"
        SOCIAL_SECURITY = "social_security", "Social Security, net of Medicare"
        PENSION = "pension", "Pension"
        UNEMPLOYMENT = "unemployment", "Unemployment pay"
        OTHER = "other", "Other cash receipt"
        CHILD_SUPPORT = "child_support", "Child support"
        CAPITAL_GAIN = "capital_gain", "Capital gain"
        GIFT = "gift", "Gift"
        LOAN = "loan", "Loan"
        INHERITANCE = "inheritance", "Inheritance in one sum"

    class Earner(models.TextChoices):
        ADULT = "adult", "An adult"
        UNDER_18 = "under_18", "Someone under 18"
        STUDENT = "student", "A full-time high-school student"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    application = models.ForeignKey(Application, on_delete=models.CASCADE, related_name="incomes")
    kind = models.CharField(max_length=16, choices=Kind)
    earner = models.CharField(max_length=8, choices=Earner, default=Earner.ADULT)
    amount: "models.DecimalField[Decimal, Decimal]" = models.DecimalField(
        max_digits=10, decimal_places=2
    )
    proof = models.CharField(max_length=120, blank=True, help_text="The paper that shows it.")
    proof_seen_on = models.DateField(null=True, blank=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ["kind", "id"]
        constraints = [
            models.CheckConstraint(condition=models.Q(amount__gte=0), name="income_not_negative")
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} in {self.application}"


class Benefit(models.Model):
    """A benefit a member of the household was paid."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    application = models.ForeignKey(Application, on_delete=models.CASCADE, related_name="benefits")
    program = models.ForeignKey(BenefitProgram, on_delete=models.PROTECT, related_name="+")
    last_paid_on = models.DateField()
    proof_seen_on = models.DateField(null=True, blank=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ["-last_paid_on", "id"]

    def __str__(self) -> str:
        return f"{self.program} in {self.application}"


class EnergyUse(models.Model):
    """Energy of one fuel in the 12 months before, from the household's bills."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    application = models.ForeignKey(
        Application, on_delete=models.CASCADE, related_name="energy_uses"
    )
    fuel = models.CharField(max_length=12, choices=Fuel)
    used: "models.DecimalField[Decimal | None, Decimal | None]" = models.DecimalField(
        max_digits=9, decimal_places=1, null=True, blank=True
    )
    cost: "models.DecimalField[Decimal, Decimal]" = models.DecimalField(
        max_digits=8, decimal_places=2
    )
    history = HistoricalRecords()

    class Meta:
        ordering = ["fuel"]
        constraints = [
            models.UniqueConstraint(fields=["application", "fuel"], name="energy_use_once_a_fuel"),
            models.CheckConstraint(
                condition=models.Q(cost__gte=0) & (models.Q(used=None) | models.Q(used__gte=0)),
                name="energy_use_not_negative",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_fuel_display()} in {self.application}"


class Paper(models.Model):
    """A paper of the application that somebody at the desk has seen."""

    class Kind(models.TextChoices):
        OCCUPANCY = "occupancy", "Proof that the household lives there"
        NO_INCOME = "no_income", "Signed statement of no income"
        UTILITY_RELEASE = "utility_release", "Release of utility bills"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    application = models.ForeignKey(Application, on_delete=models.CASCADE, related_name="papers")
    kind = models.CharField(max_length=16, choices=Kind)
    seen_on = models.DateField()
    seen_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    note = models.CharField(max_length=240, blank=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ["seen_on", "id"]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} of {self.application}"
