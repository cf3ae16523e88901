"""What waits for someone at a desk, as lists that the today page counts and other pages show."""

from datetime import datetime, timedelta
from typing import cast

from django.conf import settings
from django.db.models import Exists, OuterRef, QuerySet

from agency.accounts.models import Device
from agency.diagnostics.models import Result, TestRun
from agency.diagnostics.querysets import TestRunQuerySet
from agency.outbox.models import Errand

QUIET_AFTER = timedelta(days=3)
"""A paired phone that has not called for this long is listed. Own choice."""

STUCK_AFTER = timedelta(minutes=10)
"""Work promised to the workers this long ago and still open is listed. Own choice."""

BATCH = timedelta(days=7)
"""Refused uploads stay on the today page for this long. Own choice."""


def returned_runs() -> TestRunQuerySet:
    """Sent back to a crew, and no later run of the same phase has come in for the job."""
    later = TestRun.objects.filter(
        job=OuterRef("job"), phase=OuterRef("phase"), received_at__gt=OuterRef("received_at")
    )
    return TestRun.objects.returned().exclude(Exists(later))


def unreportable_runs() -> TestRunQuerySet:
    """Not sent back, but the current result is rejected, provisional or missing its figures."""
    verdicts = [Result.Verdict.REJECTED, Result.Verdict.PROVISIONAL, Result.Verdict.NOT_COMPUTED]
    results = Result.objects.current().filter(verdict__in=verdicts)
    return TestRun.objects.exclude(review=TestRun.Review.RETURNED).filter(results__in=results)


def uncomputed_runs() -> TestRunQuerySet:
    """Received, but no worker has computed a result yet."""
    return TestRun.objects.filter(results=None)


def quiet_phones(now: datetime) -> "QuerySet[Device]":
    """Paired phones whose last call is longer ago than `QUIET_AFTER`.

    Each call renews the token, so its last day tells when that was.
    """
    return Device.objects.filter(
        revoked_at=None, token__expiry__lt=now + _token_lifetime() - QUIET_AFTER
    ).select_related("user", "token")


def last_heard(device: Device) -> datetime | None:
    """When the phone last called; None when its token is gone."""
    if device.token is None or device.token.expiry is None:
        return None
    heard: datetime = device.token.expiry - _token_lifetime()
    return heard


def _token_lifetime() -> timedelta:
    return cast(timedelta, settings.REST_KNOX["TOKEN_TTL"])


def stuck_errands(now: datetime) -> "QuerySet[Errand]":
    """Given up, or promised long ago and still not done."""
    failed = Errand.objects.filter(state=Errand.State.FAILED)
    return failed | Errand.objects.open().filter(created_at__lt=now - STUCK_AFTER)


def work_words(errand: Errand) -> str:
    """What a worker was asked to do."""
    name = errand.task.rsplit(".", 1)[-1].replace("_", " ")
    return name[:1].upper() + name[1:]
