"""Eligible share of a building's units."""

from dataclasses import replace
from datetime import date

import pytest

from agency import intake_workflows as steps
from agency.houses.models import Building
from agency.intake.book import rules_on
from agency.intake.buildings import EligibleShare, eligible_share, roster, share_words
from tests.applicants import DAY, give_income, make_application
from tests.builders import make_house

pytestmark = pytest.mark.django_db


def building_of(units, **changes):
    house = make_house(address="8 Depot Street", unit="1")
    values = {
        "name": "Depot House", "address": house.address, "city": house.city, "state": "QM",
        "postal_code": "00155", "county": house.county, "units_total": units,
    }  # fmt: skip
    building = Building.objects.create(**(values | changes))
    house.building = building
    house.save()
    for number in range(2, units + 1):
        make_house(address=house.address, unit=str(number), building=building)
    return building


def share(building, eligible):
    """The share when so many units were eligible, by the rule for this building."""
    found = eligible_share(building, roster(building, on=DAY), on=DAY, rules=rules_on(DAY))
    return replace(found, eligible=eligible)


@pytest.mark.parametrize(
    ("units", "enough", "short"),
    [(2, 1, 0), (4, 2, 1), (3, 2, 1), (5, 4, 3), (6, 4, 3), (12, 8, 7)],
)
def test_sixty_six_percent_and_half_of_two_and_four(units, enough, short):
    """10 CFR 440.22(b)(2), from memory; the counts are derived: 4 of 6 is 66.7 %, 3 is 50 %."""
    building = building_of(units)
    assert share(building, enough).is_met
    assert not share(building, short).is_met
    assert share(building, short).units_short == enough - short


def test_the_roster_tells_where_each_household_stands(cast):
    building = building_of(5)
    first, second, third, fourth, _ = building.houses.order_by("unit")
    for house, income in ((first, "20000"), (second, "90000")):
        application = make_application(cast.office, house=house)
        give_income(application, income)
        steps.determine(application.pk, cast.office, on=DAY)
    make_application(cast.office, house=third)
    fourth.is_vacant = True
    fourth.save()
    standing = [row.standing for row in roster(building, on=DAY)]
    assert standing == ["eligible", "not_eligible", "undecided", "vacant", "no_application"]
    later = [row.standing for row in roster(building, on=date(2027, 6, 1))]
    assert later[0] == "expired"


@pytest.mark.parametrize(
    ("promised_by", "counted"),
    [
        (date(2026, 8, 29), 4),
        (date(2026, 8, 30), 0),
        (date(2026, 3, 2), 4),
        (date(2026, 3, 1), 0),
    ],
)
def test_promised_units_count_within_180_days(promised_by, counted):
    """10 CFR 440.22(b)(2), from memory; 180 days after Mar 2, 2026 is Aug 29, 2026 (derived)."""
    building = building_of(6, units_promised=4, promised_by=promised_by)
    found = eligible_share(building, roster(building, on=DAY), on=DAY, rules=rules_on(DAY))
    assert found.promised == counted
    assert found.is_met is bool(counted)


def test_the_words_name_value_limit_and_next_step():
    found = EligibleShare(eligible=3, promised=0, total=6, needed_percent=66.0, source="")
    said = share_words(found)
    assert said.startswith("3 of 6\u00a0units eligible: 50.0 %, needed 66 %. 1\u00a0more")
    assert "find further households" in said


@pytest.mark.parametrize("units", [3, 12])
def test_queries_do_not_grow_with_the_units(django_assert_num_queries, cast, units):
    building = building_of(units)
    for house in building.houses.all():
        make_application(cast.office, house=house)
    with django_assert_num_queries(3):
        roster(building, on=DAY)
