"""Jobs, the history of their states, their visits, and the safety stops raised on them."""

import uuid
from datetime import date, datetime

from django.db import models
from django.utils import timezone
from simple_history.models import HistoricalRecords

from agency.accounts.models import User
from agency.errors import ActionRefused, TransitionRefused
from agency.houses.models import House
from agency.people.models import Client, Crew
from agency.programs.models import Program

from .querysets import JobQuerySet, SafetyStopQuerySet, VisitQuerySet


class Job(models.Model):
    """One house's weatherization work, from scheduling to approval."""

    class Status(models.TextChoices):
        SCHEDULED = "scheduled", "Scheduled"
        IN_PROGRESS = "in_progress", "In progress"
        TESTED_OUT = "tested_out", "Tested out"
        REWORK = "rework", "Rework"
        INSPECTION_PASSED = "inspection_passed", "Inspection passed"
        APPROVED = "approved", "Approved"
        WITHDRAWN = "withdrawn", "Withdrawn"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    number = models.CharField(max_length=20, unique=True)
    house = models.ForeignKey(House, on_delete=models.PROTECT, related_name="jobs")
    client = models.ForeignKey(Client, on_delete=models.PROTECT, related_name="jobs")
    crew = models.ForeignKey(Crew, on_delete=models.PROTECT, related_name="jobs")
    program = models.ForeignKey(Program, on_delete=models.PROTECT, related_name="jobs")
    status = models.CharField(max_length=20, choices=Status, default=Status.SCHEDULED)
    opened_on = models.DateField()
    work_started_on = models.DateField(null=True, blank=True)
    inspection_passed_on = models.DateField(
        null=True, blank=True, help_text="First passed final inspection: the counting date."
    )
    approved_at = models.DateTimeField(null=True, blank=True)
    no_before_test_reason = models.CharField(
        max_length=240, blank=True, help_text="Why no test before the work could be made."
    )
    history = HistoricalRecords()

    objects = JobQuerySet.as_manager()

    class Meta:
        ordering = ["-opened_on", "-number"]
        indexes = [
            models.Index(fields=["status", "inspection_passed_on"], name="job_status_counted"),
            models.Index(fields=["-opened_on", "-number"], name="job_newest_first"),
        ]
        constraints = [
            models.CheckConstraint(
                condition=~models.Q(status="approved")
                | models.Q(approved_at__isnull=False, inspection_passed_on__isnull=False),
                name="job_approved_after_inspection",
            )
        ]

    def __str__(self) -> str:
        return f"Job {self.number}"

    @property
    def open_stops(self) -> "list[SafetyStop]":
        """Stops nobody has cleared; no query where `with_stops` fetched them."""
        return [stop for stop in self.safety_stops.all() if stop.is_open]

    def was_worked_by(self, person: User) -> bool:
        """Whether the person is of a crew that has this job, had it before or visited it."""
        crews = Crew.objects.filter(
            models.Q(pk=self.crew_id)
            | models.Q(pk__in=self.visits.values("crew"))
            | models.Q(pk__in=self.history.values("crew"))
        )
        return crews.filter(members__user=person).exists()

    def start(self, by: User) -> None:
        """The crew is on it: the first reading has come in."""
        self._move({self.Status.SCHEDULED}, self.Status.IN_PROGRESS, by)

    def note_work_started(self, on: date) -> None:
        """From this day on the house is no longer as it was found."""
        if self.status in ENDED:
            raise TransitionRefused(self, "given a first working day")
        self.work_started_on = on
        self.save(update_fields=["work_started_on"])

    def explain_no_before_test(self, reason: str) -> None:
        """Write down why the house could not be tested before the work."""
        if self.status in ENDED:
            raise TransitionRefused(self, "given a reason")
        self.no_before_test_reason = reason
        self.save(update_fields=["no_before_test_reason"])

    def test_out(self, by: User) -> None:
        """The crew has finished and tested; an inspector is due."""
        self._move({self.Status.IN_PROGRESS, self.Status.REWORK}, self.Status.TESTED_OUT, by)

    def pass_inspection(self, by: User, on: date) -> None:
        """Final inspection passed; only the first pass sets the counting date."""
        first_pass = self.inspection_passed_on or on
        self._move(
            {self.Status.TESTED_OUT},
            self.Status.INSPECTION_PASSED,
            by,
            inspection_passed_on=first_pass,
        )

    def fail_inspection(self, by: User, finding: str) -> None:
        """Final inspection found something: back to the crew."""
        self._move({self.Status.TESTED_OUT}, self.Status.REWORK, by, reason=finding)

    def approve(self, by: User) -> None:
        """Accept an inspected job; the caller holds the row lock."""
        self._move(
            {self.Status.INSPECTION_PASSED}, self.Status.APPROVED, by, approved_at=timezone.now()
        )

    def withdraw(self, by: User, reason: str) -> None:
        """The client or the agency ends an open job."""
        self._move(set(Job.Status) - ENDED, self.Status.WITHDRAWN, by, reason=reason)

    def _move(
        self,
        allowed: "set[Job.Status]",
        to: "Job.Status",
        by: User,
        *,
        reason: str = "",
        **changes: date | datetime,
    ) -> None:
        """Change the state, and what changes with it, and write the history row."""
        if self.status not in allowed:
            raise TransitionRefused(self, to.label.lower())
        old, self.status = self.status, to
        for name, value in changes.items():
            setattr(self, name, value)
        self.save(update_fields=["status", *changes])
        self.events.create(old=old, new=to, by=by, role=by.role, reason=reason)


