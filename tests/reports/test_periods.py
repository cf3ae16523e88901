"""Quarters of the calendar and of a grant."""

from datetime import date

import pytest

from agency.errors import ActionRefused
from agency.programs.models import Program
from agency.reports.periods import Period, months_later


@pytest.mark.parametrize(
    ("text", "first", "last"),
    [
        ("2026-Q1", date(2026, 1, 1), date(2026, 3, 31)),
        ("2026-Q3", date(2026, 7, 1), date(2026, 9, 30)),
        ("2027-Q4", date(2027, 10, 1), date(2027, 12, 31)),
    ],
)
def test_calendar_quarter_is_read(text: str, first: date, last: date) -> None:
    period = Period.parse(text)
    assert (period.first, period.last, period.code) == (first, last, text)


@pytest.mark.parametrize(
    "text", ["", "2026", "2026-Q0", "2026-Q5", "Q1", "2026-q1", "1", "٢٠٢٦-Q1"]
)
def test_other_words_are_refused(text: str) -> None:
    with pytest.raises(ActionRefused, match="is not a quarter"):
        Period.parse(text)


def test_grant_quarters_count_from_its_first_day() -> None:
    grant = Program(
        name="Quillmoor Weatherization",
        grant_number="QM-26-01",
        first_day=date(2026, 4, 1),
        last_day=date(2027, 2, 28),
    )
    days = [
        (one.first, one.last) for one in (Period.program_quarter(grant, n) for n in (1, 2, 3, 4))
    ]
    assert days == [
        (date(2026, 4, 1), date(2026, 6, 30)),
        (date(2026, 7, 1), date(2026, 9, 30)),
        (date(2026, 10, 1), date(2026, 12, 31)),
        (date(2027, 1, 1), date(2027, 2, 28)),
    ]
    assert Period.parse("2", program=grant).code == "QM-26-01-2"
    for number in (0, 5):
        with pytest.raises(ActionRefused, match="has no quarter"):
            Period.program_quarter(grant, number)


def test_one_day_lies_in_different_first_quarters_of_two_grants() -> None:
    day = date(2026, 7, 3)
    starts = [date(2026, 7, 1), date(2026, 4, 15)]
    numbers = []
    for start in starts:
        grant = Program(
            name="G", grant_number="G", first_day=start, last_day=months_later(start, 12)
        )
        quarters = [Period.program_quarter(grant, number) for number in (1, 2, 3, 4)]
        numbers += [n for n, one in enumerate(quarters, 1) if one.first <= day <= one.last]
    assert numbers == [1, 1]
    assert Period.parse("2026-Q3").first <= day


def test_months_end_where_the_shorter_month_does() -> None:
    assert months_later(date(2026, 11, 30), 3) == date(2027, 2, 28)
    assert months_later(date(2027, 11, 30), 3) == date(2028, 2, 29)
