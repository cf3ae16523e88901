"""A manager lets readings of an instrument in doubt stand: by name, with a reason, one cause."""

from datetime import UTC, date, datetime

import pytest

from agency import workflows
from agency.diagnostics.doubting import doubted_uses_of
from agency.diagnostics.excepting import InstrumentException
from agency.errors import ActionRefused, TransitionRefused
from agency.instruments.models import Calibration, Instrument
from agency.outbox.models import Errand

pytestmark = pytest.mark.django_db

ON = date(2026, 11, 25)
REASON = "Read beside QG-021 the same day; both agreed within 0.3 Pa."


def overdue(kind, serial):
    """Due again on March 2, 2026."""
    instrument = Instrument.objects.create(kind=kind, serial=serial)
    Calibration.objects.create(
        instrument=instrument,
        calibrated_on=date(2025, 3, 2),
        due_on=date(2026, 3, 2),
        laboratory="Quillmoor Metrology",
        as_found_good=True,
    )
    return instrument


@pytest.fixture
def gauge(db):
    return overdue("gauge", "QG-014")


@pytest.fixture
def run(make_job, make_run):
    """Made on April 14, 2026, while the gauge was overdue; its result asks about that."""
    made = make_run(
        make_job(status="in_progress"),
        verdict="provisional",
        taken_at=datetime(2026, 4, 14, 15, 5, tzinfo=UTC),
    )
    question = {"code": "calibration.overdue", "severity": "question", "status": "advisory"}
    made.results.update(checks=[question | {"confirmed": False}])
    return made


def let_stand(gauge, run, by, reason=REASON):
    return workflows.except_run(gauge.pk, run.pk, by, reason=reason, on=ON)


def let_days_stand(gauge, by, first, last, reason=REASON):
    return workflows.except_period(gauge.pk, by, from_day=first, to_day=last, reason=reason, on=ON)


@pytest.mark.parametrize("role", ["manager", "admin"])
def test_a_manager_lets_one_run_stand_by_name_and_reason(gauge, run, cast, role):
    made = let_stand(gauge, run, getattr(cast, role))
    (use,) = doubted_uses_of(run, on=ON)
    assert use.exception == made
    assert (made.by, made.reason, made.cause) == (getattr(cast, role), REASON, "overdue")


def test_it_changes_no_figure(gauge, run, cast):
    before = list(run.results.values())
    let_stand(gauge, run, cast.manager)
    assert list(run.results.values()) == before


@pytest.mark.parametrize("role", ["office", "inspector", "crew_lead"])
def test_nobody_else_does(gauge, run, cast, role):
    with pytest.raises(ActionRefused, match="Only a manager lets readings in doubt stand"):
        let_stand(gauge, run, getattr(cast, role))
    with pytest.raises(ActionRefused, match="Only a manager lets readings in doubt stand"):
        let_days_stand(gauge, getattr(cast, role), date(2026, 4, 1), date(2026, 4, 30))
    assert not InstrumentException.objects.exists()


@pytest.mark.parametrize("reason", ["", "  \n\t"])
def test_blanks_are_no_reason(gauge, run, cast, reason):
    with pytest.raises(ActionRefused, match="Write why the readings may stand"):
        let_stand(gauge, run, cast.manager, reason)
    with pytest.raises(ActionRefused, match="Write why the readings may stand"):
        let_days_stand(gauge, cast.manager, date(2026, 4, 1), date(2026, 4, 30), reason)


def test_the_open_question_about_the_calibration_is_answered_with_it(gauge, run, cast):
    let_stand(gauge, run, cast.manager)
    (answer,) = run.confirmations.all()
    assert (answer.code, answer.by, answer.reason) == ("calibration.overdue", cast.manager, REASON)
    assert Errand.objects.filter(task=workflows.EVALUATE, subject=run.pk).exists()


