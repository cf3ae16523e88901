"""Retention: the longest rule counts, and what cannot be told is kept."""

from datetime import UTC, date, datetime
from io import StringIO

import pytest
from django.core.management import call_command

from agency.accounts.models import User
from agency.jobs.models import Job
from agency.people.models import Client
from agency.programs.models import Program
from agency.retention.keeping import due_files, kept_files

pytestmark = pytest.mark.django_db


@pytest.fixture
def closed(make_job, cast):
    """A job withdrawn on 5 May 2018 under a grant whose final report is of 30 Sep 2019."""
    job = make_job()
    job.withdraw(cast.office, "Moved away")
    at = datetime(2018, 5, 5, 15, tzinfo=UTC)
    job.events.update(at=at)
    Client.history.update(history_date=at)
    Program.objects.update(final_report_on=date(2019, 9, 30))
    return job


def test_six_years_after_the_last_entry(closed):
    """New York archive schedule, read; three years after the report end earlier, in 2022."""
    (kept,) = kept_files(on=date(2026, 1, 1))
    assert (kept.until, kept.why) == (date(2024, 5, 5), "6 years after the last entry")


def test_three_years_after_the_final_report_when_that_is_later(closed):
    """2 CFR 200.334, read."""
    Program.objects.update(final_report_on=date(2022, 9, 30))
    (kept,) = kept_files(on=date(2026, 1, 1))
    assert kept.until == date(2025, 9, 30)


def test_due_the_day_after_not_on_the_day(closed):
    assert due_files(on=date(2024, 5, 5)) == []
    assert [kept.client for kept in due_files(on=date(2024, 5, 6))] == [closed.client]


def test_without_a_final_report_the_file_is_kept(closed):
    Program.objects.update(final_report_on=None)
    (kept,) = kept_files(on=date(2050, 1, 1))
    assert kept.until is None
    assert "no final report yet" in kept.why
    assert due_files(on=date(2050, 1, 1)) == []


def test_held_open_and_erased_files_are_not_due(closed, make_job):
    day = date(2050, 1, 1)
    make_job(client=closed.client, house=closed.house)
    assert due_files(on=day) == []
    Job.objects.exclude(pk=closed.pk).delete()
    assert len(due_files(on=day)) == 1
    Client.objects.filter(pk=closed.client_id).update(legal_hold="Claim open")
    assert due_files(on=day) == []


def test_the_command_is_a_dry_run_until_told_otherwise(closed):
    out = StringIO()
    call_command("retention", stdout=out)
    assert f"{closed.client_id}  kept until 2024-05-05" in out.getvalue()
    assert "1 file(s) due; nothing is changed" in out.getvalue()
    assert Client.objects.get(pk=closed.client_id).erased_at is None
    call_command("retention", "--erase", stdout=out)
    assert Client.objects.get(pk=closed.client_id).erased_at is not None
    assert User.objects.filter(username="odette").exists()


def test_nothing_is_erased_before_its_time(closed):
    err = StringIO()
    call_command("retention", "--erase", "--on", "2090-01-01", stdout=StringIO(), stderr=err)
    assert "has not come yet" in err.getvalue()
    assert Client.objects.get(pk=closed.client_id).erased_at is None
