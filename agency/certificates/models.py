"""Certificates: frozen figures, a number, a file; a reissue never changes an old one."""

import uuid

from django.db import models
from django.utils import timezone
from simple_history.models import HistoricalRecords

from agency.accounts.models import User
from agency.errors import ActionRefused
from agency.estimates.models import SavingsEstimate
from agency.jobs.models import Job

from . import chain


class Handover(models.Model):
    """What a household is told beside its tests, in the household's own language."""

    class LeadSafe(models.TextChoices):
        USED = "used", "Used"
        NOT_NEEDED = "not_needed", "Not needed"

    job = models.OneToOneField(
        Job, on_delete=models.PROTECT, primary_key=True, related_name="handover"
    )
    work = models.TextField(blank=True, help_text="One line a piece of work, the room first.")
    ventilation = models.TextField(blank=True, help_text="What was fitted, and how to use it.")
    alarms = models.TextField(blank=True, help_text="One line an alarm, with the year to replace.")
    lead_safe = models.CharField(
        max_length=12, choices=LeadSafe, blank=True, help_text="Blank: not recorded."
    )
    inspector_certificate = models.CharField(
        max_length=40, blank=True, help_text="Of whoever passed the final inspection."
    )
    written_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    written_at = models.DateTimeField(auto_now=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ["job"]

    def __str__(self) -> str:
        return f"What the household of {self.job} is told"

    @classmethod
    def write(cls, job: Job, by: User, **said: str) -> "Handover":
        """Write down what the next certificate of a job tells; issued ones stay as they are."""
        if not by.may_review:
            raise ActionRefused(
                "Only the office staff and managers write what a household is told."
            )
        if job.status == Job.Status.WITHDRAWN:
            raise ActionRefused(f"{job} is withdrawn; it gets no certificate.")
        handover, _ = cls.objects.update_or_create(job=job, defaults={**said, "written_by": by})
        return handover


class CertificateQuerySet(models.QuerySet["Certificate"]):
    """Questions about issued papers."""

    def in_order(self) -> "CertificateQuerySet":
        """As they were issued, with what each replaces."""
        return self.select_related("replaces").order_by("position")

    def with_code(self, code: str) -> "Certificate | None":
        """The paper whose check code was typed or scanned, however it was spaced."""
        letters = code.upper().replace("-", "").replace(" ", "")
        spelled = f"{letters[:4]}-{letters[4:]}"
        return self.select_related("replaced_by").filter(check_code=spelled).first()


class Certificate(models.Model):
    """One paper handed to a household."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="certificates")
    estimate = models.ForeignKey(SavingsEstimate, on_delete=models.PROTECT, related_name="+")
    number = models.CharField(max_length=32, unique=True)
    check_code = models.CharField(max_length=9, unique=True)
    issued_at = models.DateTimeField(default=timezone.now, editable=False)
    replaces = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="replaced_by"
    )
    reason = models.CharField(max_length=240, blank=True, help_text="Why it was reissued.")
    input_hash = models.CharField(max_length=64)
    figures = models.JSONField()
    file = models.FileField(upload_to="certificates/")
    file_hash = models.CharField(max_length=64)
    position = models.PositiveIntegerField(unique=True, help_text="In the chain, from 1.")
    content_hash = models.CharField(max_length=64)
    chain_hash = models.CharField(max_length=64)

    objects = CertificateQuerySet.as_manager()

    class Meta:
        ordering = ["-issued_at", "-number"]
        constraints = [
            models.UniqueConstraint(fields=["job", "input_hash"], name="certificate_once_an_input")
        ]

    def __str__(self) -> str:
        return f"Certificate {self.number}"

    @property
    def is_replaced(self) -> bool:
        """A later certificate stands in its place."""
        return hasattr(self, "replaced_by")

    def hashed_content(self) -> str:
        """The hash of what the row says now."""
        return chain.content_hash(
            figures=self.figures,
            file_hash=self.file_hash,
            issued_at=self.issued_at.isoformat(),
            reason=self.reason,
            replaces=self.replaces.number if self.replaces else "",
        )

    def append_to(self, last: "Certificate | None") -> None:
        """Take the place after `last` in the chain; the caller lets nobody else do so meanwhile."""
        self.position = last.position + 1 if last else 1
        self.content_hash = self.hashed_content()
        self.chain_hash = chain.link(last.chain_hash if last else chain.FIRST, self.content_hash)
