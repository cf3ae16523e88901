"""Test runs with their raw readings, what was computed from them, and what was refused."""

import uuid
from datetime import datetime, timedelta
from typing import Any

from django.db import models
from django.utils import timezone
from simple_history.models import HistoricalRecords

from agency.accounts.models import Device, User
from agency.errors import ActionRefused, TransitionRefused
from agency.instruments.models import Instrument
from agency.jobs.models import Job, Visit

from .documents import title_of
from .excepting import InstrumentException  # noqa: F401  a model of this app
from .photos import Photo  # noqa: F401  a model of this app
from .querysets import ComparisonQuerySet, ResultQuerySet, TestRunQuerySet
from .requiring import RequiredTest  # noqa: F401  a model of this app
from .uses import InstrumentUseQuerySet
from .visit_reports import VisitReport  # noqa: F401  a model of this app

TIGHTNESS = "envelope"
"""The kind of test that a job's reduction is worked out from."""


class TestRun(models.Model):
    """One uploaded test. The document is kept as it came; the database refuses to change it."""

    __test__ = False

    class Phase(models.TextChoices):
        BEFORE = "before", "Before the work"
        DURING = "during", "During the work"
        AFTER = "after", "After the work"
        INSPECTION = "inspection", "Final inspection"

    class Review(models.TextChoices):
        TO_REVIEW = "to_review", "To review"
        ACCEPTED = "accepted", "Accepted"
        RETURNED = "returned", "Returned"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="test_runs")
    visit = models.ForeignKey(
        Visit, on_delete=models.PROTECT, null=True, blank=True, related_name="test_runs"
    )
    device = models.ForeignKey(Device, on_delete=models.PROTECT, related_name="test_runs")
    client_key = models.UUIDField()
    uploaded_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    kind = models.CharField(max_length=24, help_text="One of the form definitions.")
    phase = models.CharField(max_length=12, choices=Phase)
    method = models.CharField(max_length=24)
    operator = models.CharField(max_length=160, blank=True)
    taken_at = models.DateTimeField(help_text="By the phone's clock.")
    received_at = models.DateTimeField(default=timezone.now, editable=False)
    clock_ahead_by = models.DurationField(
        null=True,
        help_text="Phone's clock minus ours at sending; unknown when the phone said none.",
    )
    document = models.TextField(editable=False)
    document_hash = models.CharField(max_length=64, editable=False)
    readings_hash = models.CharField(
        max_length=64, editable=False, help_text="Equal for two documents with the same readings."
    )
    answer = models.JSONField(editable=False, help_text="First answer given to the phone.")
    review = models.CharField(max_length=12, choices=Review, default=Review.TO_REVIEW)
    reviewed_by = models.ForeignKey(
        User, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    reviewed_at = models.DateTimeField(null=True, blank=True)
    review_reason = models.TextField(blank=True)
    history = HistoricalRecords(excluded_fields=["document", "answer"])

    objects = TestRunQuerySet.as_manager()

    class Meta:
        ordering = ["received_at", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["device", "client_key"], name="test_run_once_a_device_and_key"
            ),
            models.CheckConstraint(
                condition=~models.Q(review="returned") | ~models.Q(review_reason=""),
                name="test_run_returned_with_reason",
            ),
        ]
        indexes = [
            models.Index(fields=["review", "received_at"], name="test_run_review"),
            models.Index(fields=["readings_hash"], name="test_run_readings_hash"),
        ]

    def __str__(self) -> str:
        return f"{self.title}, {self.get_phase_display().lower()}, {self.job}"

    @property
    def title(self) -> str:
        """The kind of test in words."""
        return title_of(self.kind)

    @property
    def result(self) -> "Result | None":
        """The current result, or None while no worker has computed one."""
        return next(iter(self.results.all()), None)

    @property
    def corrected_taken_at(self) -> datetime:
        """When the test was made by our clock."""
        return self.taken_at - (self.clock_ahead_by or timedelta())

    def accept(self, by: User) -> None:
        """The figures may be used in comparisons and reports."""
        result = self.result
        if result is None or not result.may_be_reported:
            raise TransitionRefused(self, "accepted", self._why_not_acceptable(result))
        self._review(self.Review.ACCEPTED, by, "")

    def send_back(self, by: User, reason: str) -> None:
        """The crew must look at it again; the raw readings stay."""
        self._review(self.Review.RETURNED, by, reason)

    def confirm(self, code: str, by: User, reason: str) -> None:
        """Answer an open question of the current result: the value stands as it was sent."""
        result = self.result
        if result is None or code not in {one["code"] for one in result.open_questions}:
            raise TransitionRefused(self, f"confirmed for {code}", "no such question is open")
        if not (by.may_review and reason.strip()):
            raise TransitionRefused(
                self, "confirmed", "it takes a reviewer's name and a reason in words"
            )
        self.confirmations.create(code=code, by=by, reason=reason)

    def swap_sides(self, channel: str, by: User, reason: str) -> None:
        """Input and reference side of a channel were changed over; the readings stay as read."""
        if not (by.may_review and reason.strip()):
            raise TransitionRefused(
                self, "turned", "it takes a reviewer's name and a reason in words"
            )
        if channel not in SideSwap.Channel.values:
            raise TransitionRefused(self, "turned", f"the gauge has no channel {channel!r}")
        self.side_swaps.create(channel=channel, by=by, reason=reason)

    @property
    def swapped_channels(self) -> frozenset[str]:
        """Channels turned an odd number of times."""
        turned = [one.channel for one in self.side_swaps.all()]
        return frozenset(one for one in turned if turned.count(one) % 2)

    def reopen_review(self, by: User) -> None:
        """Take a decision back."""
        if self.review == self.Review.TO_REVIEW:
            raise TransitionRefused(self, "put back to review")
        self._review(self.Review.TO_REVIEW, by, "")

    @staticmethod
    def _why_not_acceptable(result: "Result | None") -> str:
        if result is None:
            return "no result is computed yet; try again in a minute"
        return (
            f"its result is {result.get_verdict_display().lower()}; "
            "send it back with the reason, or cure what its checks name"
        )

    def _review(self, to: "TestRun.Review", by: User, reason: str) -> None:
        self.review, self.reviewed_by, self.reviewed_at = to, by, timezone.now()
        self.review_reason = reason
        self.save(update_fields=["review", "reviewed_by", "reviewed_at", "review_reason"])


