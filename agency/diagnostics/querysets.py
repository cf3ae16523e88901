"""Questions the office asks about test runs, in its own words."""

from typing import TYPE_CHECKING, Any, Self

from django.db import models
from django.db.models import Exists, OuterRef, Subquery

from agency.jobs.models import CLOSED, ENDED, Job

if TYPE_CHECKING:
    from agency.accounts.models import User

    from .models import Comparison, Result, TestRun  # noqa: F401  named in the base classes


class TestRunQuerySet(models.QuerySet["TestRun"]):
    """Test runs as the reviewer speaks of them."""

    __test__ = False

    def of_kind(self, kind: str) -> Self:
        """Runs of one kind of test."""
        return self.filter(kind=kind)

    def unreviewed(self) -> Self:
        """Neither accepted nor sent back, evaluated or not."""
        return self.filter(review=self.model.Review.TO_REVIEW)

    def to_review(self) -> Self:
        """Evaluated, not yet judged, and of a job that is still open."""
        evaluated = self.unreviewed().filter(results__isnull=False)
        return evaluated.exclude(job__status__in=ENDED).distinct()

    def late_evidence(self) -> Self:
        """Came in after the job was approved: kept in the file, changes no figure."""
        return self.unreviewed().filter(job__status__in=CLOSED)

    def accepted(self) -> Self:
        """Accepted by a reviewer."""
        return self.filter(review=self.model.Review.ACCEPTED)

    def returned(self) -> Self:
        """Sent back to the crew, and no later run of its kind and phase has come in for the job."""
        later = self.model.objects.filter(
            job=OuterRef("job"),
            kind=OuterRef("kind"),
            phase=OuterRef("phase"),
            received_at__gt=OuterRef("received_at"),
        )
        return self.filter(review=self.model.Review.RETURNED).exclude(Exists(later))

    def unreportable(self) -> Self:
        """Of open jobs and not sent back, but the current result may not be reported."""
        result: Any = self.model.results.rel.related_model
        newest = result.objects.current()
        return self.exclude(review=self.model.Review.RETURNED).filter(
            job__in=Job.objects.open(),
            results__in=newest.filter(verdict__in=["rejected", "provisional", "not_computed"]),
        )

    def uncomputed(self) -> Self:
        """Received, but no worker has computed a result yet."""
        return self.filter(results=None)

    def visible_to(self, user: "User") -> Self:
        """Desk staff see every run, a crew member only those of the own crew's jobs."""
        if user.works_at_desk:
            return self
        return self.filter(job__crew__members__user=user)

    def with_result(self) -> Self:
        """Fetched with job, house, client, reviewer and the current result."""
        return self.select_related(
            "job__house", "job__client", "job__crew", "device__user", "reviewed_by", "uploaded_by"
        ).prefetch_related("results")


class ComparisonQuerySet(models.QuerySet["Comparison"]):
    """Before/after comparisons."""

    def current(self) -> Self:
        """The newest comparison of each job."""
        newest = self.model.objects.filter(job=OuterRef("job")).order_by("-computed_at", "-id")
        return self.filter(pk=Subquery(newest.values("pk")[:1]))


class ResultQuerySet(models.QuerySet["Result"]):
    """Stored results."""

    def current(self) -> Self:
        """The newest result of each test run."""
        newest = self.model.objects.filter(test_run=OuterRef("test_run"))
        return self.filter(pk=Subquery(newest.order_by("-computed_at", "-id").values("pk")[:1]))
