"""Income limits by table, size and day."""

from datetime import date
from decimal import Decimal

import pytest

from agency.errors import ActionRefused
from agency.intake.book import rules_on
from agency.intake.limits import income_limit, table_is_old
from agency.programs.models import IncomeTest, StateMedian
from tests.builders import make_program

pytestmark = pytest.mark.django_db


def limit(day, size):
    program = make_program()
    return income_limit(program, size=size, on=day, rules=rules_on(day)).amount


# HHS poverty guidelines, 48 states and DC, at 200 %: second-hand figures of each year's table,
# notices not opened (from memory).
@pytest.mark.parametrize(
    ("year", "one", "four"),
    [
        (2020, 25_520, 52_400),
        (2021, 25_760, 53_000),
        (2022, 27_180, 55_500),
        (2023, 29_160, 60_000),
        (2024, 30_120, 62_400),
        (2025, 31_300, 64_300),
        (2026, 31_920, 66_000),
    ],
)
def test_twice_the_guideline_of_each_year(year, one, four):
    day = date(year, 7, 1)
    assert limit(day, 1) == Decimal(one)
    assert limit(day, 4) == Decimal(four)


def test_the_old_table_holds_until_the_day_before_the_new_one():
    """2026: effective 13 Jan 2026, 91 FR 1797 (seen as a notice, from memory)."""
    assert limit(date(2026, 1, 12), 1) == Decimal(31_300)
    assert limit(date(2026, 1, 13), 1) == Decimal(31_920)


def test_each_further_person_adds_the_same():
    """Derived: first + 8 × each more, doubled."""
    assert limit(date(2026, 7, 1), 9) == 2 * (15_960 + 8 * 5_680)


def test_a_day_without_a_table_is_refused_by_name():
    with pytest.raises(ActionRefused, match=r"poverty.contiguous.first_person on Jul 1, 2019"):
        limit(date(2019, 7, 1), 1)


def test_a_region_without_a_table_is_refused_rather_than_guessed():
    """No figure for Alaska of 2026 was seen."""
    day = date(2026, 7, 1)
    IncomeTest.objects.create(
        program=make_program(), basis="poverty", percent=200, region="alaska",
        effective_from=date(2020, 1, 1), source="test",
    )  # fmt: skip
    with pytest.raises(ActionRefused, match=r"poverty.alaska.first_person"):
        limit(day, 1)


def test_the_grants_own_test_counts_from_its_first_day():
    IncomeTest.objects.create(
        program=make_program(), basis="poverty", percent=150,
        effective_from=date(2026, 7, 1), source="test",
    )  # fmt: skip
    assert limit(date(2026, 6, 30), 1) == Decimal(31_920)
    assert limit(date(2026, 7, 1), 1) == Decimal("23940")


@pytest.mark.parametrize(
    ("size", "share"), [(1, 52), (3, 84), (4, 100), (6, 132), (7, 135), (9, 141)]
)
def test_state_median_by_size(size, share):
    """45 CFR 96.85: 52, 68, 84, 100, 116, 132 %, and 3 points more each (from memory)."""
    day = date(2026, 7, 1)
    StateMedian.objects.create(
        state="QM", four_person=90_000, effective_from=date(2025, 10, 1), source="test"
    )
    IncomeTest.objects.create(
        program=make_program(), basis="state_median", percent=60, state="QM",
        effective_from=date(2026, 1, 1), source="test",
    )  # fmt: skip
    assert limit(day, size) == Decimal(900 * share * 60) / 100


def test_a_state_without_a_median_is_refused():
    IncomeTest.objects.create(
        program=make_program(), basis="state_median", percent=60, state="QM",
        effective_from=date(2026, 1, 1), source="test",
    )  # fmt: skip
    with pytest.raises(ActionRefused, match="No state median income of QM"):
        limit(date(2026, 7, 1), 4)


def test_a_table_nobody_replaced_is_called_old():
    rules = rules_on(date(2027, 6, 1))
    assert table_is_old(rules, region="contiguous", on=date(2027, 6, 1))
    assert not table_is_old(rules, region="contiguous", on=date(2026, 12, 31))