class Result(models.Model):
    """What the formulas made of one test run: figures, checks, and what they rest on."""

    class Verdict(models.TextChoices):
        VALID = "valid", "Valid"
        ADVISORY = "advisory", "Valid with advice"
        PROVISIONAL = "provisional", "Provisional"
        REJECTED = "rejected", "Rejected"
        NOT_COMPUTED = "not_computed", "Not computed"

    class Answer(models.TextChoices):
        FOUND = "found", "Found"
        MET = "met", "Within the limit"
        MISSED = "missed", "Beyond the limit"
        ACTION = "action", "Action needed"
        OPEN = "open", "Not tested in full"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    test_run = models.ForeignKey(TestRun, on_delete=models.PROTECT, related_name="results")
    computed_at = models.DateTimeField(default=timezone.now, editable=False)
    method = models.CharField(max_length=80)
    edition = models.CharField(max_length=40)
    maths_version = models.CharField(max_length=20)
    input_hash = models.CharField(max_length=64)
    verdict = models.CharField(max_length=16, choices=Verdict)
    flow_50 = models.FloatField(null=True, help_text="Air flow at 50 Pa, m³/s.")
    answer = models.CharField(max_length=8, choices=Answer, blank=True)
    figures = models.JSONField()
    checks = models.JSONField()

    objects = ResultQuerySet.as_manager()

    class Meta:
        ordering = ["-computed_at", "-id"]
        constraints = [
            models.UniqueConstraint(fields=["test_run", "input_hash"], name="result_once_an_input")
        ]

    def __str__(self) -> str:
        return f"{self.test_run}: {self.get_verdict_display()}"

    @property
    def open_questions(self) -> list[dict[str, Any]]:
        """Checks that keep the result provisional until someone answers."""
        return [
            one
            for one in self.checks
            if one["severity"] == "question"
            and one["status"] == "advisory"
            and not one["confirmed"]
        ]

    @property
    def headline(self) -> dict[str, Any] | None:
        """The figure that answers the test: its name, quantity, value and bounds in SI."""
        if self.flow_50 is not None:
            interval = self.figures.get("flow_50") or {"value": self.flow_50}
            return {"name": "Flow at 50 Pa", "quantity": "flow", **interval}
        shown = self.figures.get("shown") or []
        return dict(shown[0]) if shown else None

    @property
    def may_be_reported(self) -> bool:
        """A rejected or provisional result is shown, but never enters a comparison."""
        return self.verdict in {self.Verdict.VALID, self.Verdict.ADVISORY}


