"""Reads bill periods from a CSV file; what cannot be read for certain is refused by row."""

import csv
import io
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum
from math import isfinite

from agency.errors import AgencyError

LARGEST_FILE = 20_000_000
"""Years of hourly readings fit in it; a larger one is no bill file. [bytes]  Common practice, no
source."""
PLAIN_NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d+)?", re.ASCII)
ISO_DATE = re.compile(r"([12]\d{3})-(\d{1,2})-(\d{1,2})", re.ASCII)
SLASH_DATE = re.compile(r"(\d{1,2})/(\d{1,2})/([12]\d{3})", re.ASCII)
MONTHS = 12


class BillFileError(AgencyError):
    """A bill file that cannot be read for certain."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadBill:
    """One bill as a file holds it, in SI."""

    start: date
    """Day of the opening reading; the first day counted."""
    end: date
    """Day of the closing reading; no longer counted."""
    energy: float
    """[J]"""
    estimated: bool
    """The closing reading was not read."""
    place: str
    """Where it stands in the file: "row 5", "IntervalBlock 3"."""


class DateOrder(StrEnum):
    """Which number of 03/04/2025 is the month; 2025-03-04 is always year, month, day."""

    MONTH_FIRST = "month first"
    DAY_FIRST = "day first"
    SHOWN_BY_THE_FILE = "shown by the file"
    """Taken from a date of the same file that can be read one way only, such as 1/31/2025."""


class Ending(StrEnum):
    """What a bill's end date means."""

    READING_DAY = "reading day"
    """The closing reading's day, where the next bill starts."""
    LAST_DAY = "last day"
    """The last day billed; the next bill starts on the day after."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """How a CSV file names its columns and writes its values."""

    start: str
    """Heading of the column; upper or lower case, spaces at the ends do not matter."""
    end: str
    energy: str
    estimated: str | None = None
    """None when the file does not say which readings were guessed."""
    joules_per_unit: float
    """Heat content of the unit the energy is in. [J per unit]"""
    ending: Ending
    order: DateOrder = DateOrder.SHOWN_BY_THE_FILE
    delimiter: str = ","
    estimated_marks: frozenset[str] = frozenset({"e", "est", "estimate", "estimated", "yes", "y"})
    read_marks: frozenset[str] = frozenset({"", "a", "act", "actual", "read", "no", "n"})


@dataclass(frozen=True, slots=True, kw_only=True)
class RowError:
    """What is wrong with one row of a file."""

    place: str
    message: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckedFile:
    """All that a file holds: the bills that can be read and the rows that cannot."""

    bills: tuple[ReadBill, ...]
    errors: tuple[RowError, ...]


def read_bill_csv(content: bytes, layout: Layout) -> tuple[ReadBill, ...]:
    """Bill periods of a CSV file with a heading row, in the order of the file.

    Raises
    ------
    BillFileError
        Too large, not UTF-8, a heading missing or twice, a date that can be read two ways, a
        number with a comma, an unknown mark; row, value, limit and next step are named.
    """
    rows, places, dates = _rows(content, layout)
    return tuple(_bill(row, _cells(row, line, places), layout, dates) for row, line in rows)


def check_bill_csv(content: bytes, layout: Layout) -> CheckedFile:
    """As `read_bill_csv`, but goes on after a row that cannot be read."""
    rows, places, dates = _rows(content, layout)
    bills, errors = [], []
    for row, line in rows:
        try:
            bills.append(_bill(row, _cells(row, line, places), layout, dates))
        except BillFileError as error:
            errors.append(RowError(place=f"row {row}", message=str(error)))
    return CheckedFile(bills=tuple(bills), errors=tuple(errors))


def _rows(
    content: bytes, layout: Layout
) -> tuple[list[tuple[int, list[str]]], dict[str, int], DateOrder]:
    """Rows below the heading by their number, where each column stands, the order of dates."""
    reader = csv.reader(io.StringIO(text_of(content), newline=""), delimiter=layout.delimiter)
    try:
        lines = list(reader)
    except csv.Error as error:
        raise BillFileError(
            f"Line {reader.line_num} of the file is not CSV: {error}. Save the sheet as CSV again."
        ) from None
    filled = [(row, line) for row, line in enumerate(lines, start=1) if any(map(str.strip, line))]
    if len(filled) < 2:
        raise BillFileError("The file has no bills below its heading row. Upload the whole file.")
    places = _places(filled[0][1], layout)
    dated = [places[name] for name in ("start", "end")]
    texts = [line[at].strip() for _, line in filled[1:] for at in dated if at < len(line)]
    return filled[1:], places, _order(texts, layout.order)


def text_of(content: bytes) -> str:
    """The file's text, with or without a byte order mark."""
    if len(content) > LARGEST_FILE:
        raise BillFileError(
            f"The file has {len(content):,} bytes; {LARGEST_FILE:,} are allowed. Ask for fewer "
            "years, or for daily in place of hourly readings."
        )
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise BillFileError(
            f"Byte {error.start + 1} of the file is not UTF-8 text. Save it as UTF-8 and upload it "
            "again."
        ) from None


