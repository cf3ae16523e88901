"""A job is reported once a locked quarter counts it; reopened, it stands as a correction."""

from datetime import UTC, date, datetime

import pytest
import time_machine

from agency import workflows
from agency.casework import steps
from agency.errors import ActionRefused, AgencyError
from agency.reports.corrections import note_corrections
from agency.reports.models import Correction
from agency.reports.periods import Period

pytestmark = pytest.mark.django_db
JULY = datetime(2026, 7, 2, 14, 30, tzinfo=UTC)


@pytest.fixture(autouse=True)
def in_july():
    with time_machine.travel(JULY, tick=False):
        yield


def lock(cast):
    spring = Period.parse("2026-Q2")
    workflows.lock_quarter(spring, None, cast.manager, typed="2026-Q2", now=JULY)


def test_reported_only_when_a_locked_quarter_counts_it(cast, make_job):
    job = make_job(status="approved")
    with pytest.raises(ActionRefused, match="No locked quarter counts it"):
        steps.report(job.pk, cast.manager)
    lock(cast)
    steps.report(job.pk, cast.manager)
    job.refresh_from_db()
    assert job.status == "reported"
    with pytest.raises(AgencyError, match="is reported; it cannot be reported"):
        steps.report(job.pk, cast.manager)


def test_a_lock_of_another_time_does_not_count(cast, make_job):
    job = make_job(status="approved", inspection_passed_on=date(2026, 3, 30))
    lock(cast)
    with pytest.raises(ActionRefused, match="its counting date is Mar 30, 2026"):
        steps.report(job.pk, cast.manager)


def test_a_reopened_job_of_a_locked_quarter_becomes_a_correction(cast, make_job):
    job = make_job(status="approved")
    lock(cast)
    steps.report(job.pk, cast.manager)
    note_corrections(JULY)
    assert not Correction.objects.exists()
    asked = steps.ask_reopening(job.pk, cast.manager, reason="Fan fell down.", goal="rework")
    steps.decide_reopening(asked.pk, cast.admin, as_approved=True)
    note_corrections(JULY)
    assert {one.job for one in Correction.objects.all()} == {job}
