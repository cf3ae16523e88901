"""Which instruments a run used: written with the run, found again, and backfilled."""

from datetime import UTC, date, datetime, timedelta

import pytest
from django.db import IntegrityError, transaction

from agency.diagnostics.documents import parse
from agency.diagnostics.doubting import doubted_uses, doubted_uses_of
from agency.diagnostics.excepting import InstrumentException
from agency.diagnostics.models import InstrumentUse, TestRun
from agency.diagnostics.storing import store_upload
from agency.diagnostics.uses import serials_of
from agency.instruments.doubts import Cause
from agency.instruments.models import Calibration, Instrument
from tests.diagnostics.examples import E779, example

ON = date(2026, 11, 25)


def used(run):
    return set(run.instrument_uses.values_list("kind", "serial"))


@pytest.fixture
def gauge(db):
    """Due again on Mar 2, 2026, and not calibrated since."""
    instrument = Instrument.objects.create(kind="gauge", serial="QG-014")
    Calibration.objects.create(
        instrument=instrument,
        calibrated_on=date(2025, 3, 2),
        due_on=date(2026, 3, 2),
        laboratory="Quillmoor Metrology",
        as_found_good=True,
    )
    return instrument


def at(*when):
    return datetime(*when, tzinfo=UTC)


def test_a_document_names_its_gauge_and_each_fan_once():
    document = parse(example(E779))
    said = example(E779)
    expected = {("gauge", said["gauge"]["serial"])}
    expected |= {("fan", fan["serial"]) for fan in said["fans"]}
    assert len(serials_of(document)) == len(expected)
    assert set(serials_of(document)) == expected


@pytest.mark.django_db
def test_storing_an_upload_notes_what_it_used(device, make_job):
    record = example(E779) | {"job": str(make_job().pk), "visit": None}
    record["taken_at"] = "2026-04-14T10:05:00-05:00"
    now = at(2026, 4, 14, 16)
    answer = store_upload(device, record, sent_at=now, now=now)
    run = TestRun.objects.get(pk=answer.body["id"])
    assert used(run) == {
        ("gauge", record["gauge"]["serial"]),
        *(("fan", fan["serial"]) for fan in record["fans"]),
    }
    store_upload(device, record, sent_at=now, now=now)
    assert InstrumentUse.objects.count() == 1 + len(record["fans"])


@pytest.mark.django_db
def test_one_instrument_is_noted_once_a_run(make_job, make_run):
    run = make_run(make_job())
    with pytest.raises(IntegrityError), transaction.atomic():
        run.instrument_uses.create(kind="gauge", serial="QG-014")


def test_the_same_serial_on_a_fan_is_another_instrument(gauge, make_job, make_run):
    run = make_run(make_job())
    other = make_run(make_job(), gauge="QG-900")
    other.instrument_uses.create(kind="fan", serial="QG-014")
    open_kind = make_run(make_job(), gauge="QG-901")
    open_kind.instrument_uses.create(kind="", serial="QG-014")
    found = set(InstrumentUse.objects.of(gauge).values_list("test_run", flat=True))
    assert found == {run.pk, open_kind.pk}


@pytest.mark.parametrize(
    ("taken_at", "ahead", "counted"),
    [
        # Midnight of March 3 in Chicago, six hours behind UTC in winter, is 06:00 UTC.
        (at(2026, 3, 3, 5, 59), None, False),
        (at(2026, 3, 3, 6, 0), None, True),
        (at(2026, 3, 3, 6, 30), timedelta(hours=1), False),
        (at(2026, 3, 3, 5, 30), timedelta(hours=-1), True),
    ],
)
def test_a_day_is_a_day_of_the_agency_by_its_own_clock(  # noqa: PLR0917  fixtures
    gauge, make_job, make_run, taken_at, ahead, counted
):
    run = make_run(make_job(), taken_at=taken_at)
    TestRun.objects.filter(pk=run.pk).update(clock_ahead_by=ahead)
    assert InstrumentUse.objects.since(date(2026, 3, 3)).exists() is counted
    assert bool(doubted_uses([gauge], on=ON)) is counted


def test_uses_after_the_due_date_are_in_doubt_and_those_before_are_not(gauge, make_job, make_run):
    make_run(make_job(), taken_at=at(2026, 3, 2, 18))
    late = make_run(make_job(), taken_at=at(2026, 3, 3, 18))
    (use,) = doubted_uses([gauge], on=ON)
    assert (use.run_id, use.doubt.cause, use.exception) == (late.pk, Cause.OVERDUE, None)
    assert [one.instrument for one in doubted_uses_of(late, on=ON)] == [gauge]


def test_an_instrument_the_register_does_not_hold_is_not_spoken_of(make_job, make_run):
    assert doubted_uses_of(make_run(make_job()), on=ON) == []


def test_an_exception_covers_its_run_or_its_days_and_no_other_cause(
    gauge, cast, make_job, make_run
):
    first = make_run(make_job(), taken_at=at(2026, 4, 1, 18))
    second = make_run(make_job(), taken_at=at(2026, 5, 1, 18))
    third = make_run(make_job(), taken_at=at(2026, 6, 1, 18))
    known = {"instrument": gauge, "by": cast.manager, "reason": "Checked against QG-021."}
    mine = InstrumentException.objects.create(test_run=first, cause=Cause.OVERDUE, **known)
    days = InstrumentException.objects.create(
        from_day=date(2026, 5, 1), to_day=date(2026, 5, 1), cause=Cause.OVERDUE, **known
    )
    found = {use.run_id: use.exception for use in doubted_uses([gauge], on=ON)}
    assert found == {first.pk: mine, second.pk: days, third.pk: None}

    gauge.calibrations.create(
        calibrated_on=date(2026, 9, 1),
        due_on=date(2027, 9, 1),
        laboratory="Quillmoor Metrology",
        as_found_good=False,
    )
    found = {use.run_id: use.exception for use in doubted_uses([gauge], on=ON)}
    assert found == {first.pk: None, second.pk: None, third.pk: None}


@pytest.mark.parametrize(
    "changes",
    [
        {"reason": ""},
        {"from_day": date(2026, 5, 2), "to_day": date(2026, 5, 1)},
        {"from_day": None, "to_day": None},
        {"from_day": None},
        {"to_day": None},
        {"withdrawn_at": at(2026, 5, 3)},
    ],
)
def test_the_database_refuses_half_an_exception(gauge, cast, changes):
    whole = {"from_day": date(2026, 5, 1), "to_day": date(2026, 5, 1), "reason": "Checked."}
    with pytest.raises(IntegrityError), transaction.atomic():
        InstrumentException.objects.create(
            instrument=gauge, cause=Cause.OVERDUE, by=cast.manager, **(whole | changes)
        )


def test_doubts_of_many_instruments_take_as_many_questions_as_of_one(
    gauge, cast, make_job, make_run, django_assert_num_queries
):
    for number in range(5):
        Instrument.objects.create(kind="gauge", serial=f"QG-2{number:02}")
        for _ in range(number):
            make_run(make_job(), gauge=f"QG-2{number:02}")
    fetched = list(Instrument.objects.prefetch_related("calibrations"))
    with django_assert_num_queries(2):
        assert len(doubted_uses(fetched, on=ON)) == 10
