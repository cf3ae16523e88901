"""What an instrument touched. Runs, homes and quarters are counted by hand (derived)."""

import csv
import io
from datetime import UTC, date, datetime

import pytest

from agency.diagnostics.excepting import InstrumentException
from agency.instruments.models import Calibration, Instrument
from agency.reports.exports import csv_of
from agency.reports.look_back import look_back
from agency.reports.look_back_table import look_back_head, look_back_table

pytestmark = pytest.mark.django_db

ON = date(2026, 11, 25)


def at(*when):
    return datetime(*when, tzinfo=UTC)


@pytest.fixture
def gauge():
    """Found out of tolerance on July 1, 2026; the calibration before was on January 15, 2026."""
    instrument = Instrument.objects.create(kind="gauge", serial="QG-014")
    for on, good in ((date(2026, 1, 15), True), (date(2026, 7, 1), False)):
        Calibration.objects.create(
            instrument=instrument,
            calibrated_on=on,
            due_on=on.replace(year=2027),
            laboratory="Quillmoor Metrology",
            as_found_good=good,
        )
    return instrument


@pytest.fixture
def counted(make_job, make_run):
    """Approved jobs whose runs were made on the given days; counted on the given day."""

    def make(counted_on, *made, **job):
        status = job.pop("status", "approved")
        one = make_job(status=status, inspection_passed_on=counted_on, **job)
        return one, [make_run(one, taken_at=moment) for moment in made]

    return make


def test_runs_homes_and_reports_since_the_last_good_calibration(gauge, counted):
    counted(date(2026, 3, 31), at(2026, 1, 14, 18), at(2026, 3, 1, 18))
    counted(date(2026, 4, 1), at(2026, 4, 1, 18))
    counted(date(2026, 8, 4), at(2026, 8, 1, 18))
    found = look_back(gauge, on=ON)

    assert found.last_good.calibrated_on == date(2026, 1, 15)
    assert len(found.in_doubt.runs) == 2
    assert len(found.in_doubt.homes) == 2
    assert [(one.period.code, one.homes) for one in found.in_doubt.reports] == [
        ("QM-26-01-2", 1),
        ("2026-Q2", 1),
        ("QM-26-01-1", 1),
        ("2026-Q1", 1),
    ]
    assert len(found.since_last_good.runs) == 3
    assert "2026-Q3" in {one.period.code for one in found.since_last_good.reports}


def test_a_home_tested_twice_is_one_home_and_counts_once_in_a_report(gauge, counted):
    job, _ = counted(date(2026, 4, 1), at(2026, 3, 1, 18), at(2026, 3, 20, 18))
    found = look_back(gauge, on=ON).in_doubt
    assert (len(found.runs), len(found.homes), len(found.jobs)) == (2, 1, 1)
    assert {one.homes for one in found.reports} == {1}
    counted(None, at(2026, 3, 2, 18), status="in_progress", house=job.house)
    found = look_back(gauge, on=ON).in_doubt
    assert (len(found.runs), len(found.homes), len(found.jobs)) == (3, 1, 2)


def test_a_job_not_approved_touches_no_report_yet(gauge, counted):
    counted(date(2026, 4, 1), at(2026, 3, 1, 18), status="inspection_passed")
    found = look_back(gauge, on=ON).in_doubt
    assert (len(found.runs), found.reports) == (1, ())


def test_a_day_outside_the_grant_counts_in_the_calendar_quarter_only(gauge, counted):
    counted(date(2027, 1, 5), at(2026, 3, 1, 18))
    assert [one.period.code for one in look_back(gauge, on=ON).in_doubt.reports] == ["2027-Q1"]


def test_last_day_of_a_quarter_belongs_to_it(gauge, counted):
    counted(date(2026, 6, 30), at(2026, 3, 1, 18))
    found = {one.period.code for one in look_back(gauge, on=ON).in_doubt.reports}
    assert found == {"2026-Q2", "QM-26-01-2"}


def test_an_exception_takes_its_run_off_the_count_and_is_named(gauge, counted, cast):
    _, (first, second) = counted(date(2026, 4, 1), at(2026, 3, 1, 18), at(2026, 3, 2, 18))
    exception = InstrumentException.objects.create(
        instrument=gauge,
        cause="out_of_tolerance",
        test_run=first,
        by=cast.manager,
        reason="Read beside QG-021 the same day.",
    )
    found = look_back(gauge, on=ON)
    assert [one.run.pk for one in found.in_doubt.open_runs] == [second.pk]
    assert {one.run.pk: one.exception for one in found.in_doubt.runs} == {
        first.pk: exception,
        second.pk: None,
    }
    exception.withdraw(cast.manager)
    found = look_back(gauge, on=ON)
    assert len(found.in_doubt.open_runs) == 2
    assert found.exceptions == (exception,)


def test_without_any_calibration_every_run_is_listed(counted):
    gauge = Instrument.objects.create(kind="gauge", serial="QG-014")
    counted(date(2026, 4, 1), at(2019, 3, 1, 18), at(2026, 3, 2, 18))
    found = look_back(gauge, on=ON)
    assert len(found.in_doubt.runs) == len(found.since_last_good.runs) == 2


def test_newest_run_comes_first(gauge, counted):
    counted(date(2026, 4, 1), at(2026, 3, 1, 18), at(2026, 3, 9, 18), at(2026, 2, 9, 18))
    days = [one.made_on for one in look_back(gauge, on=ON).in_doubt.runs]
    assert days == [date(2026, 3, 9), date(2026, 3, 1), date(2026, 2, 9)]


def test_as_many_questions_for_many_runs_as_for_one(gauge, counted, django_assert_num_queries):
    for number in range(20):
        counted(date(2026, 4, 1), at(2026, 3, 1 + number, 18))
    fetched = Instrument.objects.prefetch_related("calibrations").get()
    with django_assert_num_queries(2):
        found = look_back(fetched, on=ON)
        assert len(found.in_doubt.reports) == 2
        assert len({one.run.job.house.city for one in found.in_doubt.runs}) == 1


def test_the_file_holds_every_run_and_no_formula(gauge, counted, cast):
    _, (run,) = counted(date(2026, 4, 1), at(2026, 3, 1, 18))
    InstrumentException.objects.create(
        instrument=gauge,
        cause="out_of_tolerance",
        from_day=date(2026, 3, 1),
        to_day=date(2026, 3, 1),
        by=cast.manager,
        reason="=HYPERLINK(1)",
    )
    found = look_back(gauge, on=ON)
    head = look_back_head(found, found.in_doubt, listed="in doubt", now=at(2026, 11, 25, 18))
    text = csv_of(look_back_table(found.in_doubt), head).decode()
    before, _, table = text.partition("\r\n\r\n")
    told = dict(line for line in csv.reader(io.StringIO(before)))
    assert told["test_runs"] == "1"
    assert told["test_runs_in_doubt_without_exception"] == "0"
    assert told["last_good_calibration"] == "2026-01-15"
    (row,) = csv.DictReader(io.StringIO(table))
    assert row["test_run_id"] == str(run.pk)
    assert row["made_on"] == "2026-03-01"
    assert row["in_doubt_because"] == "It was found out of tolerance on Jul 1, 2026."
    assert row["excepted_by"] == str(cast.manager)
    assert row["exception_reason"] == "'=HYPERLINK(1)"
