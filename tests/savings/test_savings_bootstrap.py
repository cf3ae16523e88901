"""Resampled savings: the same again by seed, as wide as the errors, and honest in coverage."""

import numpy as np
import pytest

from agency.savings.bills import BillTable
from agency.savings.change_point import Model, Search, fit_change_points
from agency.savings.errors import BillError
from agency.savings.normal_year import normalized_annual, yearly_saving
from agency.savings.savings_bootstrap import bootstrap_normal_year, bootstrap_saving
from tests.savings.billing import NORMAL, WEATHER, heating_days, noise, table_of

SEARCH = Search(lowest=7.0, highest=23.0, coarse=4, fine=0.25)


def fit(rates):
    return fit_change_points(table_of(rates), WEATHER, model=Model.HEATING, search=SEARCH)


def homes(count, *, slope=4.0, spread=2.0, seed=1):
    return fit(20 + slope * heating_days(14.0) + noise(count, spread=spread, seed=seed))


BEFORE, AFTER = homes(40, seed=1), homes(40, slope=3.0, seed=2)


def saving(home=0, *, trials=400, seed=7):
    return bootstrap_saving(
        before=BEFORE, after=AFTER, home=home, normal=NORMAL, trials=trials, seed=seed
    )


def test_the_same_seed_draws_the_same_trials_and_another_seed_others():
    assert (saving().drawn == saving().drawn).all()
    assert (saving().drawn != saving(seed=8).drawn).any()


def test_the_centre_is_the_fitted_saving_within_its_range():
    found = saving().range_of(confidence=0.90)
    fitted = yearly_saving(before=BEFORE, after=AFTER, normal=NORMAL).energy[0]
    assert found.central == pytest.approx(fitted, rel=1e-12)
    assert found.low < found.central < found.high


def test_trials_spread_as_the_error_by_derivatives_says():
    """Two ways to the same error; first order against search, so within a quarter."""
    errors = normalized_annual(BEFORE, normal=NORMAL).standard_error
    spreads = [
        bootstrap_normal_year(BEFORE, home=home, normal=NORMAL, trials=400, seed=home).drawn.std()
        for home in range(10)
    ]
    assert np.mean(spreads / errors[:10]) == pytest.approx(1, abs=0.25)


def test_most_true_savings_lie_within_nine_tenths_of_the_trials():
    """Derived: one K day less per degree day. Forty drawn homes, so a wide band is asked for;
    percentile intervals of twelve bills are known to be a little narrow."""
    truth = np.maximum(0, 14.0 - NORMAL).sum()
    ranges = [saving(home, trials=200).range_of(confidence=0.90) for home in range(40)]
    within = [found.low <= truth <= found.high for found in ranges]
    assert 0.75 <= np.mean(within) <= 1.0
    assert not all(found.low <= 0 <= found.high for found in ranges)


def test_clean_bills_leave_no_range():
    clean = fit(20 + 4 * heating_days(14.0))
    found = bootstrap_normal_year(clean, home=0, normal=NORMAL, trials=200, seed=1)
    assert found.drawn == pytest.approx(found.fitted, rel=1e-9)


def test_too_few_trials_or_bills_are_refused():
    with pytest.raises(BillError, match="100 trials"):
        saving(trials=100)
    three = BillTable(
        rate=np.array([[50.0, 40.0, 20.0]]),
        days=np.array([[30, 30, 30]]),
        first=np.array([[0, 60, 120]]),
    )
    found = fit_change_points(three, WEATHER, model=Model.HEATING, search=SEARCH)
    with pytest.raises(BillError, match="3 bills are too few"):
        bootstrap_normal_year(found, home=0, normal=NORMAL, trials=200, seed=1)
