"""The days a report covers: a calendar quarter, or a quarter counted from a grant's first day."""

import calendar
import re
from dataclasses import dataclass
from datetime import date, timedelta

from agency.errors import ActionRefused
from agency.programs.models import Program
from agency.wording import words

CALENDAR_QUARTER = re.compile(r"(?P<year>20\d\d)-Q(?P<number>[1-4])")
PROGRAM_QUARTER = re.compile(r"(?P<number>[1-9]\d?)")
MONTHS_A_QUARTER = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Period:
    """A first and a last day, both included, and what people call it."""

    first: date
    last: date
    code: str
    """As it stands in an address and a file name: "2026-Q3" or "QM-26-01-2"."""
    label: str

    @classmethod
    def calendar_quarter(cls, *, year: int, number: int) -> "Period":
        """January to March is quarter 1."""
        if number not in {1, 2, 3, 4}:
            raise ActionRefused(f"A calendar year has quarters 1 to 4, not {number}. Choose one.")
        first = date(year, MONTHS_A_QUARTER * (number - 1) + 1, 1)
        last = months_later(first, MONTHS_A_QUARTER) - timedelta(days=1)
        return cls(
            first=first,
            last=last,
            code=f"{year}-Q{number}",
            label=f"Quarter {number} of {year}, {words.day(first)} to {words.day(last)}",
        )

    @classmethod
    def program_quarter(cls, program: Program, number: int) -> "Period":
        """Three months counted from the grant's first day; the last one ends with the grant."""
        first = months_later(program.first_day, MONTHS_A_QUARTER * (number - 1))
        if number < 1 or first > program.last_day:
            raise ActionRefused(
                f"{program} runs from {words.day(program.first_day)} to "
                f"{words.day(program.last_day)} and has no quarter {number}. Choose an earlier one."
            )
        next_first = months_later(program.first_day, MONTHS_A_QUARTER * number)
        last = min(next_first - timedelta(days=1), program.last_day)
        return cls(
            first=first,
            last=last,
            code=f"{program.grant_number}-{number}",
            label=f"Quarter {number} of {program.name}, {words.day(first)} to {words.day(last)}",
        )

    @classmethod
    def parse(cls, text: str, *, program: Program | None = None) -> "Period":
        """Read "2026-Q3" as a calendar quarter, a plain "2" as a quarter of `program`."""
        if found := CALENDAR_QUARTER.fullmatch(text):
            return cls.calendar_quarter(year=int(found["year"]), number=int(found["number"]))
        if program is not None and (found := PROGRAM_QUARTER.fullmatch(text)):
            return cls.program_quarter(program, int(found["number"]))
        raise ActionRefused(
            f'"{text[:40]}" is not a quarter. Write a calendar quarter as 2026-Q3, or choose a '
            "grant and write the number of its quarter."
        )

    def __str__(self) -> str:
        return self.label


def period_of(code: str, *, program: Program | None) -> Period:
    """Read back the code of a period: "2026-Q3", or "QM-26-01-2" for a quarter of `program`."""
    if program is not None and code.startswith(f"{program.grant_number}-"):
        return Period.parse(code.removeprefix(f"{program.grant_number}-"), program=program)
    return Period.parse(code)


def months_later(day: date, months: int) -> date:
    """The same day of a later month; the 31st becomes the last day of a shorter month."""
    years, month = divmod(day.month - 1 + months, 12)
    year, month = day.year + years, month + 1
    return date(year, month, min(day.day, calendar.monthrange(year, month)[1]))
