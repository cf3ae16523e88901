"""Which days an instrument cannot be vouched for. The days are counted by hand (derived)."""

from datetime import date, timedelta

import pytest

from agency.instruments.doubts import Cause
from agency.instruments.models import Calibration, Instrument

pytestmark = pytest.mark.django_db

ON = date(2026, 11, 25)


@pytest.fixture
def gauge():
    return Instrument.objects.create(kind="gauge", serial="QG-014")


def calibrate(instrument, on, due, *, as_found_good=None):
    return Calibration.objects.create(
        instrument=instrument,
        calibrated_on=on,
        due_on=due,
        laboratory="Quillmoor Metrology",
        as_found_good=as_found_good,
    )


def spans(instrument, on=ON):
    return [(one.cause, one.from_day, one.to_day) for one in instrument.doubts(on)]


def test_without_a_calibration_every_use_is_in_doubt(gauge):
    assert spans(gauge) == [(Cause.NEVER_CALIBRATED, None, None)]
    assert gauge.doubts(ON)[0].holds(date(1999, 1, 1))
    assert gauge.last_good_calibration(ON) is None


def test_while_the_only_calibration_runs_nothing_after_it_is_in_doubt(gauge):
    calibrate(gauge, date(2026, 3, 2), date(2027, 3, 2))
    assert spans(gauge) == [(Cause.NEVER_CALIBRATED, None, date(2026, 3, 1))]
    assert not any(one.holds(date(2026, 3, 2)) for one in gauge.doubts(ON))


def test_overdue_from_the_day_after_the_due_date_and_still_going_on(gauge):
    calibrate(gauge, date(2025, 3, 2), date(2026, 3, 2), as_found_good=True)
    assert spans(gauge) == [(Cause.OVERDUE, date(2026, 3, 3), None)]
    assert spans(gauge, date(2026, 3, 2)) == []
    assert spans(gauge, date(2026, 3, 3)) == [(Cause.OVERDUE, date(2026, 3, 3), None)]
    assert "due again on Mar 2, 2026." in gauge.doubts(ON)[0].reason


def test_found_out_of_tolerance_discredits_every_day_since_the_calibration_before(gauge):
    before = calibrate(gauge, date(2025, 3, 2), date(2026, 3, 2), as_found_good=True)
    calibrate(gauge, date(2026, 2, 20), date(2027, 2, 20), as_found_good=False)
    assert spans(gauge) == [(Cause.OUT_OF_TOLERANCE, date(2025, 3, 2), date(2026, 2, 19))]
    assert gauge.last_good_calibration(ON) == before


def test_a_finding_is_not_known_before_it_was_made(gauge):
    calibrate(gauge, date(2025, 3, 2), date(2026, 3, 2), as_found_good=True)
    found = calibrate(gauge, date(2026, 2, 20), date(2027, 2, 20), as_found_good=False)
    assert spans(gauge, found.calibrated_on - timedelta(days=1)) == []


def test_first_calibration_out_of_tolerance_discredits_everything_before_it(gauge):
    calibrate(gauge, date(2026, 2, 20), date(2027, 2, 20), as_found_good=False)
    assert spans(gauge) == [(Cause.OUT_OF_TOLERANCE, None, date(2026, 2, 19))]
    assert gauge.last_good_calibration(ON) is None


def test_good_as_found_vouches_for_the_overdue_days_before_it(gauge):
    calibrate(gauge, date(2024, 3, 2), date(2025, 3, 2), as_found_good=True)
    newest = calibrate(gauge, date(2026, 3, 2), date(2027, 3, 2), as_found_good=True)
    assert spans(gauge) == []
    assert gauge.last_good_calibration(ON) == newest


def test_a_certificate_that_does_not_say_leaves_the_overdue_days_in_doubt(gauge):
    calibrate(gauge, date(2024, 3, 2), date(2025, 3, 2), as_found_good=True)
    newest = calibrate(gauge, date(2026, 3, 2), date(2027, 3, 2))
    assert spans(gauge) == [(Cause.OVERDUE, date(2025, 3, 3), date(2026, 3, 1))]
    assert "does not say how it was found" in gauge.doubts(ON)[0].reason
    assert gauge.last_good_calibration(ON) == newest


def test_calibrated_on_the_due_date_leaves_no_gap(gauge):
    calibrate(gauge, date(2024, 3, 2), date(2025, 3, 2), as_found_good=True)
    calibrate(gauge, date(2025, 3, 3), date(2027, 3, 2))
    assert spans(gauge) == []


def test_doubts_come_in_order_and_never_overlap(gauge):
    calibrate(gauge, date(2026, 8, 1), date(2026, 10, 1))
    calibrate(gauge, date(2024, 1, 10), date(2025, 1, 10), as_found_good=False)
    calibrate(gauge, date(2025, 1, 20), date(2026, 1, 20), as_found_good=False)
    assert spans(gauge) == [
        (Cause.OUT_OF_TOLERANCE, None, date(2024, 1, 9)),
        (Cause.OUT_OF_TOLERANCE, date(2024, 1, 10), date(2025, 1, 19)),
        (Cause.OVERDUE, date(2026, 1, 21), date(2026, 7, 31)),
        (Cause.OVERDUE, date(2026, 10, 2), None),
    ]


def test_a_doubt_spans_only_days_wholly_inside_it(gauge):
    calibrate(gauge, date(2025, 3, 2), date(2026, 3, 2), as_found_good=True)
    doubt = gauge.doubts(ON)[0]
    assert doubt.spans(date(2026, 3, 3), ON)
    assert not doubt.spans(date(2026, 3, 2), ON)


def test_doubts_of_fetched_calibrations_ask_the_database_nothing(gauge, django_assert_num_queries):
    calibrate(gauge, date(2025, 3, 2), date(2026, 3, 2))
    fetched = Instrument.objects.prefetch_related("calibrations").get()
    with django_assert_num_queries(0):
        fetched.doubts(ON)
        fetched.last_good_calibration(ON)
