"""Reads daily mean temperatures from a CSV file; what cannot be read is refused by row."""

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from math import isfinite

from .bill_files import ISO_DATE, PLAIN_NUMBER, BillFileError, RowError, text_of
from .daily_weather import HIGHEST, LOWEST

DAY, MEAN = "day", "mean"
"""Headings of the two columns."""
FAHRENHEIT_STEP, ICE_POINT_F = 1.8, 32.0
"""Exact."""


class Degrees(StrEnum):
    """The unit of the means."""

    FAHRENHEIT = "degF"
    CELSIUS = "degC"


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadDay:
    """One day as a file holds it."""

    day: date
    mean: float
    """[°C]"""
    place: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckedDays:
    """The days that can be read and the rows that cannot."""

    days: tuple[ReadDay, ...]
    errors: tuple[RowError, ...]


def check_daily_means(content: bytes, degrees: Degrees) -> CheckedDays:
    """Days of a CSV file with the headings "day" and "mean"; days left out stay left out.

    Raises
    ------
    BillFileError
        Too large, not UTF-8, not CSV, or without the two headings.
    """
    try:
        lines = list(csv.reader(io.StringIO(text_of(content), newline="")))
    except csv.Error as error:
        raise BillFileError(f"The file is not CSV: {error}. Save the sheet as CSV again.") from None
    headings = [heading.strip().casefold() for heading in lines[0]] if lines else []
    for wanted in (DAY, MEAN):
        if headings.count(wanted) != 1:
            raise BillFileError(
                f'The heading "{wanted}" stands {headings.count(wanted)} times in the first row; '
                f'it must stand once. Name the columns "{DAY}" and "{MEAN}".'
            )
    places = headings.index(DAY), headings.index(MEAN)
    days, errors, seen = [], [], dict[date, str]()
    for row, line in enumerate(lines[1:], start=2):
        if not any(map(str.strip, line)):
            continue
        try:
            read = _day(f"row {row}", line, places, degrees)
            if read.day in seen:
                raise BillFileError(
                    f"{read.day} stands in {seen[read.day]} too. Take one of them out."
                )
        except BillFileError as error:
            errors.append(RowError(place=f"row {row}", message=str(error)))
        else:
            seen[read.day] = read.place
            days.append(read)
    return CheckedDays(days=tuple(days), errors=tuple(errors))


def _day(place: str, line: Sequence[str], places: tuple[int, int], degrees: Degrees) -> ReadDay:
    if len(line) <= max(places):
        raise BillFileError(f"It has {len(line)} fields; {max(places) + 1} are needed.")
    written, number = line[places[0]].strip(), line[places[1]].strip()
    match = ISO_DATE.fullmatch(written)
    try:
        day = date(*map(int, match.groups())) if match else None
    except ValueError:
        day = None
    if day is None:
        raise BillFileError(f'The day is "{written}"; write it 2025-01-31. Correct it.')
    if not PLAIN_NUMBER.fullmatch(number) or not isfinite(float(number)):
        raise BillFileError(
            f'The mean of {day} is "{number}"; it must be a number such as 41.5. Leave the row '
            "out when the day was not measured."
        )
    return ReadDay(day=day, mean=celsius(float(number), degrees, f"The mean of {day}"), place=place)


def celsius(value: float, degrees: Degrees, name: str) -> float:
    """A mean in °C; refused outside what weather can be."""
    mean = value if degrees is Degrees.CELSIUS else (value - ICE_POINT_F) / FAHRENHEIT_STEP
    if not LOWEST <= mean <= HIGHEST:
        raise BillFileError(
            f"{name} is {value:g}, {mean:.0f} °C; it must be {LOWEST:.0f} to {HIGHEST:.0f} °C. "
            "Check the unit."
        )
    return mean
