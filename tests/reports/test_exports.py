"""The same figures on screen, in CSV and in XLSX, and no cell a spreadsheet would run."""

import csv
import io
import re
from datetime import UTC, date, datetime
from typing import Any

import openpyxl
import pytest

from agency.errors import ActionRefused
from agency.jobs.models import Job
from agency.reports.exports import csv_bytes, csv_bytes_with_mark, neutralised, xlsx_bytes
from agency.reports.periods import Period
from agency.reports.quarter import QuarterReport, quarter_report
from agency.reports.tables import head_of, tables_of
from agency.wording import words

NOW = datetime(2026, 7, 2, 14, 30, tzinfo=UTC)


@pytest.fixture
def report(mixed_quarter: dict[str, Job]) -> QuarterReport:
    assert mixed_quarter
    return quarter_report(Period.parse("2026-Q2"), now=NOW)


def parsed(data: bytes) -> tuple[dict[str, str], list[dict[str, str]]]:
    """Head block and table of a CSV file, read by the standard library alone."""
    rows = list(csv.reader(io.StringIO(data.decode(), newline="")))
    gap = rows.index([])
    header, *body = rows[gap + 1 :]
    return dict(rows[:gap]), [dict(zip(header, row, strict=True)) for row in body]


def test_head_states_period_filter_counts_reasons_and_versions(report: QuarterReport) -> None:
    head, _ = parsed(csv_bytes(report, "homes"))
    assert head["period"] == "Quarter 2 of 2026, Apr 1, 2026 to Jun 30, 2026"
    assert (head["first_day"], head["last_day"]) == ("2026-04-01", "2026-06-30")
    assert head["filter"] == "All grants"
    assert datetime.fromisoformat(head["made_at"]) == NOW
    assert head["maths_versions"] == "tightness test; savings 1"
    assert head["units_counted"] == "8"
    assert head["units_included_in_reductions"] == "4"
    assert head["units_left_out_of_reductions"] == "4"
    assert head["left_out: No test before the work: It was not safe to test."] == "1"
    assert head["left_out: Not comparable: The method differs."] == "1"


def test_csv_is_utf8_with_crlf_and_iso_dates(report: QuarterReport) -> None:
    data = csv_bytes(report, "homes")
    assert not data.startswith(b"\xef\xbb\xbf")
    assert data.count(b"\n") == data.count(b"\r\n")
    assert csv_bytes_with_mark(report, "homes") == b"\xef\xbb\xbf" + data
    _, rows = parsed(data)
    assert {row["counted_on"] for row in rows} == {"2026-05-12"}
    assert {"before_flow50_cfm", "after_flow50_cfm", "reduction_percent"} <= set(rows[0])


def test_figures_are_raw_and_missing_ones_empty(
    report: QuarterReport, mixed_quarter: dict[str, Job]
) -> None:
    _, rows = parsed(csv_bytes(report, "homes"))
    by_number = {row["job_number"]: row for row in rows}
    small = by_number[mixed_quarter["small"].number]
    assert float(small["before_flow50_cfm"]) == pytest.approx(1000, rel=1e-12)
    assert float(small["reduction_percent"]) == pytest.approx(10, rel=1e-12)
    leakier = by_number[mixed_quarter["leakier"].number]
    assert leakier["reduction_percent"].startswith("-25")
    assert by_number[mixed_quarter["unsafe"].number]["before_flow50_cfm"] == ""
    assert by_number[mixed_quarter["large"].number]["year_built"] == ""


def sheet_rows(workbook: Any, title: str) -> list[dict[str, Any]]:
    header, *body = workbook[title].iter_rows(values_only=True)
    return [dict(zip(header, row, strict=True)) for row in body]


def test_workbook_holds_the_tables_of_the_csv_files_with_typed_cells(
    report: QuarterReport,
) -> None:
    """Read back by openpyxl, which did not write it."""
    workbook = openpyxl.load_workbook(io.BytesIO(xlsx_bytes(report)))
    assert workbook.sheetnames == [
        "Notes", "Homes", "Summary", "Distribution", "Left out", "Savings", "Savings by home",
        "Other tests", "By crew", "By housing type", "By year built", "By county",
        "Housing by heating fuel", "Counties without a unit", "Cycle time", "Corrections",
    ]  # fmt: skip
    for table in tables_of(report):
        _, from_csv = parsed(csv_bytes(report, table.name))
        from_sheet = sheet_rows(workbook, table.title)
        assert len(from_sheet) == len(from_csv)
        for sheet_row, csv_row in zip(from_sheet, from_csv, strict=True):
            for name, cell in sheet_row.items():
                if cell is None:
                    assert csv_row[name] == ""
                elif isinstance(cell, datetime):
                    assert cell.date() == date.fromisoformat(csv_row[name])
                elif isinstance(cell, str):
                    assert csv_row[name] in {cell, f"'{cell}"}
                else:
                    assert float(csv_row[name]) == pytest.approx(cell, rel=1e-12)


def test_no_cell_of_the_workbook_is_a_formula(report: QuarterReport) -> None:
    workbook = openpyxl.load_workbook(io.BytesIO(xlsx_bytes(report)))
    cells = [cell for sheet in workbook for row in sheet.iter_rows() for cell in row]
    assert not [cell for cell in cells if cell.data_type == "f"]
    assert "=HYPERLINK(1)" in {cell.value for cell in cells}