def test_the_question_stays_open_while_another_instrument_of_the_run_is_in_doubt(gauge, run, cast):
    fan = overdue("fan", "QF-003")
    run.instrument_uses.create(kind="fan", serial="QF-003")
    let_stand(gauge, run, cast.manager)
    assert not run.confirmations.exists()
    let_stand(fan, run, cast.manager)
    assert run.confirmations.count() == 1


def test_a_question_answered_before_is_not_answered_twice(gauge, run, cast):
    run.confirm("calibration.overdue", cast.office, "Checked.")
    let_stand(gauge, run, cast.manager)
    assert [one.by for one in run.confirmations.all()] == [cast.office]


def test_an_approved_job_is_excepted_without_reopening_its_review(gauge, cast, make_job, make_run):
    run = make_run(make_job(status="approved"), taken_at=datetime(2026, 4, 14, 15, 5, tzinfo=UTC))
    let_stand(gauge, run, cast.manager)
    assert not run.confirmations.exists()


def test_a_run_not_in_doubt_needs_no_exception(gauge, cast, make_job, make_run):
    early = make_run(make_job(), taken_at=datetime(2026, 3, 2, 18, tzinfo=UTC))
    with pytest.raises(ActionRefused, match="was not made while"):
        let_stand(gauge, early, cast.manager)


def test_a_run_is_let_stand_once(gauge, run, cast):
    let_stand(gauge, run, cast.manager)
    with pytest.raises(ActionRefused, match="has already excepted Building tightness"):
        let_stand(gauge, run, cast.admin)
    assert InstrumentException.objects.count() == 1


def test_a_period_inside_one_doubt(gauge, run, cast):
    made = let_days_stand(gauge, cast.manager, date(2026, 3, 3), date(2026, 4, 14))
    (use,) = doubted_uses_of(run, on=ON)
    assert use.exception == made


def test_days_excepted_already_are_refused_until_that_is_withdrawn(gauge, cast):
    wide = let_days_stand(gauge, cast.manager, date(2026, 3, 3), date(2026, 4, 30))
    with pytest.raises(ActionRefused, match="has already excepted Mar 3, 2026 to Apr 30, 2026"):
        let_days_stand(gauge, cast.manager, date(2026, 4, 1), date(2026, 4, 2))
    workflows.withdraw_exception(wide.pk, cast.manager)
    let_days_stand(gauge, cast.manager, date(2026, 4, 1), date(2026, 4, 2))


@pytest.mark.parametrize(
    ("first", "last", "told"),
    [
        (date(2026, 3, 2), date(2026, 4, 30), "Mar 2, 2026 to Apr 30, 2026 does not lie inside"),
        (date(2026, 4, 30), date(2026, 4, 1), "is no period that has passed"),
        (date(2026, 4, 1), date(2026, 11, 26), "not after today, Nov 25, 2026"),
    ],
)
def test_a_period_partly_outside_is_refused_with_its_days(gauge, cast, first, last, told):
    with pytest.raises(ActionRefused, match=told):
        let_days_stand(gauge, cast.manager, first, last)


def test_withdrawn_by_name_and_kept_on_record(gauge, run, cast):
    made = let_stand(gauge, run, cast.manager)
    workflows.withdraw_exception(made.pk, cast.admin)
    (use,) = doubted_uses_of(run, on=ON)
    assert use.exception is None
    made.refresh_from_db()
    assert made.withdrawn_by == cast.admin
    with pytest.raises(TransitionRefused, match="has already done so"):
        workflows.withdraw_exception(made.pk, cast.manager)
    let_stand(gauge, run, cast.manager)
    assert InstrumentException.objects.count() == 2


def test_withdrawn_by_a_manager_only(gauge, run, cast):
    made = let_stand(gauge, run, cast.manager)
    with pytest.raises(TransitionRefused, match="only a manager does this"):
        workflows.withdraw_exception(made.pk, cast.office)
    assert InstrumentException.objects.standing().exists()
