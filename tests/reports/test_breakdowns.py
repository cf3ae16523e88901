"""Groups of units: every unit in one cell, groups worked by hand, gaps named, days by numpy."""

import math
from datetime import UTC, date, datetime, timedelta
from typing import Any

import numpy as np
import pytest

from agency.diagnostics.models import Result
from agency.houses.models import House
from agency.jobs.models import Visit
from agency.people.models import Crew
from agency.programs.models import County
from agency.reports.breakdowns import vintage_of
from agency.reports.periods import Period
from agency.reports.quarter import QuarterReport, quarter_report
from tests.builders import make_house

NOW = datetime(2026, 7, 2, 14, 30, tzinfo=UTC)
SPRING = Period.parse("2026-Q2")


def report_of() -> QuarterReport:
    return quarter_report(SPRING, now=NOW)


def bands(report: QuarterReport, key: str) -> dict[str, Any]:
    return {band.name: band for one in report.breakdowns if one.key == key for band in one.bands}


@pytest.fixture
def quarter(ledger: Any) -> QuarterReport:
    """Six houses of three types and fuels in two counties; one house was worked on twice."""
    larch = County.objects.create(code="99003", name="Larch")
    County.objects.create(code="99005", name="Moss")
    twice = make_house(dwelling=House.Dwelling.MOBILE_HOME, heating_fuel="propane")
    ledger.pair(4000.0, 2000.0)
    ledger.pair(1000.0, 900.0)
    ledger.pair(2000.0, 1000.0, house=twice)
    ledger.pair(1500.0, 1200.0, house=twice)
    ledger.pair(1200.0, 1500.0, house=make_house(heating_fuel="", county=larch, year_built=None))
    ledger.pair(3000.0, 2400.0, house=make_house(year_built=1939))
    ledger.lacking("before", house=make_house(dwelling="shelter", heating_fuel="wood"))
    return report_of()


def test_each_unit_stands_in_one_cell_of_housing_by_fuel(quarter: QuarterReport) -> None:
    table = quarter.crossing
    cells = [cell.n for row in table.rows for cell in row.cells]
    assert sum(cells) == table.total.n == quarter.units.n == 6
    for row in table.rows:
        assert sum(cell.n for cell in row.cells) == row.total.n
    for place, total in enumerate(table.totals):
        assert sum(row.cells[place].n for row in table.rows) == total.n
    counts = {
        (row.dwelling, fuel): cell.n
        for row in table.rows
        for fuel, cell in zip(table.fuels, row.cells, strict=True)
        if cell.n
    }
    assert counts == {
        ("Single-family", "Natural gas"): 3,
        ("Single-family", "not recorded"): 1,
        ("Mobile home", "Propane"): 1,
        ("Shelter", "Wood"): 1,
    }


def test_groups_worked_by_hand(quarter: QuarterReport) -> None:
    """Single-family: 50, 10, -25 and 20 % have mean 13.75 %; pooled 2400 of 9200 is 26.1 %."""
    single = bands(quarter, "dwelling")["Single-family"]
    assert (single.units.n, single.pairs.n) == (4, 4)
    assert single.reductions.mean_reduction.value == pytest.approx(0.1375)
    assert single.reductions.pooled_reduction.value == pytest.approx(2400 / 9200)
    shelter = bands(quarter, "dwelling")["Shelter"]
    assert (shelter.units.n, shelter.pairs.n) == (1, 0)
    assert shelter.reductions.mean_reduction.value is None


@pytest.mark.parametrize("key", ["crew", "dwelling", "vintage", "county"])
def test_every_breakdown_holds_every_pair_once(quarter: QuarterReport, key: str) -> None:
    found = bands(quarter, key).values()
    jobs = [job for band in found for job in band.units.jobs]
    assert sorted(jobs, key=str) == sorted(quarter.units.jobs, key=str)
    assert sum(band.pairs.n for band in found) == quarter.coverage.part.n


def test_whole_group_as_one_band_has_the_interval_of_the_whole(quarter: QuarterReport) -> None:
    """All jobs are of one crew, so its band must say what the summary says."""
    (band,) = bands(quarter, "crew").values()
    assert band.reductions.pooled_reduction == quarter.pooled_reduction
    assert band.reductions.mean_reduction == quarter.mean_reduction
    assert band.reductions.pooled_reduction.low is not None


def test_errors_of_a_shared_fan_do_not_average_out_in_a_group(ledger: Any) -> None:
    """2000 to 1000, tested with one fan before and another after; 2.5 % common, 1.2 % random.

    JCGM 100:2008, 5.2, from memory: u = 0.5 sqrt(2 (0.025^2 + 0.012^2 / n)) for n homes.
    """
    other = Crew.objects.create(name="Crew Cedar")
    jobs = [ledger.pair(2000.0, 1000.0) for _ in range(4)]
    jobs.append(ledger.pair(2000.0, 1000.0, crew=other))
    for result in Result.objects.filter(test_run__job__in=jobs, test_run__phase="after"):
        result.figures["instruments"] = {
            "gauge": "QG-014", "fans": ["QF-900"], "configurations": ["open"],
        }  # fmt: skip
        result.save()
    found = bands(report_of(), "crew")
    for crew, n in (("Crew Alder", 4), ("Crew Cedar", 1)):
        by_hand = 0.5 * math.sqrt(2 * (0.025**2 + 0.012**2 / n))
        assert found[crew].reductions.pooled_reduction.uncertainty == pytest.approx(by_hand)


@pytest.mark.parametrize(
    ("year", "band"),
    [
        (1700, "before 1940"),
        (1939, "before 1940"),
        (1940, "1940 to 1959"),
        (1959, "1940 to 1959"),
        (1960, "1960 to 1979"),
        (1999, "1980 to 1999"),
        (2000, "2000 and later"),
        (None, "not recorded"),
    ],
)
def test_bands_of_year_built_begin_and_end(year: int | None, band: str) -> None:
    assert vintage_of(year) == band


def test_counties_without_a_unit_are_named(quarter: QuarterReport) -> None:
    assert [one.name for one in quarter.counties_without_unit] == ["Moss"]


def test_days_are_those_of_numpy(make_job: Any) -> None:
    days = [3, 10, 11, 40, 95, 96]
    for number in days:
        opened = date(2026, 5, 12) - timedelta(days=number)
        make_job(status="approved", opened_on=opened)
    make_job(status="in_progress")
    time = report_of().cycle_time
    assert time.n == 6
    assert (time.p25, time.median, time.p75) == tuple(np.quantile(days, [0.25, 0.5, 0.75]))


@pytest.mark.django_db
def test_without_a_finished_job_there_are_no_days() -> None:
    time = report_of().cycle_time
    assert (time.n, time.median) == (0, None)


def test_rework_is_told_over_units_first_inspected_in_the_period(make_job: Any) -> None:
    def inspected(*outcomes: str, first: date = date(2026, 5, 1)) -> None:
        job = make_job(status="approved")
        for place, outcome in enumerate(outcomes):
            Visit.objects.create(
                job=job,
                kind="final_inspection",
                outcome=outcome,
                planned_on=first + timedelta(days=place),
            )

    inspected("passed")
    inspected("failed", "failed", "passed")
    inspected("failed", "passed")
    inspected("failed", "passed", first=date(2026, 3, 31))
    report = report_of()
    assert report.rework.whole.n == report.first_pass.whole.n == 3
    assert report.rework.part.n == 2
    assert report.first_pass.value == pytest.approx(1 / 3)
    assert report.failed_inspections == 3
