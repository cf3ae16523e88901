"""From application to job: what each step needs and what it refuses."""

from datetime import date

import pytest

from agency import intake_workflows as steps
from agency.errors import ActionRefused
from agency.intake.models import Application
from agency.jobs.models import Job
from tests.applicants import (
    DAY,
    give_income,
    give_papers,
    give_permission,
    make_application,
    make_waiting,
)
from tests.builders import make_house

pytestmark = pytest.mark.django_db


def open_job(application, cast, on=DAY, number="QC-26-0900"):
    return steps.open_job_from(application.pk, cast.office, number=number, crew=cast.crew, on=on)


def test_numbers_count_on(cast):
    first = make_application(cast.office)
    second = make_application(cast.office)
    assert (first.number, second.number) == ("A-00001", "A-00002")


def test_a_dwelling_has_one_open_application_a_grant(cast):
    first = make_application(cast.office)
    with pytest.raises(ActionRefused, match=f"{first.number} under .* already, received"):
        make_application(cast.office, house=first.house)
    steps.withdraw_application(first.pk, cast.office, "Moved away.")
    assert make_application(cast.office, house=first.house).is_open


def test_the_waiting_list_needs_proof_of_occupancy(cast):
    application = make_application(cast.office)
    give_income(application, "20000")
    steps.determine(application.pk, cast.office, on=DAY)
    with pytest.raises(ActionRefused, match="Proof that the household lives there: Not seen"):
        steps.put_on_waiting_list(application.pk, cast.office, on=DAY)
    give_papers(application, cast.office, "occupancy")
    assert steps.put_on_waiting_list(application.pk, cast.office, on=DAY).status == "waitlisted"


def test_over_the_limit_never_waits(cast):
    application = make_application(cast.office)
    give_income(application, "90000")
    give_papers(application, cast.office)
    steps.determine(application.pk, cast.office, on=DAY)
    with pytest.raises(ActionRefused, match="Determination: Income over the limit"):
        steps.put_on_waiting_list(application.pk, cast.office, on=DAY)


def test_an_owner_opens_a_job_from_the_list(cast):
    application = make_waiting(cast.office)
    job = open_job(application, cast)
    application.refresh_from_db()
    assert (application.status, application.job) == ("job_opened", job)
    assert (job.client, job.house, job.program) == (
        application.client,
        application.house,
        application.program,
    )
    assert [event.new for event in application.events.all()][-1] == "job_opened"


def test_a_rental_needs_the_owners_permission(cast):
    application = make_waiting(cast.office, tenure="renter")
    with pytest.raises(ActionRefused, match="Permission of the owner: Not signed"):
        open_job(application, cast)
    permission = give_permission(application.house)
    assert open_job(application, cast).house == permission.house


@pytest.mark.parametrize("change", [{"withdrawn_on": DAY}, {"signed_on": date(2026, 3, 3)}])
def test_a_permission_taken_back_or_not_yet_signed_is_none(cast, change):
    application = make_waiting(cast.office, tenure="renter")
    give_permission(application.house, **change)
    with pytest.raises(ActionRefused, match="Permission of the owner"):
        open_job(application, cast)


def test_an_ended_determination_opens_no_job(cast):
    application = make_waiting(cast.office)
    with pytest.raises(ActionRefused, match="Determination: Ended Mar 2, 2027"):
        open_job(application, cast, on=date(2027, 3, 3))


def test_no_utility_release_needs_a_reason(cast):
    application = make_waiting(cast.office)
    application.papers.filter(kind="utility_release").delete()
    with pytest.raises(ActionRefused, match="Release of utility bills: Not seen"):
        open_job(application, cast)
    steps.note_facts(application.pk, cast.office, no_utility_release_reason="Heats with own wood")
    assert open_job(application, cast).pk


def test_a_job_is_opened_from_the_waiting_list_only(cast):
    application = make_application(cast.office)
    give_income(application, "20000")
    give_papers(application, cast.office)
    steps.determine(application.pk, cast.office, on=DAY)
    with pytest.raises(ActionRefused, match="Put it on the waiting list first"):
        open_job(application, cast)


def test_a_job_number_taken_names_the_next_free_one(cast, make_job):
    make_job(number="QC-26-0900")
    application = make_waiting(cast.office)
    with pytest.raises(ActionRefused, match=r"QC-26-0900 is taken. .* QC-26-0901"):
        open_job(application, cast)
    assert Job.objects.count() == 1


def test_a_dwelling_has_one_open_job_a_grant(cast, make_job):
    job = make_job()
    with pytest.raises(ActionRefused, match=f"{job.number} under .* already, scheduled"):
        steps.open_job(
            cast.office, number="QC-26-0001", client=job.client, house=job.house,
            program=job.program, crew=cast.crew, on=DAY,
        )  # fmt: skip


def test_a_job_outside_the_grants_period_is_refused(cast, make_job):
    job = make_job(status="withdrawn")
    with pytest.raises(ActionRefused, match=r"period of .*, Jan 1, 2026 to Dec 31, 2026"):
        steps.open_job(
            cast.office, number="QC-26-0001", client=job.client, house=job.house,
            program=job.program, crew=cast.crew, on=date(2027, 1, 1),
        )  # fmt: skip


def test_a_house_is_not_registered_twice(cast):
    known = make_house(address="27 Heron Pond Road", unit="Apt 2")
    values = {
        "address": "27 heron pond Rd.", "unit": "Unit 2", "city": "Tarn Hollow", "state": "QM",
        "postal_code": "00155", "county": known.county, "dwelling": "single_family",
    }  # fmt: skip
    with pytest.raises(ActionRefused, match="on file already as 27 Heron Pond Road, Apt 2"):
        steps.register_house(values)
    assert steps.register_house(values | {"unit": "Unit 3"}).pk


def test_nothing_of_an_ended_application_changes(cast):
    application = make_application(cast.office)
    steps.deny(application.pk, cast.office, "Income over the limit.")
    with pytest.raises(ActionRefused, match="is denied; nothing of it can be changed"):
        steps.note_facts(application.pk, cast.office, income_method="none")
    assert Application.objects.get().events.last().reason == "Income over the limit."


@pytest.mark.parametrize("person", ["office", "inspector", "crew_lead", "admin"])
def test_exceptions_are_a_managers(cast, person):
    application = make_application(cast.office)
    with pytest.raises(ActionRefused, match="Only a manager"):
        steps.grant_emergency(application.pk, getattr(cast, person), reason="No heat", on=DAY)
    with pytest.raises(ActionRefused, match="Only a manager"):
        steps.except_disaster(application.pk, getattr(cast, person), reason="Flood")
