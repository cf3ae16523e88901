"""Present values against printed factors, plain sums and each other."""

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from agency.savings.errors import EconomicsError
from agency.savings.present_value import (
    escalated_present_value,
    indexed_present_value,
    mid_year_present_value,
    net_present_value,
    nominal_rate,
    real_rate,
    simple_payback,
    uniform_present_value,
)

rates = st.floats(min_value=-0.2, max_value=0.3)
lives = st.integers(min_value=1, max_value=40)


def plain_sum(*, discount_rate, escalation, years, shift=0.0):
    """One payment after the other."""
    growth = (1 + escalation) / (1 + discount_rate)
    return math.fsum(growth ** (k - shift) for k in range(1, years + 1))


@pytest.mark.parametrize(
    ("escalation", "printed", "tolerance"), [(0.07, 18.049, 0.002), (0.08, 20.05, 0.001)]
)
def test_mid_year_factors_of_the_handbook(escalation, printed, tolerance):
    """MIL-HDBK-1003/13A, table 3-5a, d = 10 %, N = 25, read. That the timing is mid-year is
    derived; no timing gives both printed figures to their last digit, hence the tolerance."""
    found = mid_year_present_value(discount_rate=0.10, escalation=escalation, years=25)
    assert found == pytest.approx(printed, abs=tolerance)


def test_end_of_year_timing_is_not_the_handbooks():
    """Derived: the plain sum is 17.800, 1.4 % below the 18.049 printed."""
    found = escalated_present_value(discount_rate=0.10, escalation=0.07, years=25)
    assert found == pytest.approx(17.800, abs=0.0005)


@pytest.mark.parametrize("factor", [mid_year_present_value, escalated_present_value])
def test_a_price_growing_at_the_discount_rate_counts_each_year_once(factor):
    """MIL-HDBK-1003/13A, table 3-5a, prints 25 for d = e = 10 %, N = 25, read."""
    assert factor(discount_rate=0.10, escalation=0.10, years=25) == pytest.approx(25, abs=1e-9)


def test_uniform_factor_of_three_per_cent_over_twenty_years():
    """Derived: the sum of 1.03**-k, k = 1 to 20, is 14.87747."""
    found = uniform_present_value(discount_rate=0.03, years=20)
    assert found == pytest.approx(14.87747, abs=0.000005)


def test_escalated_factor_of_fifteen_years():
    """Derived: the sum of (1.015/1.03)**k, k = 1 to 15, is 13.36576."""
    found = escalated_present_value(discount_rate=0.03, escalation=0.015, years=15)
    assert found == pytest.approx(13.36576, abs=0.000005)


@given(discount_rate=rates, escalation=rates, years=lives)
def test_closed_forms_are_the_plain_sums(discount_rate, escalation, years):
    same = {"discount_rate": discount_rate, "escalation": escalation, "years": years}
    assert escalated_present_value(**same) == pytest.approx(plain_sum(**same), rel=1e-10)
    assert mid_year_present_value(**same) == pytest.approx(plain_sum(**same, shift=0.5), rel=1e-10)


@given(rate=rates, gap=st.floats(min_value=1e-15, max_value=1e-9), years=lives)
def test_rates_a_hair_apart_lose_no_digits(rate, gap, years):
    """Derived: q is 1 to within the gap, so each year counts 1 to within N gaps."""
    found = escalated_present_value(discount_rate=rate, escalation=rate + gap, years=years)
    assert found == pytest.approx(years, rel=1e-7)


@given(discount_rate=rates, escalation=rates, years=lives)
def test_a_table_of_steady_growth_gives_the_growth_factor(discount_rate, escalation, years):
    indices = [(1 + escalation) ** k for k in range(1, years + 1)]
    found = indexed_present_value(discount_rate=discount_rate, price_indices=indices)
    same = escalated_present_value(discount_rate=discount_rate, escalation=escalation, years=years)
    assert found == pytest.approx(same, rel=1e-10)


