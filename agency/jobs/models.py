"""Jobs, the history of their states, and their visits."""

import uuid
from collections.abc import Sequence
from datetime import date, datetime
from typing import Any

from django.db import models
from django.utils import timezone
from simple_history.models import HistoricalRecords

from agency.accounts.models import User
from agency.errors import ActionRefused, TransitionRefused
from agency.houses.models import House
from agency.people.models import Client, Crew
from agency.programs.models import Program

from . import states
from .bookings import Booking, Claim, Rebooking, Vehicle  # noqa: F401  models of this app
from .changes import ChangeOrder, Reopening  # noqa: F401  models of this app
from .contacts import ContactAttempt  # noqa: F401  a model of this app
from .deferrals import Deferral  # noqa: F401  a model of this app
from .inspections import Finding, Inspection  # noqa: F401  models of this app
from .planning import CalendarAddress, Forecast  # noqa: F401  models of this app
from .proofs import Proof  # noqa: F401  a model of this app
from .querysets import JobQuerySet, VisitQuerySet
from .safety_stops import SafetyStop
from .states import CLOSED, ENDED, STEPS, Step  # noqa: F401  known by these names elsewhere


class Job(models.Model):
    """One house's weatherization work, from application to report."""

    Status = states.Status

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
                condition=~models.Q(status__in=["approved", "reported"])
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

    def was_tested_in_by(self, person: User) -> bool:
        """Whether the person made the audit's visit."""
        return self.visits.filter(kind=Visit.Kind.TEST_IN, inspector=person).exists()

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

    def ask_papers(self, by: User, **seen: Any) -> None:
        """The application lacks papers; the household is told which and until when."""
        self._take("ask_papers", by, **seen)

    def waitlist(self, by: User, **seen: Any) -> None:
        """The household is eligible and waits for its turn."""
        self._take("waitlist", by, **seen)

    def deny(self, by: User, reason: str, **seen: Any) -> None:
        """The household is not eligible; it is told why and how to appeal."""
        self._take("deny", by, reason=reason, **seen)

    def schedule_audit(self, by: User, **seen: Any) -> None:
        """A visit for the audit is planned."""
        self._take("schedule_audit", by, **seen)

    def begin_audit(self, by: User, **seen: Any) -> None:
        """The auditor is at the house."""
        self._take("begin_audit", by, **seen)

    def finish_audit(self, by: User, **seen: Any) -> None:
        """The audit is made; the office looks at it and plans the work."""
        self._take("finish_audit", by, **seen)

    def defer(self, by: User, reason: str, **seen: Any) -> None:
        """The house is not ready; the household keeps its place and is told what to put right."""
        self._take("defer", by, reason=reason, **seen)

    def resume(self, by: User, reason: str, goal: "states.Status", **seen: Any) -> None:
        """The deferral has ended: by a cure, or because its time is up."""
        self._take("resume", by, reason=reason, goal=goal, **seen)

    def order_work(self, by: User, **seen: Any) -> None:
        """A manager orders the work."""
        self._take("order_work", by, **seen)

    def schedule_work(self, by: User, **seen: Any) -> None:
        """A crew has the work in its calendar."""
        self._take("schedule_work", by, **seen)

    def start(self, by: User, **seen: Any) -> None:
        """The crew is on it: it has arrived, or its first reading has come in."""
        self._take("start", by, **seen)

    def test_out(self, by: User, **seen: Any) -> None:
        """The crew has finished and tested; an inspector is due."""
        self._take("test_out", by, **seen)

    def schedule_inspection(self, by: User, **seen: Any) -> None:
        """The final inspection is agreed."""
        self._take("schedule_inspection", by, **seen)

    def pass_inspection(self, by: User, on: date, **seen: Any) -> None:
        """Final inspection passed; only the first pass sets the counting date."""
        first_pass = self.inspection_passed_on or on
        changes = {"inspection_passed_on": first_pass}
        self._take("pass_inspection", by, changes=changes, **seen)

    def fail_inspection(self, by: User, finding: str, **seen: Any) -> None:
        """Final inspection found something: back to the crew."""
        self._take("fail_inspection", by, reason=finding, **seen)

    def return_from_rework(self, by: User, **seen: Any) -> None:
        """Every finding is closed; the inspector comes again."""
        self._take("return_from_rework", by, **seen)

    def approve(self, by: User, **seen: Any) -> None:
        """Accept an inspected job; the caller holds the row lock."""
        self._take("approve", by, changes={"approved_at": timezone.now()}, **seen)

    def report(self, by: User, **seen: Any) -> None:
        """The job stands in a locked quarter."""
        self._take("report", by, **seen)

    def withdraw(self, by: User, reason: str, **seen: Any) -> None:
        """The client ends an open job."""
        self._take("withdraw", by, reason=reason, **seen)

    def cancel(self, by: User, reason: str, **seen: Any) -> None:
        """The agency ends an open job."""
        self._take("cancel", by, reason=reason, **seen)

    def reopen(self, by: User, reason: str, goal: "states.Status", **seen: Any) -> None:
        """Open a closed job again; two people have asked for it."""
        self._take("reopen", by, reason=reason, goal=goal, **seen)

    def refuse_step(self, code: str, by: User) -> Step:
        """The step, unless the job stands elsewhere or it is not this person's to take."""
        step = STEPS[code]
        if self.status not in step.sources:
            raise TransitionRefused(self, step.word)
        if by.role not in step.roles:
            raise ActionRefused(
                f"{self} can be {step.word} by {step.who} only. You are signed in as {by}, "
                f"{by.get_role_display().lower()}."
            )
        return step

    def _take(
        self,
        code: str,
        by: User,
        *,
        reason: str = "",
        goal: "states.Status | None" = None,
        changes: dict[str, date | datetime] | None = None,
        device_at: datetime | None = None,
        evidence: Sequence[str] = (),
        rule_version: str = "",
    ) -> None:
        """Change the state, and what changes with it, and write the history row."""
        step, changes = self.refuse_step(code, by), changes or {}
        to = goal or step.goals[0]
        if to not in step.goals:
            raise TransitionRefused(self, step.word, f"it does not lead to {to.label.lower()}")
        old, self.status = self.status, to
        for name, value in changes.items():
            setattr(self, name, value)
        self.save(update_fields=["status", *changes])
        self.events.create(
            old=old,
            new=to,
            by=by,
            role=by.role,
            reason=reason,
            step=code,
            device_at=device_at,
            evidence=list(evidence),
            rule_version=rule_version,
        )


class JobEvent(models.Model):
    """One change of a job's state: who, in which role, when, from what to what, and why."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="events")
    at = models.DateTimeField(default=timezone.now, editable=False)
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    role = models.CharField(max_length=12)
    step = models.CharField(max_length=24, blank=True, help_text="Empty: from before steps.")
    old = models.CharField(max_length=20, choices=Job.Status)
    new = models.CharField(max_length=20, choices=Job.Status)
    reason = models.TextField(blank=True)
    device_at = models.DateTimeField(
        null=True, blank=True, help_text="By the clock of the phone it was done on."
    )
    evidence = models.JSONField(
        default=list, blank=True, help_text="What the gate saw, as piece and id."
    )
    rule_version = models.CharField(
        max_length=12, blank=True, help_text="Of the gate's rules, from their text."
    )

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
