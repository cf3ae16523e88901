"""Bills in a row: what is joined, what is refused by name, and their degree days."""

import math
from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from agency.savings.bills import (
    Bill,
    Side,
    Weather,
    bill_degree_days,
    in_a_row,
    merge_estimated,
    running_days,
    running_degree_days,
    tabulate,
)
from agency.savings.climate import Convention, cooling_degree_days, heating_degree_days
from agency.savings.errors import BillError

NEW_YEAR = date(2025, 1, 1)


def bill(first, last, energy=100.0, **more):
    """Days counted from new year."""
    return Bill(
        start=NEW_YEAR + timedelta(days=first),
        end=NEW_YEAR + timedelta(days=last),
        energy=energy,
        **more,
    )


def weather(temperature):
    return Weather(first_day=NEW_YEAR, temperature=np.asarray(temperature, dtype=np.float64))


def test_days_are_those_between_the_readings():
    """By hand: 31 days of January from the reading on the 1st to that on 1 February."""
    january = Bill(start=date(2025, 1, 1), end=date(2025, 2, 1), energy=1.0)
    assert january.days == 31


def test_bills_are_put_in_order():
    assert [b.energy for b in in_a_row([bill(30, 60, 2.0), bill(0, 30, 1.0)])] == [1, 2]


def test_a_gap_is_refused_by_name():
    with pytest.raises(BillError, match=r"3 days are missing .*2025-01-31 and .*2025-02-03"):
        in_a_row([bill(0, 30), bill(33, 60)])


def test_an_overlap_is_refused_by_name():
    with pytest.raises(BillError, match=r"overlap by 1 days"):
        in_a_row([bill(0, 30), bill(29, 60)])
    with pytest.raises(BillError, match="overlap by 30 days"):
        in_a_row([bill(0, 30), bill(0, 30)])


@pytest.mark.parametrize("last", [0, -5])
def test_a_bill_without_days_is_refused(last):
    with pytest.raises(BillError, match="has no days"):
        in_a_row([bill(0, last)])


def test_a_bill_without_energy_is_refused_and_zero_is_a_reading():
    with pytest.raises(BillError, match="has no energy"):
        in_a_row([bill(0, 30, math.nan)])
    assert in_a_row([bill(0, 30, 0.0)])[0].energy == 0


def test_estimated_bills_are_joined_with_the_next_real_reading():
    """By hand: 80 + 150 - 20 over 90 days; the guesses cancel."""
    found = merge_estimated(
        [
            bill(0, 30, 70.0, demand=1.0),
            bill(30, 60, 80.0, estimated=True, demand=4.0),
            bill(60, 90, 150.0, estimated=True, demand=3.0),
            bill(90, 120, -20.0, demand=2.0),
        ]
    )
    assert found.bills == (bill(0, 30, 70.0, demand=1.0), bill(30, 120, 210.0, demand=4.0))
    assert found.unread == ()


def test_estimated_bills_at_the_end_wait_for_a_reading():
    waiting = bill(30, 60, 80.0, estimated=True)
    found = merge_estimated([bill(0, 30), waiting])
    assert found.bills == (bill(0, 30),)
    assert found.unread == (waiting,)


def test_an_unknown_demand_stays_unknown():
    found = merge_estimated([bill(0, 30, estimated=True, demand=5.0), bill(30, 60)])
    assert found.bills[0].demand is None


@given(st.lists(st.tuples(st.integers(1, 60), st.integers(0, 10**6), st.booleans()), min_size=1))
def test_joining_loses_neither_day_nor_energy(spans):
    bills, day = [], 0
    for days, energy, estimated in spans:
        bills.append(bill(day, day + days, float(energy), estimated=estimated))
        day += days
    found = merge_estimated(bills)
    together = [*found.bills, *found.unread]
    assert sum(b.days for b in together) == day
    assert sum(b.energy for b in together) == sum(b.energy for b in bills)
    assert not any(b.estimated for b in found.bills)
    assert all(b.estimated for b in found.unread)
    assert in_a_row(together) == tuple(together)


def test_rates_a_day_and_places_in_the_weather():
    """By hand: 62 over 31 days is 2 a day, 28 over 28 is 1."""
    table = tabulate(
        [[bill(0, 31, 62.0), bill(31, 59, 28.0)], [bill(10, 20, 5.0)]], weather([0.0] * 59)
    )
    assert table.rate.tolist() == [[2.0, 1.0], [0.5, 0.0]]
    assert table.days.tolist() == [[31, 28], [10, 0]]
    assert table.first.tolist() == [[0, 31], [10, 0]]


def test_degree_days_of_a_bill_by_hand():
    """By hand: 18 - 10 and 18 - 16 of the second and third day; the fourth is not counted."""
    found = bill_degree_days(
        [bill(1, 3)], weather([0.0, 10.0, 16.0, 0.0]), base=18.0, side=Side.HEATING
    )
    assert found.tolist() == [10.0]


@given(
    temperature=arrays(np.float64, 40, elements=st.floats(-30, 40)),
    base=st.floats(min_value=-5, max_value=30),
)
def test_bills_share_out_the_degree_days_of_the_daily_mean_count(temperature, base):
    """Against the count of a whole period with every hour at the day's mean."""
    bills = [bill(0, 13), bill(13, 14), bill(14, 40)]
    hours = np.repeat(temperature, 24)
    for side, count in [(Side.HEATING, heating_degree_days), (Side.COOLING, cooling_degree_days)]:
        found = bill_degree_days(bills, weather(temperature), base=base, side=side)
        whole = count(hours, base=base, convention=Convention.DAILY_MEAN)
        assert found.sum() == pytest.approx(whole, abs=1e-9)
        assert (found >= 0).all()


@given(
    temperature=arrays(np.float64, 20, elements=st.integers(-20, 35).map(float)),
    base=st.integers(min_value=-5, max_value=30),
)
def test_days_beyond_the_base_are_the_slope_of_the_degree_days(temperature, base):
    """Derived: between two whole temperatures the degree days are linear in the base."""
    for side, sign in [(Side.HEATING, 1), (Side.COOLING, -1)]:
        low, high = running_degree_days(
            temperature=temperature, bases=[base + 0.25, base + 0.75], side=side
        )
        days = running_days(temperature=temperature, bases=[base + 0.5], side=side)[0]
        assert (high - low) / 0.5 == pytest.approx(sign * days, abs=1e-9)


def test_a_bill_outside_the_weather_is_refused_by_name():
    for outside in (bill(-1, 5), bill(5, 11)):
        with pytest.raises(BillError, match=r"outside the weather.*2025-01-01 up to 2025-01-11"):
            tabulate([[outside]], weather([0.0] * 10))
        with pytest.raises(BillError, match="outside the weather"):
            bill_degree_days([outside], weather([0.0] * 10), base=18.0, side=Side.HEATING)


def test_estimated_and_negative_bills_are_refused_by_name():
    with pytest.raises(BillError, match=r"2025-01-01 to 2025-01-06 ends in an estimated"):
        tabulate([[bill(0, 5, estimated=True)]], weather([0.0] * 10))
    with pytest.raises(BillError, match="energy of -3 J"):
        tabulate([[bill(0, 5, -3.0)]], weather([0.0] * 10))


def test_a_missing_day_of_weather_is_refused_by_name():
    with pytest.raises(BillError, match="temperature of 2025-01-03"):
        weather([1.0, 2.0, math.nan, 4.0])


@pytest.mark.parametrize("homes", [[], [[]]])
def test_no_bills_are_refused(homes):
    with pytest.raises(BillError, match="no bill"):
        tabulate(homes, weather([0.0] * 10))