def test_indices_by_hand():
    """By hand: 1.1/1.25 + 0.9/1.5625 + 1/1.953125 = 0.88 + 0.576 + 0.512."""
    found = indexed_present_value(discount_rate=0.25, price_indices=[1.1, 0.9, 1.0])
    assert found == pytest.approx(1.968, abs=1e-12)


def test_factors_of_many_measures_at_once():
    lives_of = np.array([5, 10, 20])
    found = escalated_present_value(discount_rate=0.03, escalation=[[0.0], [0.02]], years=lives_of)
    assert found.shape == (2, 3)
    assert found[1, 2] == pytest.approx(
        plain_sum(discount_rate=0.03, escalation=0.02, years=20), rel=1e-12
    )
    table = indexed_present_value(discount_rate=[0.03, 0.05], price_indices=np.ones((2, 4)))
    assert table == pytest.approx(uniform_present_value(discount_rate=[0.03, 0.05], years=4))


@given(real=rates, inflation=rates)
def test_real_and_nominal_rates_undo_each_other(real, inflation):
    there = nominal_rate(real=real, inflation=inflation)
    assert real_rate(nominal=there, inflation=inflation) == pytest.approx(real, abs=1e-12)
    assert 1 + there == pytest.approx((1 + real) * (1 + inflation), rel=1e-12)


@given(discount=rates, growth=rates, inflation=rates, years=lives)
def test_all_nominal_gives_the_same_value_as_all_real(discount, growth, inflation, years):
    """Derived: inflation cancels in q."""
    assume((1 + max(discount, growth)) * (1 + inflation) < 2)
    nominal = escalated_present_value(
        discount_rate=nominal_rate(real=discount, inflation=inflation),
        escalation=nominal_rate(real=growth, inflation=inflation),
        years=years,
    )
    real = escalated_present_value(discount_rate=discount, escalation=growth, years=years)
    assert nominal == pytest.approx(real, rel=1e-9)


@given(discount_rate=rates, years=lives, more=st.floats(min_value=0.001, max_value=0.3))
def test_a_higher_discount_rate_is_worth_less(discount_rate, years, more):
    low = uniform_present_value(discount_rate=discount_rate, years=years)
    assert uniform_present_value(discount_rate=discount_rate + more, years=years) < low


def test_payback_and_net_value_by_hand():
    assert simple_payback(cost=1200.0, first_year_saving=150.0) == 8
    assert simple_payback(cost=0.0, first_year_saving=150.0) == 0
    assert net_present_value(present_value=[1500.0, 900.0], cost=1000.0).tolist() == [500, -100]


@pytest.mark.parametrize("saving", [0.0, -3.0])
def test_nothing_saved_never_pays_back(saving):
    assert simple_payback(cost=1200.0, first_year_saving=saving) is None


@pytest.mark.parametrize("rate", [3.0, -1.0, math.nan, [0.03, 3.0]])
def test_a_rate_that_is_no_fraction_is_refused(rate):
    with pytest.raises(EconomicsError, match=r"0\.03, not 3"):
        uniform_present_value(discount_rate=rate, years=20)
    with pytest.raises(EconomicsError, match="price growth or inflation"):
        nominal_rate(real=0.03, inflation=rate)


@pytest.mark.parametrize("years", [0, -1, 7.5, 240, math.nan])
def test_a_lifetime_that_is_no_count_of_years_is_refused(years):
    with pytest.raises(EconomicsError, match="lifetime"):
        uniform_present_value(discount_rate=0.03, years=years)


@pytest.mark.parametrize("indices", [[], 1.0, [1.0, 0.0], [1.0, math.nan]])
def test_a_broken_table_of_indices_is_refused(indices):
    with pytest.raises(EconomicsError, match="price indices"):
        indexed_present_value(discount_rate=0.03, price_indices=indices)


def test_a_negative_cost_is_refused():
    with pytest.raises(EconomicsError, match="cost is -1"):
        simple_payback(cost=-1.0, first_year_saving=10.0)