class Confirmation(models.Model):
    """Someone stands for an odd value: the question of a check answered by name and reason."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    test_run = models.ForeignKey(TestRun, on_delete=models.PROTECT, related_name="confirmations")
    code = models.CharField(max_length=80, help_text="The rule that asked.")
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(default=timezone.now, editable=False)
    reason = models.TextField()
    second_by = models.ForeignKey(
        User, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    second_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["at", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["test_run", "code"], name="confirmation_once_a_question"
            ),
            models.CheckConstraint(
                condition=models.Q(second_by=None, second_at=None)
                | models.Q(second_by__isnull=False, second_at__isnull=False)
                & ~models.Q(second_by=models.F("by")),
                name="confirmation_seconded_by_another",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.code} confirmed by {self.by}"

    def second(self, by: User) -> None:
        """Another reviewer stands for the value too."""
        if self.second_by is not None:
            raise ActionRefused(f"{self.second_by} has stood for this value already.")
        if not by.may_review:
            raise ActionRefused(f"A reviewer stands for a value. You are signed in as {by}.")
        if by == self.by:
            raise ActionRefused(
                f"{by} has confirmed this value; a second person stands for it. Ask a colleague."
            )
        self.second_by, self.second_at = by, timezone.now()
        self.save(update_fields=["second_by", "second_at"])


class SideSwap(models.Model):
    """A reviewer turned a channel's readings: the hoses were on each other's taps."""

    class Channel(models.TextChoices):
        A = "A", "Channel A"
        B = "B", "Channel B"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    test_run = models.ForeignKey(TestRun, on_delete=models.PROTECT, related_name="side_swaps")
    channel = models.CharField(max_length=1, choices=Channel)
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(default=timezone.now, editable=False)
    reason = models.TextField()

    class Meta:
        ordering = ["at", "id"]

    def __str__(self) -> str:
        return f"{self.get_channel_display()} turned by {self.by}"


class Comparison(models.Model):
    """Before against after for one job, computed from accepted results only."""

    class Verdict(models.TextChoices):
        DETECTABLE = "detectable", "Reduction shown"
        NOT_DETECTABLE = "not_detectable", "Not larger than its uncertainty"
        NOT_COMPARABLE = "not_comparable", "Not comparable"
        NO_BEFORE = "no_before", "No test before the work"
        NO_AFTER = "no_after", "No test after the work"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="comparisons")
    before = models.ForeignKey(Result, on_delete=models.PROTECT, null=True, related_name="+")
    after = models.ForeignKey(Result, on_delete=models.PROTECT, null=True, related_name="+")
    computed_at = models.DateTimeField(default=timezone.now, editable=False)
    maths_version = models.CharField(max_length=20)
    input_hash = models.CharField(max_length=64)
    verdict = models.CharField(max_length=16, choices=Verdict)
    before_flow_50 = models.FloatField(null=True, help_text="m³/s")
    after_flow_50 = models.FloatField(null=True, help_text="m³/s")
    reduction = models.FloatField(null=True, help_text="Share of the flow before, 0.3 for 30 %.")
    reduction_uncertainty = models.FloatField(null=True, help_text="Standard, k = 1, same share.")
    reasons = models.JSONField(default=list)
    figures = models.JSONField(default=dict)

    objects = ComparisonQuerySet.as_manager()

    class Meta:
        ordering = ["-computed_at", "-id"]
        indexes = [models.Index(fields=["job", "-computed_at"], name="comparison_newest")]

    def __str__(self) -> str:
        return f"{self.job}: {self.get_verdict_display()}"


class RefusedUpload(models.Model):
    """A record that could not be stored as a test run, kept word for word with the reasons."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    device = models.ForeignKey(Device, on_delete=models.PROTECT, related_name="refused_uploads")
    received_at = models.DateTimeField(default=timezone.now, editable=False)
    client_key = models.CharField(max_length=64, blank=True)
    document = models.TextField(editable=False)
    document_hash = models.CharField(max_length=64, editable=False)
    reasons = models.JSONField()

    class Meta:
        ordering = ["-received_at", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["device", "client_key", "document_hash"], name="refused_upload_once"
            )
        ]

    def __str__(self) -> str:
        return f"Refused upload from {self.device}, {self.received_at:%Y-%m-%d %H:%M}"


class InstrumentUse(models.Model):
    """An instrument named in a run's document, kept apart so that its runs can be found."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    test_run = models.ForeignKey(TestRun, on_delete=models.PROTECT, related_name="instrument_uses")
    kind = models.CharField(max_length=12, choices=Instrument.Kind, blank=True)
    serial = models.CharField(max_length=40)

    objects = InstrumentUseQuerySet.as_manager()

    class Meta:
        ordering = ["kind", "serial"]
        constraints = [
            models.UniqueConstraint(
                fields=["test_run", "kind", "serial"], name="instrument_use_once_a_run"
            )
        ]
        indexes = [models.Index(fields=["serial"], name="instrument_use_serial")]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.serial}".strip()
