"""Degree days against a second count with the csv module and against each other."""

import csv
import math
from pathlib import Path

import numpy as np
import pvlib
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from agency.savings.climate import (
    ERBS_A,
    ERBS_SPREAD,
    Convention,
    cooling_degree_days,
    erbs_cooling_degree_days,
    erbs_heating_degree_days,
    heating_degree_days,
    schoenau_cooling_degree_days,
    schoenau_heating_degree_days,
)
from agency.savings.errors import ClimateError

GREENSBORO = Path(pvlib.__file__).parent / "data" / "723170TYA.CSV"
MONTH_DAYS = [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31]
BASE_65 = (65 - 32) / 1.8
BASE_55 = (55 - 32) / 1.8

days = arrays(np.float64, 48, elements=st.floats(min_value=-50, max_value=50))
bases = st.floats(min_value=-10, max_value=30)


@pytest.fixture(scope="module")
def greensboro():
    """Dry bulb of the TMY3 year 723170 as shipped with pvlib, in file order. [°C]"""
    with GREENSBORO.open(newline="") as file:
        next(file)
        return [float(row["Dry-bulb (C)"]) for row in csv.DictReader(file)]


def by_hand(hours, convention):
    """HDD65 in °F days with plain sums."""
    total = []
    for start in range(0, len(hours), 24):
        day = [65 - (32 + 1.8 * t) for t in hours[start : start + 24]]
        if convention == "hourly":
            total.append(math.fsum(max(0, drop) for drop in day) / 24)
        elif convention == "daily_mean":
            total.append(max(0, math.fsum(day) / 24))
        else:
            total.append(max(0, (max(day) + min(day)) / 2))
    return math.fsum(total)


@pytest.mark.parametrize(
    ("convention", "printed", "tolerance"),
    [("hourly", 4050.378, 0.05), ("daily_mean", 3875.76, 0.05), ("max_min", 3869, 0.5)],
)
def test_hdd65_of_greensboro(greensboro, convention, printed, tolerance):
    """Figures found by a second script with the csv module; the plain sums are done again here."""
    found = 1.8 * heating_degree_days(greensboro, base=BASE_65, convention=Convention(convention))
    assert found == pytest.approx(printed, abs=tolerance)
    assert found == pytest.approx(by_hand(greensboro, convention), rel=1e-9)


def monthly(greensboro):
    daily = np.reshape(greensboro, (-1, 24)).mean(axis=1)
    months = np.split(daily, np.cumsum(MONTH_DAYS)[:-1])
    return [m.mean() for m in months], [m.std(ddof=1) for m in months]


@pytest.mark.parametrize(
    ("base", "daily_mean", "tolerance"), [(BASE_65, 3875.76, 116), (BASE_55, 2034.15, 61)]
)
def test_erbs_stays_within_three_per_cent_of_the_daily_count(
    greensboro, base, daily_mean, tolerance
):
    """Erbs, Klein and Beckman 1983 (coefficients from memory) from monthly means alone."""
    means, _ = monthly(greensboro)
    found = 1.8 * erbs_heating_degree_days(monthly_means=means, days=MONTH_DAYS, base=base)
    assert found == pytest.approx(daily_mean, abs=tolerance)


def test_erbs_constants():
    """ln 2 / 2a is 0.2041 in the cosh form; 1.45 is 3.54 in °F (both from memory)."""
    assert math.log(2) / (2 * ERBS_A) == pytest.approx(0.2041, abs=0.0001)
    assert 1.8 * ERBS_SPREAD[0] - 32 * ERBS_SPREAD[1] == pytest.approx(3.54, abs=0.005)


def test_schoenau_stays_within_two_per_cent_of_the_daily_count(greensboro):
    """Schoenau and Kehrig 1990 (from memory): 3875.76 by daily means, 3886.238 by the formula."""
    means, spreads = monthly(greensboro)
    found = 1.8 * schoenau_heating_degree_days(
        monthly_means=means, daily_spreads=spreads, days=MONTH_DAYS, base=BASE_65
    )
    assert found == pytest.approx(3875.76, abs=77.5)
    assert found == pytest.approx(3886.238, abs=0.005)


@given(base=bases)
def test_monthly_heating_less_cooling_is_the_distance_from_base(greensboro, base):
    """max(0, x) - max(0, -x) = x holds of every distribution with the month's mean."""
    means, spreads = monthly(greensboro)
    months = {"monthly_means": means, "days": MONTH_DAYS, "base": base}
    distance = float(np.dot(MONTH_DAYS, base - np.array(means)))
    erbs = erbs_heating_degree_days(**months) - erbs_cooling_degree_days(**months)
    assert erbs == pytest.approx(distance, abs=1e-6)
    months["daily_spreads"] = spreads
    schoenau = schoenau_heating_degree_days(**months) - schoenau_cooling_degree_days(**months)
    assert schoenau == pytest.approx(distance, abs=1e-6)


def test_monthly_cooling_stays_near_the_daily_count(greensboro):
    """Both forms from memory, against the count by daily means at 65 °F: within 6 and 2 %."""
    means, spreads = monthly(greensboro)
    months = {"monthly_means": means, "days": MONTH_DAYS, "base": BASE_65}
    daily = cooling_degree_days(greensboro, base=BASE_65, convention=Convention.DAILY_MEAN)
    assert erbs_cooling_degree_days(**months) == pytest.approx(daily, rel=0.06)
    found = schoenau_cooling_degree_days(**months, daily_spreads=spreads)
    assert found == pytest.approx(daily, rel=0.02)


@given(hours=days, base=bases)
def test_heating_less_cooling_is_the_distance_from_base(hours, base):
    """max(0, x) - max(0, -x) = x, hour by hour and day by day."""
    for convention in (Convention.HOURLY, Convention.DAILY_MEAN):
        heating = heating_degree_days(hours, base=base, convention=convention)
        cooling = cooling_degree_days(hours, base=base, convention=convention)
        assert heating - cooling == pytest.approx((base - hours).sum() / 24, abs=1e-9)


@given(hours=days, base=bases)
def test_hourly_is_never_below_the_daily_mean(hours, base):
    """Jensen's inequality."""
    hourly = heating_degree_days(hours, base=base, convention=Convention.HOURLY)
    assert hourly >= heating_degree_days(hours, base=base, convention=Convention.DAILY_MEAN) - 1e-9


@pytest.mark.parametrize("convention", list(Convention))
def test_steady_weather_reads_the_same_by_all_conventions(convention):
    assert heating_degree_days([8.0] * 240, base=18, convention=convention) == pytest.approx(100)
    assert cooling_degree_days([28.0] * 240, base=18, convention=convention) == pytest.approx(100)


@pytest.mark.parametrize("hours", [[], [1.0] * 25, [1.0] * 23 + [math.nan]])
def test_incomplete_days_are_refused(hours):
    with pytest.raises(ClimateError, match="complete year"):
        heating_degree_days(hours, base=18, convention=Convention.HOURLY)


def test_wrong_months_are_refused():
    with pytest.raises(ClimateError, match="twelve"):
        erbs_heating_degree_days(monthly_means=[1.0] * 11, days=MONTH_DAYS, base=18)
    with pytest.raises(ClimateError, match="spreads"):
        schoenau_heating_degree_days(
            monthly_means=[1.0] * 12, daily_spreads=[0.0] * 12, days=MONTH_DAYS, base=18
        )
