"""The dwelling, not the household, is barred for fifteen years."""

from datetime import date

import pytest

from agency import intake_workflows as steps
from agency.errors import ActionRefused
from agency.houses.models import Building, EarlierWork
from agency.intake.dwelling_check import bar_on, completions
from tests.applicants import DAY, give_income, give_papers, make_application
from tests.builders import make_house

pytestmark = pytest.mark.django_db

YEARS = 15
"""42 USC 6865(c)(2) after the Energy Act of 2020, from memory."""


def barred(house, on):
    return bar_on(house, on=on, years=YEARS)


def test_barred_to_the_day(make_job):
    house = make_house()
    make_job(house=house, status="approved", inspection_passed_on=date(2011, 3, 2))
    assert barred(house, date(2026, 3, 1)).ends_on == date(2026, 3, 2)
    assert barred(house, date(2026, 3, 2)) is None


def test_another_household_in_the_same_dwelling_is_barred(make_job):
    done = make_job(status="approved", house=make_house(address="27 Heron Pond Road"))
    again = make_house(address="27 Heron Pond Rd")
    found = completions(again)
    assert [(one.on, one.how) for one in found] == [
        (done.inspection_passed_on, "same address and unit")
    ]


def test_found_by_parcel_when_the_street_was_renamed():
    EarlierWork.objects.create(
        address="4 Old Toll Road", postal_code="00155", parcel="12-0440-7",
        completed_on=date(2020, 5, 1), source="List of the former agency",
    )  # fmt: skip
    house = make_house(address="4 Veterans Way", parcel="1204407")
    assert barred(house, DAY).completion.how == "same parcel 1204407 and unit"


@pytest.mark.parametrize(
    "other",
    [
        {"unit": "Apt 3"},
        {"postal_code": "00171"},
        {"address": "29 Heron Pond Road"},
        {"address": "27 Heron Lane"},
    ],
)
def test_another_dwelling_is_not_barred(make_job, other):
    place = {"address": "27 Heron Pond Road", "unit": "Apt 2", "postal_code": "00155"}
    make_job(status="approved", house=make_house(**place))
    assert completions(make_house(**(place | other))) == []


def test_a_unit_is_barred_by_work_on_its_whole_building(make_job):
    unit = make_house(address="8 Depot Street", unit="2B")
    building = Building.objects.create(
        name="Depot House", address="8 Depot Street", city="Tarn Hollow", state="QM",
        postal_code="00155", county=unit.county, units_total=6,
    )  # fmt: skip
    unit.building = building
    unit.save()
    whole = make_house(address="8 Depot Street", building=building, units=6)
    make_job(status="approved", house=whole)
    assert [one.how for one in completions(unit)] == ["the whole building was weatherized"]


@pytest.mark.parametrize("status", ["withdrawn", "scheduled"])
def test_work_that_never_passed_does_not_bar(make_job, status):
    job = make_job(status=status)
    assert completions(job.house) == []


def test_a_barred_dwelling_is_determined_so_and_never_waits(cast, make_job):
    done = make_job(status="approved")
    application = make_application(cast.office, house=done.house)
    give_income(application, "20000")
    give_papers(application, cast.office)
    made = steps.determine(application.pk, cast.office, on=date(2026, 6, 1))
    assert made.outcome == "dwelling_barred"
    assert "barred until May 12, 2041" in made.lines[-1]
    with pytest.raises(ActionRefused, match="barred until May 12, 2041"):
        steps.put_on_waiting_list(application.pk, cast.office, on=date(2026, 6, 1))


def test_a_disaster_lets_it_be_done_again(cast, make_job):
    """10 CFR 440.18(f)(2), from memory."""
    done = make_job(status="approved")
    application = make_application(cast.office, house=done.house)
    give_income(application, "20000")
    give_papers(application, cast.office)
    steps.except_disaster(application.pk, cast.manager, reason="Flood of May 2026")
    day = date(2026, 6, 1)
    assert steps.determine(application.pk, cast.office, on=day).is_eligible
    assert steps.put_on_waiting_list(application.pk, cast.office, on=day).status == "waitlisted"
