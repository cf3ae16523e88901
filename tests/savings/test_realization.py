"""Realization rates by hand and against scipy's bootstrap."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import bootstrap

from agency.savings.errors import BillError
from agency.savings.realization import realization


def rate(predicted, measured, *, trials=400, seed=3, confidence=0.90):
    return realization(
        predicted=predicted, measured=measured, confidence=confidence, trials=trials, seed=seed
    )


def test_both_averages_by_hand():
    """By hand: 250 of 400, and the mean of 1 and 1/2."""
    found = rate([100.0, 300.0], [100.0, 150.0])
    assert found.homes == 2
    assert found.ratio_of_sums.central == pytest.approx(0.625)
    assert found.mean_of_ratios.central == pytest.approx(0.75)


@given(
    predicted=st.lists(st.floats(1, 1000), min_size=2, max_size=30),
    share=st.floats(-1, 2),
)
@settings(deadline=None)
def test_homes_that_all_realize_one_share_leave_no_range(predicted, share):
    found = rate(predicted, share * np.array(predicted))
    for average in (found.ratio_of_sums, found.mean_of_ratios):
        ends = [average.low, average.central, average.high]
        assert ends == pytest.approx([share] * 3, abs=1e-9)


def test_intervals_agree_with_scipys_bootstrap():
    """Percentile bootstrap of scipy over paired homes; both are drawn, hence the tolerance."""
    rng = np.random.default_rng(4)
    predicted = rng.uniform(50, 500, 80)
    measured = predicted * rng.normal(0.7, 0.4, 80)
    found = rate(predicted, measured, trials=4000)
    averages = {
        "ratio_of_sums": lambda p, m, axis: m.sum(axis=axis) / p.sum(axis=axis),
        "mean_of_ratios": lambda p, m, axis: (m / p).mean(axis=axis),
    }
    for name, statistic in averages.items():
        other = bootstrap(
            (predicted, measured),
            statistic,
            paired=True,
            vectorized=True,
            n_resamples=4000,
            confidence_level=0.90,
            method="percentile",
            rng=np.random.default_rng(5),
        ).confidence_interval
        ours = getattr(found, name)
        width = other.high - other.low
        assert ours.low == pytest.approx(other.low, abs=0.06 * width)
        assert ours.high == pytest.approx(other.high, abs=0.06 * width)


def test_the_same_seed_gives_the_same_intervals_and_another_seed_others():
    rng = np.random.default_rng(4)
    predicted, measured = rng.uniform(50, 500, 20), rng.uniform(0, 400, 20)
    assert rate(predicted, measured, trials=1500) == rate(predicted, measured, trials=1500)
    assert rate(predicted, measured) != rate(predicted, measured, seed=4)


@pytest.mark.parametrize(
    ("predicted", "measured", "named"),
    [
        ([100.0, 0.0], [1.0, 1.0], "home 2 has a predicted saving of 0"),
        ([100.0, 50.0], [1.0, math.nan], "home 2"),
        ([100.0], [1.0], "at least 2 homes"),
        ([100.0, 50.0], [1.0], "2 predicted and 1 measured"),
    ],
)
def test_homes_without_a_ratio_are_refused_by_number(predicted, measured, named):
    with pytest.raises(BillError, match=named):
        rate(predicted, measured)


def test_too_few_trials_are_refused():
    with pytest.raises(BillError, match="10 trials"):
        rate([100.0, 50.0], [1.0, 2.0], trials=10)
