"""A building's tests: weighted by units, techniques apart, units counted once."""

from datetime import UTC, date, datetime

import pytest

from agency.reports.building import building_tests, weighted_by_units
from agency.reports.periods import Period
from agency.reports.quarter import quarter_report
from tests.builders import make_building, make_house

pytestmark = pytest.mark.django_db

NOW = datetime(2026, 7, 1, 12, 0, tzinfo=UTC)


def test_weights_are_dwelling_units():
    """Derived: (12 × 0.30 + 1 × 0.10 + 1 × 0.50) ÷ 14 = 4.2 ÷ 14."""
    assert weighted_by_units([(12, 0.30), (1, 0.10), (1, 0.50)]) == pytest.approx(0.3, abs=1e-12)
    assert weighted_by_units([]) is None


def test_whole_building_and_single_units_are_never_mixed(ledger):
    building = make_building()
    whole = make_house(address=building.address, building=building, units=6)
    unit = make_house(address=building.address, building=building, unit="2B")
    ledger.pair(6000, 4200, house=whole)
    ledger.pair(1000, 500, house=unit)
    ledger.judged("not_comparable", ["Other doors"], house=make_house(building=building, unit="3"))
    found = {one.code: one for one in building_tests(building)}
    assert set(found) == {"whole", "unit"}
    assert found["whole"].reduction_by_units == pytest.approx(0.3)
    assert (found["unit"].reduction_by_units, found["unit"].units_measured) == (0.5, 1)
    assert found["unit"].parts[1].reduction is None


def test_a_building_without_a_test_lists_no_technique():
    assert building_tests(make_building()) == []


def test_a_whole_building_counts_all_its_units_once(ledger):
    """A 12-unit building tested at once is 12 units and one pair."""
    building = make_building(units_total=12)
    whole = make_house(address=building.address, building=building, units=12)
    ledger.pair(6000, 4200, house=whole)
    ledger.pair(2000, 1000)
    spring = Period(code="t", label="t", first=date(2026, 4, 1), last=date(2026, 6, 30))
    report = quarter_report(spring, now=NOW)
    assert (report.units.n, len(report.units.jobs)) == (13, 2)
    assert (report.mean_reduction.n, report.mean_reduction.value) == (2, pytest.approx(0.4))