def test_screen_csv_and_workbook_agree_to_the_shown_digit(report: QuarterReport) -> None:
    workbook = openpyxl.load_workbook(io.BytesIO(xlsx_bytes(report)))
    _, from_csv = parsed(csv_bytes(report, "homes"))
    from_sheet = sheet_rows(workbook, "Homes")
    for shown, csv_row, sheet_row in zip(report.rows, from_csv, from_sheet, strict=True):
        for screen, column, unit in (
            (words.flow(shown.before), "before_flow50_cfm", "cfm"),
            (words.flow(shown.after), "after_flow50_cfm", "cfm"),
            (words.percent(shown.reduction), "reduction_percent", "%"),
        ):
            raw = float(csv_row[column]) if csv_row[column] else None
            assert words.quantity(raw, unit) == screen
            assert words.quantity(sheet_row[column], unit) == screen


def test_totals_agree_between_screen_csv_and_workbook(report: QuarterReport) -> None:
    workbook = openpyxl.load_workbook(io.BytesIO(xlsx_bytes(report)))
    _, from_csv = parsed(csv_bytes(report, "summary"))
    csv_values = {row["figure"]: row["value"] for row in from_csv}
    sheet_values = {row["figure"]: row["value"] for row in sheet_rows(workbook, "Summary")}
    for figure in (report.mean_reduction, report.pooled_reduction):
        screen = words.percent(figure.value, 1)
        assert words.quantity(float(csv_values[figure.name]), "%", 1) == screen
        assert words.quantity(sheet_values[figure.name], "%", 1) == screen
    homes = [row for row in parsed(csv_bytes(report, "homes"))[1] if row["reduction_percent"]]
    before = sum(float(row["before_flow50_cfm"]) for row in homes)
    after = sum(float(row["after_flow50_cfm"]) for row in homes)
    pooled = report.pooled_reduction.value
    assert pooled is not None
    assert 1 - after / before == pytest.approx(pooled)


def test_savings_by_home_add_up_to_the_sums(report: QuarterReport) -> None:
    _, homes = parsed(csv_bytes(report, "savings_by_home"))
    _, sums = parsed(csv_bytes(report, "savings"))
    column = "site_energy_central_mmbtu_a_year"
    for row in sums:
        chosen = [one for one in homes if row["fuel"] in {one["fuel"], "All fuels"}]
        assert float(row[column]) == pytest.approx(sum(float(one[column]) for one in chosen))
        assert row["basis"] == "modelled"


def test_names_of_people_are_in_no_export(
    report: QuarterReport, mixed_quarter: dict[str, Job]
) -> None:
    workbook = openpyxl.load_workbook(io.BytesIO(xlsx_bytes(report)))
    text = " ".join(
        str(cell.value) for sheet in workbook for row in sheet.iter_rows() for cell in row
    )
    text += " ".join(csv_bytes(report, table.name).decode() for table in tables_of(report))
    for job in mixed_quarter.values():
        assert job.client.name not in text
        assert job.house.address not in text


def test_notes_sheet_repeats_the_head(report: QuarterReport) -> None:
    workbook = openpyxl.load_workbook(io.BytesIO(xlsx_bytes(report)))
    notes = dict(workbook["Notes"].iter_rows(values_only=True))
    for name, value in head_of(report):
        found = notes[name]
        assert (found.date() if isinstance(found, datetime) else found) == value
    assert "Modelled" in notes["savings"]


def test_unknown_table_is_refused_with_the_known_ones(report: QuarterReport) -> None:
    with pytest.raises(ActionRefused, match="homes, summary"):
        csv_bytes(report, "people")


HOSTILE = [
    "=1+1",
    "+1",
    "-1+2",
    "@SUM(A1)",
    "\t=1",
    "\r=1",
    "\n=1",
    "\0=1",
    "\0",
    "\ttext",
    "  =1",
    "\u00a0=1",
    "\u2003@x",
    "\u200b=1",
    "\ufeff=1",
    "\u202e=1",
    "\u3000+1",
    "\uff1d1+1",
    "\uff0bx",
    "\uff0dx",
    "\uff20x",
    "harmless\n=1",
    "harmless\r\n-1",
    "harmless\r@x",
    "a\n\n  =1",
    "a\u2028=1",
    "a\x0b=1",
    "=\"x\"&cmd|' /C calc'!A0",
    '=HYPERLINK("http://quillmoor.example")',
    "-2+3+cmd|' /C calc'!A0",
    "\x1f=1",
    "\x7f=1",
    " \t =1",
    "''=1\n=2",
    "+" * 5,
    "--",
    "=",
    " = ",
    "@",
    "\x00\x00=1",
]
DANGEROUS = re.compile(r"^[\s\0-\x1f\x7f\u00a0\u200b\u202e\u2003\u3000\ufeff]*[=+\-@＝＋－＠]")


@pytest.mark.parametrize("text", HOSTILE)
def test_no_line_of_a_cell_begins_a_formula(text: str) -> None:
    for line in re.split(r"[\r\n\x0b\x0c\x1c-\x1e\x85\u2028\u2029]", neutralised(text)):
        assert not DANGEROUS.match(line)
    assert neutralised(text)[0] not in "\t\r\0\n"


@pytest.mark.parametrize("text", ["", "12 Larkspur Lane", "O'Rourke", "a = b", "2-4 units", "x@y"])
def test_harmless_text_is_left_alone(text: str) -> None:
    assert neutralised(text) == text


def test_neutralised_cells_survive_the_csv_reader() -> None:
    line = io.StringIO(newline="")
    csv.writer(line, lineterminator="\r\n").writerow([neutralised(text) for text in HOSTILE])
    (row,) = csv.reader(io.StringIO(line.getvalue(), newline=""))
    assert row == [neutralised(text) for text in HOSTILE]