def _places(headings: Sequence[str], layout: Layout) -> dict[str, int]:
    found = [heading.strip().casefold() for heading in headings]
    asked = {"start": layout.start, "end": layout.end, "energy": layout.energy}
    if layout.estimated is not None:
        asked["estimated"] = layout.estimated
    places = {}
    for name, heading in asked.items():
        count = found.count(heading.strip().casefold())
        if count != 1:
            raise BillFileError(
                f'The heading "{heading}" stands {count} times in the file; it must stand once. '
                f"The file has: {', '.join(h.strip() for h in headings)}. Name the right column, "
                "or the right separator."
            )
        places[name] = found.index(heading.strip().casefold())
    return places


def _cells(row: int, line: Sequence[str], places: dict[str, int]) -> dict[str, str]:
    if len(line) <= max(places.values()):
        raise BillFileError(
            f"Row {row} has {len(line)} fields; {max(places.values()) + 1} are needed. A comma "
            "inside a number needs quotes; else the row is cut short: correct it."
        )
    return {name: line[place].strip() for name, place in places.items()}


def _order(texts: Iterable[str], wanted: DateOrder) -> DateOrder:
    """What the file's own dates say of their order, when that is asked for."""
    if wanted is not DateOrder.SHOWN_BY_THE_FILE:
        return wanted
    pairs = [match for text in texts if (match := SLASH_DATE.fullmatch(text))]
    by_month = next((m[0] for m in pairs if int(m[2]) > MONTHS), None)
    by_day = next((m[0] for m in pairs if int(m[1]) > MONTHS), None)
    if by_month and by_day:
        raise BillFileError(
            f"{by_month} has the month first and {by_day} the day. Write all dates as 2025-01-31."
        )
    if by_month:
        return DateOrder.MONTH_FIRST
    return DateOrder.DAY_FIRST if by_day else DateOrder.SHOWN_BY_THE_FILE


def _bill(row: int, cells: dict[str, str], layout: Layout, order: DateOrder) -> ReadBill:
    start = _date(cells["start"], f"Row {row}, {layout.start}", order)
    end = _date(cells["end"], f"Row {row}, {layout.end}", order)
    if layout.ending is Ending.LAST_DAY:
        end += timedelta(days=1)
    if end <= start:
        raise BillFileError(
            f"Row {row} runs from {cells['start']} to {cells['end']}; the end must be after the "
            "start. Correct the dates."
        )
    return ReadBill(
        start=start,
        end=end,
        energy=_number(cells["energy"], f"Row {row}, {layout.energy}") * layout.joules_per_unit,
        estimated=_is_estimated(cells.get("estimated"), row, layout),
        place=f"row {row}",
    )


def _date(text: str, where: str, order: DateOrder) -> date:
    iso, slash = ISO_DATE.fullmatch(text), SLASH_DATE.fullmatch(text)
    if iso:
        year, month, day = map(int, iso.groups())
    elif slash:
        first, second, year = map(int, slash.groups())
        if order is DateOrder.SHOWN_BY_THE_FILE and first != second:
            raise BillFileError(
                f'{where} is "{text}", which can be read with the month or the day first, and no '
                "date of the file shows which. Say which comes first, or write 2025-01-31."
            )
        month, day = (second, first) if order is DateOrder.DAY_FIRST else (first, second)
    else:
        raise BillFileError(
            f'{where} is "{text}"; a date must be written 2025-01-31 or 1/31/2025, with four '
            "digits of the year. Correct it."
        )
    try:
        return date(year, month, day)
    except ValueError:
        raise BillFileError(
            f'{where} is "{text}", a day no calendar has with the month '
            f"{'second' if order is DateOrder.DAY_FIRST and slash else 'first'}. Correct it, or "
            "say whether the month or the day comes first."
        ) from None


def _number(text: str, where: str) -> float:
    if "," in text:
        raise BillFileError(
            f'{where} is "{text}"; a comma may part thousands or decimals, and the two differ a '
            "thousandfold. Write 1234.5, with a point and without commas."
        )
    if not PLAIN_NUMBER.fullmatch(text) or not isfinite(float(text)):
        raise BillFileError(
            f'{where} is "{text}"; it must be a number such as 1234.5. Enter the energy billed; '
            "write 0 if nothing was used."
        )
    return float(text)


def _is_estimated(text: str | None, row: int, layout: Layout) -> bool:
    if text is None:
        return False
    mark = text.casefold()
    if mark in layout.estimated_marks:
        return True
    if mark in layout.read_marks:
        return False
    raise BillFileError(
        f'Row {row}, {layout.estimated} is "{text}"; it must be one of '
        f"{', '.join(sorted(layout.estimated_marks))} for an estimated reading or "
        f"{', '.join(sorted(layout.read_marks - {''}))} or blank for a real one. Add the file's "
        "own word to the marks."
    )
