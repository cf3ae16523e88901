"""The final inspection: certified on the day, independent of the work, each attempt a record."""

from datetime import date

import pytest

from agency.casework.inspecting import Found, SignedForm, record_inspection
from agency.errors import ActionRefused
from agency.people.models import Credential
from agency.rulebook.models import Rule
from tests.builders import make_credential
from tests.casework_records import make_visit

pytestmark = pytest.mark.django_db
DAY = date(2026, 11, 25)


def passed(**changes):
    return SignedForm(**({"on": DAY, "passed": True} | changes))


def test_a_pass_keeps_credential_independence_and_what_it_rests_on(cast, make_job):
    job = make_job(status="inspection_scheduled")
    form = passed(basis="relied", basis_reason="Same fan, same day.", signed_as="I. Pellworth")
    record_inspection(job.pk, cast.inspector, form)
    one = job.final_inspections.get()
    number = Credential.objects.held_by(cast.inspector).get().number
    assert (one.credential_number, one.independence) == (number, "independent")
    assert (one.basis, one.basis_reason) == ("relied", "Same fan, same day.")
    assert (one.attempt, one.has_passed, one.signed_as) == (1, True, "I. Pellworth")
    assert one.visit.planned_on == DAY


@pytest.mark.parametrize(
    ("days", "words"),
    [
        ({"expires_on": date(2026, 11, 24)}, "expires Nov 24, 2026; it is not valid on Nov 25"),
        ({"issued_on": date(2026, 11, 26)}, "it is not valid on Nov 25, 2026"),
        ({"revoked_on": date(2026, 11, 25)}, "it is not valid on Nov 25, 2026"),
    ],
)
def test_a_credential_not_valid_on_the_day_holds_the_pass_up(cast, make_job, days, words):
    Credential.objects.update(**days)
    job = make_job(status="inspection_scheduled")
    with pytest.raises(ActionRefused, match=words):
        record_inspection(job.pk, cast.inspector, passed())
    assert not job.final_inspections.exists()


def test_a_credential_valid_then_is_enough_though_it_has_expired_since(cast, make_job):
    Credential.objects.update(expires_on=date(2026, 3, 31))
    job = make_job(status="inspection_scheduled")
    record_inspection(job.pk, cast.inspector, passed(on=date(2026, 3, 31)))
    job.refresh_from_db()
    assert job.status == "inspection_passed"


def test_an_auditors_credential_passes_no_inspection(cast, make_job):
    Credential.objects.all().delete()
    make_credential(cast.inspector, "energy_auditor")
    with pytest.raises(ActionRefused, match="No credential “quality control inspector”"):
        record_inspection(make_job(status="inspection_scheduled").pk, cast.inspector, passed())


def test_nobody_inspects_their_own_work(cast, make_job):
    job = make_job(status="inspection_scheduled")
    job.crew.members.create(name="Ignatius", user=cast.inspector)
    with pytest.raises(ActionRefused, match="ignatius has worked on this job"):
        record_inspection(job.pk, cast.inspector, passed())


@pytest.mark.parametrize("may", [True, False])
def test_an_auditor_inspects_the_own_job_only_where_the_rule_book_says_so(cast, make_job, may):
    job = make_job(status="inspection_scheduled")
    make_visit(job, "test_in", crew=None, inspector=cast.inspector, outcome="done")
    Rule.objects.filter(code="inspection.auditor_may_inspect").update(limit=float(may))
    if not may:
        with pytest.raises(ActionRefused, match="made the audit of this job"):
            record_inspection(job.pk, cast.inspector, passed())
        return
    record_inspection(job.pk, cast.inspector, passed())
    assert job.final_inspections.get().independence == "auditor_same"


def test_relying_on_the_crews_test_takes_a_reason(cast, make_job):
    job = make_job(status="inspection_scheduled")
    with pytest.raises(ActionRefused, match="relies on the crew's test without a reason"):
        record_inspection(job.pk, cast.inspector, passed(basis="relied"))


def test_a_failure_lists_its_findings_and_the_next_attempt_is_a_new_record(cast, make_job):
    job = make_job(status="inspection_scheduled")
    found = [
        Found(words="Hatch not sealed.", severity="major", touches="envelope"),
        Found(words="Alarm missing.", severity="safety"),
    ]
    record_inspection(
        job.pk, cast.inspector, SignedForm(on=DAY, passed=False, note="Two.", findings=found)
    )
    job.refresh_from_db()
    assert job.status == "rework"
    assert [(one.severity, one.touches) for one in job.findings.all()] == [
        ("major", "envelope"),
        ("safety", "neither"),
    ]
    for one in job.findings.all():
        one.close(cast.office, "Done; photo taken.")
    job.return_from_rework(cast.office)
    record_inspection(job.pk, cast.inspector, passed())
    assert [(one.attempt, one.has_passed) for one in job.final_inspections.all()] == [
        (1, False),
        (2, True),
    ]


def test_a_failure_needs_a_finding(cast, make_job):
    job = make_job(status="inspection_scheduled")
    with pytest.raises(ActionRefused, match="failed without a finding"):
        record_inspection(job.pk, cast.inspector, SignedForm(on=DAY, passed=False))


def test_nothing_holds_a_failure_up(cast, make_job):
    """An inspector whose credential has lapsed may still say that something is wrong."""
    Credential.objects.all().delete()
    job = make_job(status="tested_out")
    record_inspection(
        job.pk, cast.inspector, SignedForm(on=DAY, passed=False, note="Hatch.\nAlarm.")
    )
    assert [one.words for one in job.findings.all()] == ["Hatch.", "Alarm."]
    assert [event.new for event in job.events.all()] == ["inspection_scheduled", "rework"]


def test_an_unannounced_pass_goes_through_both_gates(cast, make_job):
    job = make_job(status="tested_out")
    with pytest.raises(ActionRefused, match="Nothing is compared yet"):
        record_inspection(job.pk, cast.inspector, passed())
    job.refresh_from_db()
    assert job.status == "tested_out"
    assert not job.events.exists()


def test_a_planned_visit_becomes_the_inspection(cast, make_job):
    job = make_job(status="inspection_scheduled")
    planned = make_visit(job, "final_inspection", DAY, crew=None, inspector=cast.inspector)
    record_inspection(job.pk, cast.inspector, passed())
    assert job.visits.get() == planned
    planned.refresh_from_db()
    assert planned.outcome == "passed"
