"""A file with small counts withheld lists no home and gives nothing away by addition."""

import csv
import io
from datetime import UTC, datetime
from typing import Any

import pytest

from agency.errors import ActionRefused
from agency.jobs.models import Job
from agency.people.models import Crew
from agency.reports.board_words import board_sentences
from agency.reports.disclosure import HIDDEN_WORD, Telling, hidden_in, smallest_count
from agency.reports.export_files import telling_for
from agency.reports.exports import csv_bytes
from agency.reports.periods import Period
from agency.reports.quarter import QuarterReport, quarter_report
from agency.reports.report_words import report_words
from agency.reports.tables import TABLE_TITLES, head_of, tables_of
from agency.rulebook.models import Rule
from tests.builders import make_house

NOW = datetime(2026, 7, 2, 14, 30, tzinfo=UTC)
ONE_BY_ONE = {"homes", "left_out", "savings_by_home", "corrections"}


@pytest.fixture
def report(ledger: Any) -> QuarterReport:
    """Twelve single-family gas homes of one crew, and two mobile homes on propane of another."""
    for place in range(12):
        ledger.pair(2000.0 + place, 1000.0)
    other = Crew.objects.create(name="Crew Cedar")
    for _ in range(2):
        house = make_house(dwelling="mobile_home", heating_fuel="propane", year_built=1975)
        ledger.pair(1000.0, 500.0, house=house, crew=other)
    return quarter_report(Period.parse("2026-Q2"), now=NOW)


@pytest.fixture
def telling(report: QuarterReport) -> Telling:
    return telling_for(report, names=False, withhold=True, now=NOW)


def rows(report: QuarterReport, name: str, telling: Telling) -> list[dict[str, str]]:
    text = csv_bytes(report, name, telling).decode()
    return list(csv.DictReader(io.StringIO(text.partition("\r\n\r\n")[2])))


def test_ten_is_the_smallest_count_told(db: None) -> None:
    """Common practice, no source."""
    assert smallest_count(NOW.date()) == 10


def test_agencys_own_number_holds(report: QuarterReport) -> None:
    Rule.objects.filter(code="report.smallest_count").update(limit=2)
    told = telling_for(report, names=False, withhold=True, now=NOW)
    assert told.hidden == {"extremes"}
    Rule.objects.filter(code="report.smallest_count").delete()
    with pytest.raises(ActionRefused, match="Load the rules"):
        smallest_count(NOW.date())


def test_tables_of_single_homes_are_left_out(report: QuarterReport, telling: Telling) -> None:
    names = {table.name for table in tables_of(report, telling)}
    assert names == set(TABLE_TITLES) - ONE_BY_ONE
    for name in ONE_BY_ONE:
        with pytest.raises(ActionRefused, match="There is no table"):
            csv_bytes(report, name, telling)


def test_small_group_takes_the_other_with_it(report: QuarterReport, telling: Telling) -> None:
    """With 14 units told, 12 would tell the 2."""
    found = rows(report, "by_crew", telling)
    assert [row["units"] for row in found] == [HIDDEN_WORD, HIDDEN_WORD]
    assert {row["pooled_reduction_percent"] for row in found} == {HIDDEN_WORD}


def test_no_figure_of_a_hidden_group_is_told(report: QuarterReport, telling: Telling) -> None:
    for name in ("by_dwelling", "by_vintage", "housing_by_fuel"):
        for row in rows(report, name, telling):
            if HIDDEN_WORD in row.values() and "pairs" in row:
                assert set(list(row.values())[2:]) == {HIDDEN_WORD}


def test_sums_of_the_told_do_not_tell_a_withheld_cell(
    report: QuarterReport, telling: Telling
) -> None:
    """In each row and column of housing by fuel none or at least two counts are withheld."""
    table = rows(report, "housing_by_fuel", telling)
    columns = [name for name in table[0] if name != "housing_type"]
    lines = [[row[name] for name in columns] for row in table]
    for line in [*lines, *zip(*lines, strict=True)]:
        assert list(line).count(HIDDEN_WORD) != 1
    assert table[0]["units_natural_gas"] == HIDDEN_WORD


def test_head_and_words_withhold_the_same(report: QuarterReport, telling: Telling) -> None:
    assert telling.hidden is not None
    said = report_words(report, telling)
    assert said.homes == []
    for key, line in said.lines.items():
        assert (line.value == HIDDEN_WORD) == telling.hides(key) or key in {
            "mean", "pooled", "flow-before", "flow-after", "flow-saved", "spread",
        }  # fmt: skip
    told = dict(head_of(report, telling))
    assert told["units_counted"] == 14
    assert HIDDEN_WORD in told


def test_nothing_is_withheld_from_large_groups(ledger: Any) -> None:
    for place in range(11):
        ledger.pair(2000.0 + place, 1000.0)
    report = quarter_report(Period.parse("2026-Q2"), now=NOW)
    # The smallest and the largest reduction are each of one home, however many there are.
    assert hidden_in(report, smallest=10) == {"extremes"}


def test_one_fuel_withheld_takes_a_second(mixed_quarter: dict[str, Job]) -> None:
    """The sum over all fuels less the told ones would be the withheld one."""
    report = quarter_report(Period.parse("2026-Q2"), now=NOW)
    hidden = {name for name in hidden_in(report, smallest=2) if name.startswith("fuel-")}
    assert hidden >= {"fuel-propane", "fuel-natural_gas"}


def test_names_are_told_only_when_asked_for(mixed_quarter: dict[str, Job]) -> None:
    report = quarter_report(Period.parse("2026-Q2"), now=NOW)
    plain = telling_for(report, names=False, withhold=False, now=NOW)
    named = telling_for(report, names=True, withhold=False, now=NOW)
    assert "client" not in rows(report, "homes", plain)[0]
    expected = {job.number: job.client.name for job in mixed_quarter.values()}
    assert {row["job_number"]: row["client"] for row in rows(report, "homes", named)} == expected
    assert telling_for(report, names=True, withhold=True, now=NOW).people is None


def test_boards_sentences_hold_no_withheld_number(report: QuarterReport, telling: Telling) -> None:
    said = " ".join(one for _, sentences in board_sentences(report, telling) for one in sentences)
    assert "14 homes were counted" in said
    assert "withheld" in said


def test_boards_sentences_are_made_of_the_figures(mixed_quarter: dict[str, Job]) -> None:
    """8 units, 4 pairs; 50, 10, -25 and 1 % have mean 9.0 %, pooled 100 (1 - 6380/8200) 22.2 %."""
    report = quarter_report(Period.parse("2026-Q2"), now=NOW)
    said = " ".join(
        one for _, sentences in board_sentences(report, Telling()) for one in sentences
    ).replace("\u202f", " ").replace("\u00a0", " ")  # fmt: skip
    for words in (
        "8 homes were counted from Apr 1, 2026 to Jun 30, 2026.",
        "4 homes can be compared before and after the work.",
        "reductions of air leakage is 9.0 %",
        "from 8,200 cfm to 6,380 cfm, a pooled reduction of 22.2 %",
        "1 home leaks more than before",
        "4 homes counted without a pair of tests that can be compared:",
        "No test before the work: 1 home.",
    ):
        assert words in said
    assert "not measured from bills" in said


@pytest.mark.django_db
def test_board_of_an_empty_quarter_reads_that_nothing_was_counted() -> None:
    report = quarter_report(Period.parse("2026-Q2"), now=NOW)
    said = [one for _, sentences in board_sentences(report, Telling()) for one in sentences]
    assert said[0].startswith("No home was counted.")
    assert not any(character.isdigit() for character in " ".join(said))