ENDED = {Job.Status.APPROVED, Job.Status.WITHDRAWN}


class JobEvent(models.Model):
    """One change of a job's state: who, in which role, when, from what to what, and why."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="events")
    at = models.DateTimeField(default=timezone.now, editable=False)
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    role = models.CharField(max_length=12)
    old = models.CharField(max_length=20, choices=Job.Status)
    new = models.CharField(max_length=20, choices=Job.Status)
    reason = models.TextField(blank=True)

    class Meta:
        ordering = ["at", "id"]
        indexes = [models.Index(fields=["job", "at"], name="job_event_in_order")]

    def __str__(self) -> str:
        return f"{self.job}: {self.get_new_display()}"


class Visit(models.Model):
    """One trip to a house."""

    class Kind(models.TextChoices):
        TEST_IN = "test_in", "Test-in"
        WORK = "work", "Work"
        TEST_OUT = "test_out", "Test-out"
        FINAL_INSPECTION = "final_inspection", "Final inspection"

    class Outcome(models.TextChoices):
        DONE = "done", "Done"
        PASSED = "passed", "Passed"
        FAILED = "failed", "Failed"
        CLIENT_ABSENT = "client_absent", "Client absent"
        UNSAFE = "unsafe", "Not safe to test"
        WEATHER = "weather", "Weather"
        EQUIPMENT = "equipment", "Equipment down"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="visits")
    kind = models.CharField(max_length=20, choices=Kind)
    planned_on = models.DateField()
    crew = models.ForeignKey(
        Crew, on_delete=models.PROTECT, null=True, blank=True, related_name="visits"
    )
    inspector = models.ForeignKey(
        User, on_delete=models.PROTECT, null=True, blank=True, related_name="inspections"
    )
    outcome = models.CharField(max_length=16, choices=Outcome, blank=True)
    note = models.TextField(blank=True)
    history = HistoricalRecords()

    objects = VisitQuerySet.as_manager()

    class Meta:
        ordering = ["planned_on", "id"]
        indexes = [models.Index(fields=["planned_on"], name="visit_planned_on")]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} for {self.job} on {self.planned_on:%Y-%m-%d}"

    def conclude(self, outcome: str) -> None:
        """Write down how it ended, as its crew says; what an inspector found stands."""
        if self.outcome in {outcome, self.Outcome.PASSED, self.Outcome.FAILED}:
            return
        self.outcome = outcome
        self.save(update_fields=["outcome"])


class SafetyStop(models.Model):
    """A hazard found on a job: work rests until someone who did not do it says it may go on."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="safety_stops")
    raised_at = models.DateTimeField(default=timezone.now, editable=False)
    hazard = models.CharField(max_length=60, help_text="Code of the hazard.")
    words = models.TextField(help_text="What was found, with value and limit.")
    steps = models.JSONField(default=list, help_text="What to do, one sentence a step.")
    cautions = models.TextField(help_text="Who decides: local code and licensed practice.")
    source = models.UUIDField(
        null=True, blank=True, help_text="The test run it came from; empty when it came from none."
    )
    acknowledged_name = models.CharField(max_length=160, blank=True)
    acknowledged_by = models.ForeignKey(
        User, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    acknowledged_at = models.DateTimeField(
        null=True, blank=True, help_text="By the clock of the phone it was acknowledged on."
    )
    cleared_by = models.ForeignKey(
        User, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    cleared_at = models.DateTimeField(null=True, blank=True)
    cleared_reason = models.TextField(blank=True)
    history = HistoricalRecords()

    objects = SafetyStopQuerySet.as_manager()

    class Meta:
        ordering = ["-raised_at", "id"]
        indexes = [models.Index(fields=["cleared_at", "raised_at"], name="stop_oldest_open")]
        constraints = [
            models.UniqueConstraint(fields=["job", "source", "hazard"], name="stop_once_a_source"),
            # Databases hold two empty sources for different ones.
            models.UniqueConstraint(
                fields=["job", "hazard"],
                condition=models.Q(source=None, cleared_at=None),
                name="stop_once_while_open",
            ),
            models.CheckConstraint(
                condition=models.Q(acknowledged_at=None, acknowledged_by=None, acknowledged_name="")
                | models.Q(acknowledged_at__isnull=False, acknowledged_by__isnull=False)
                & ~models.Q(acknowledged_name=""),
                name="stop_acknowledged_by_name",
            ),
            models.CheckConstraint(
                condition=models.Q(cleared_at=None, cleared_by=None, cleared_reason="")
                | models.Q(
                    cleared_at__isnull=False,
                    cleared_by__isnull=False,
                    acknowledged_at__isnull=False,
                )
                & ~models.Q(cleared_reason=""),
                name="stop_cleared_with_reason_once_acknowledged",
            ),
        ]

    def __str__(self) -> str:
        return f"Safety stop on {self.job}"

    @property
    def is_open(self) -> bool:
        """Not cleared yet."""
        return self.cleared_at is None

    @property
    def is_acknowledged(self) -> bool:
        """Someone has said by name that it was read."""
        return self.acknowledged_at is not None

    def acknowledge(self, by: User, name: str, at: datetime | None = None) -> None:
        """Write down who has read it; the same name again changes nothing."""
        name = " ".join(name.split())
        if not name:
            raise ActionRefused(f"{self} needs a name. Type who has read it.")
        if at is not None and timezone.is_naive(at):
            raise ActionRefused(f"{self} cannot be acknowledged at {at}. Send the time's zone too.")
        if self.is_acknowledged:
            if name == self.acknowledged_name:
                return
            raise ActionRefused(
                f"{self} is acknowledged by {self.acknowledged_name} already. "
                f"It does not need {name} as well."
            )
        self.acknowledged_name, self.acknowledged_by = name, by
        self.acknowledged_at = at or timezone.now()
        self.save(update_fields=["acknowledged_name", "acknowledged_by", "acknowledged_at"])

    def clear(self, by: User, reason: str) -> None:
        """Let the work go on; never by those whose work was stopped."""
        self._refuse_to_be_cleared_by(by)
        reason = reason.strip()
        if not reason:
            raise ActionRefused(
                f"{self} needs a reason to be cleared. Write what was found and put right."
            )
        self.cleared_by, self.cleared_at, self.cleared_reason = by, timezone.now(), reason
        self.save(update_fields=["cleared_by", "cleared_at", "cleared_reason"])

    def _refuse_to_be_cleared_by(self, by: User) -> None:
        if not self.is_open:
            raise ActionRefused(f"{self} is cleared already, by {self.cleared_by}.")
        if not by.may_clear_stops:
            role = by.get_role_display().lower()
            raise ActionRefused(
                f"{self} is cleared by an inspector or manager only. You are {by}, {role}."
            )
        if self.job.was_worked_by(by):
            raise ActionRefused(
                f"{self} cannot be cleared by {by}, whose crew has worked on this job. "
                "Ask an inspector or manager who has not."
            )
        if not self.is_acknowledged:
            raise ActionRefused(
                f"{self} is not acknowledged yet. Whoever was at the house acknowledges it by "
                "name first."
            )
