"""The report's tables as CSV and XLSX bytes, safe to open in a spreadsheet program.

A CSV file starts with a block of "name,value" lines: period, filter, what was counted and what
was left out. One empty line ends the block; the header row of the table follows.
"""

import csv
import io
import re
import unicodedata
from collections.abc import Iterable, Iterator
from datetime import UTC, date
from typing import BinaryIO, TextIO

import xlsxwriter
from xlsxwriter.format import Format
from xlsxwriter.worksheet import Worksheet

from agency.errors import ActionRefused

from .disclosure import EVERYTHING, Telling
from .quarter import QuarterReport
from .table import Cell, Column, Kind, Table
from .tables import head_of, tables_of

BYTE_ORDER_MARK = "\ufeff".encode()
TRIGGERS = frozenset("=+-@\uff0b\uff0d\uff1d\uff20")
"""What makes a spreadsheet program take text for a formula, the full-width twins included.
OWASP Application Security Verification Standard 5.0, 1.2.10, from memory."""
BARE_TRIGGERS = frozenset("\t\0")
"""The same, where they begin a line without anything after them."""
LINE = re.compile(r"([\r\n\x0b\x0c\x1c-\x1e\x85\u2028\u2029]+)")
"""Everything some program takes for the end of a line."""
WIDEST = 60
"""Widest column of a sheet. [characters]"""


def csv_bytes(report: QuarterReport, table_name: str, telling: Telling = EVERYTHING) -> bytes:
    """One table as CSV: UTF-8, CRLF, ISO dates, unrounded figures, the head block first."""
    return csv_of(named_table(report, table_name, telling), head_of(report, telling))


def csv_of(table: Table, head: Iterable[tuple[str, Cell]]) -> bytes:
    """Any table under its head block."""
    text = io.StringIO(newline="")
    for _ in write_csv(text, table, head):
        pass
    return text.getvalue().encode()


def csv_bytes_with_mark(
    report: QuarterReport, table_name: str, telling: Telling = EVERYTHING
) -> bytes:
    """The same with a byte order mark, which some spreadsheet programs need to see UTF-8."""
    return BYTE_ORDER_MARK + csv_bytes(report, table_name, telling)


def write_csv(text: TextIO, table: Table, head: Iterable[tuple[str, Cell]]) -> Iterator[int]:
    """Write the table row by row; gives the number of rows written so far after each."""
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerows([_csv_row(line) for line in head])
    text.write("\r\n")
    writer.writerow([column.name for column in table.columns])
    for number, row in enumerate(table.rows, start=1):
        writer.writerow(_csv_row(row))
        yield number


def xlsx_bytes(report: QuarterReport, telling: Telling = EVERYTHING) -> bytes:
    """Every table on a sheet of its own, with typed cells, after a sheet of notes."""
    data = io.BytesIO()
    for _ in write_xlsx(data, report, telling):
        pass
    return data.getvalue()


def write_xlsx(
    data: BinaryIO, report: QuarterReport, telling: Telling = EVERYTHING
) -> Iterator[int]:
    """Write the workbook row by row; gives the number of rows written so far after each."""
    options = {
        # Rows are written in order, so none need be kept.
        "constant_memory": True,
        "strings_to_formulas": False,
        "strings_to_urls": False,
        "strings_to_numbers": False,
    }
    with xlsxwriter.Workbook(data, options) as workbook:
        made_at = report.made_at.astimezone(UTC).replace(tzinfo=None)
        workbook.set_properties({"title": report.period.label, "created": made_at})
        formats = {
            "head": workbook.add_format({"bold": True, "bottom": 1, "text_wrap": True}),
            Kind.DATE: workbook.add_format({"num_format": "yyyy-mm-dd"}),
            Kind.NUMBER: workbook.add_format({"num_format": "#,##0.0"}),
            Kind.WHOLE: workbook.add_format({"num_format": "0"}),
            Kind.TEXT: workbook.add_format({"text_wrap": True, "valign": "top"}),
        }
        _write_notes(workbook.add_worksheet("Notes"), report, telling, formats)
        done = 0
        for table in tables_of(report, telling):
            for _ in _write_table(workbook.add_worksheet(table.title), table, formats):
                done += 1
                yield done


def neutralised(text: str) -> str:
    """Text that no spreadsheet program takes for a formula: an apostrophe before each such line.

    Blanks and invisible characters before the sign do not hide it, and a second line in the
    cell counts like the first.
    """
    lines = [_safe_line(line) for line in LINE.split(text)]
    safe = "".join(lines)
    # A cell may not begin with a line break either: what follows it would be read first.
    return f"'{safe}" if safe and _is_blank(safe[0]) and safe[0] not in " \u00a0" else safe


def _safe_line(line: str) -> str:
    seen = line.lstrip("".join({one for one in line if _is_blank(one)}))
    begins = seen[:1] in TRIGGERS or line[:1] in BARE_TRIGGERS
    return f"'{line}" if line and begins else line


def _is_blank(character: str) -> bool:
    """White space, controls, and format characters such as a zero-width space."""
    return character.isspace() or unicodedata.category(character) in {"Cc", "Cf"}


def named_table(report: QuarterReport, name: str, telling: Telling = EVERYTHING) -> Table:
    """One table of the report; refused with the known names when there is none of that name."""
    tables = {table.name: table for table in tables_of(report, telling)}
    if name not in tables:
        raise ActionRefused(f'There is no table "{name[:40]}". Choose one of {", ".join(tables)}.')
    return tables[name]


def _csv_row(cells: Iterable[Cell]) -> list[str | int | float]:
    return [_csv_cell(cell) for cell in cells]


def _csv_cell(cell: Cell) -> str | int | float:
    """A number stays a number, the minus sign of a leakier house included."""
    if cell is None:
        return ""
    if isinstance(cell, date):
        return cell.isoformat()
    return neutralised(cell) if isinstance(cell, str) else cell


def _write_notes(
    sheet: Worksheet, report: QuarterReport, telling: Telling, formats: dict[str, Format]
) -> None:
    sheet.set_column(0, 0, 34)
    sheet.set_column(1, 1, 80)
    lines = [
        *head_of(report, telling),
        ("mean_reduction", "Mean of the reductions of the single homes; every home counts alike."),
        ("pooled_reduction", "Total flow saved over total flow before; leaky homes weigh more."),
        ("interval", "95 %, with errors of shared instruments kept together across homes."),
        ("percentiles", "Linear interpolation; below five homes only their number is told."),
        ("cycle_time", "Days from opening the job to the first passed final inspection; finished "
         "jobs only, linear interpolation."),
        ("heating_fuel", "As the house record names it; each unit stands in one cell."),
        ("savings", report.savings_note),
    ]  # fmt: skip
    for number, (name, value) in enumerate(lines):
        sheet.write_string(number, 0, name, formats[Kind.TEXT])
        _write_cell(sheet, number, 1, value, formats)


def _write_table(sheet: Worksheet, table: Table, formats: dict[str, Format]) -> Iterator[None]:
    for position in range(len(table.columns)):
        sheet.set_column(position, position, _width(table, position))
    sheet.freeze_panes(1, 0)
    sheet.autofilter(0, 0, max(len(table.rows), 1), len(table.columns) - 1)
    sheet.repeat_rows(0)
    for position, column in enumerate(table.columns):
        sheet.write_string(0, position, column.name, formats["head"])
    for number, row in enumerate(table.rows, start=1):
        for position, cell in enumerate(row):
            _write_cell(sheet, number, position, cell, formats)
        yield


def _write_cell(
    sheet: Worksheet, row: int, position: int, cell: Cell, formats: dict[str, Format]
) -> None:
    if cell is None:
        return
    if isinstance(cell, date):
        sheet.write_datetime(row, position, cell, formats[Kind.DATE])
    elif isinstance(cell, str):
        # A string cell is never evaluated, whatever it begins with.
        sheet.write_string(row, position, cell, formats[Kind.TEXT])
    else:
        kind = Kind.WHOLE if isinstance(cell, int) else Kind.NUMBER
        sheet.write_number(row, position, cell, formats[kind])


def _width(table: Table, position: int) -> int:
    column: Column = table.columns[position]
    if column.kind is not Kind.TEXT:
        return max(12, min(len(column.name), 18))
    longest = max((len(str(row[position] or "")) for row in table.rows), default=0)
    return min(max(longest, len(column.name)) + 2, WIDEST)
