"""Change-point fits against parameters put in, a dense grid and an independent library."""

from datetime import timedelta

import numpy as np
import pytest
import statsmodels.api as sm
from hypothesis import given, settings
from hypothesis import strategies as st

from agency.savings.bills import Bill, BillTable, Side, Weather, tabulate
from agency.savings.change_point import Model, Search, fit_change_points, weights_of
from agency.savings.errors import BillError
from tests.savings.billing import (
    FIRST_DAY,
    LENGTHS,
    OPENINGS,
    SEARCH,
    WEATHER,
    YEAR,
    cooling_days,
    heating_days,
    noise,
    table_of,
)

loads = st.floats(min_value=1, max_value=100)
slopes = st.floats(min_value=0.5, max_value=50)
heating_bases = st.floats(min_value=9, max_value=16)
cooling_bases = st.floats(min_value=16, max_value=21)


def fit(rates, model, *, weather=WEATHER, search=SEARCH):
    return fit_change_points(table_of(rates), weather, model=model, search=search)


def columns_at(model, bases):
    made = {Side.HEATING: heating_days, Side.COOLING: cooling_days}
    return [made[side](base) for side, base in zip(model.sides, bases, strict=True)]


def least_squares(rates, columns):
    """Weighted squares left by numpy's own solver."""
    root = np.sqrt(LENGTHS / LENGTHS.mean())
    design = np.column_stack([np.ones(12), *columns]) * root[:, None]
    found = np.linalg.lstsq(design, rates * root, rcond=None)[0]
    return float(((rates * root - design @ found) ** 2).sum())


@given(load=loads, slope=slopes, base=heating_bases)
@settings(deadline=None)
def test_clean_heating_parameters_are_recovered(load, slope, base):
    found = fit(load + slope * heating_days(base), Model.HEATING)
    assert found.bases[0, 0] == pytest.approx(base, abs=SEARCH.fine)
    assert found.slopes[0, 0] == pytest.approx(slope, rel=0.01)
    assert found.base_load[0] == pytest.approx(load, abs=0.05 * slope)
    assert not found.at_edge.any()


@given(load=loads, slope=slopes, base=st.floats(min_value=11, max_value=20))
@settings(deadline=None)
def test_clean_cooling_parameters_are_recovered(load, slope, base):
    found = fit(load + slope * cooling_days(base), Model.COOLING)
    assert found.bases[0, 0] == pytest.approx(base, abs=SEARCH.fine)
    assert found.slopes[0, 0] == pytest.approx(slope, rel=0.02)
    assert found.base_load[0] == pytest.approx(load, abs=0.05 * slope)


@given(load=loads, slope=slopes, ratio=st.floats(0.5, 2), low=heating_bases, high=cooling_bases)
@settings(deadline=None)
def test_clean_heating_and_cooling_parameters_are_recovered(load, slope, ratio, low, high):
    rates = load + slope * heating_days(low) + slope * ratio * cooling_days(high)
    found = fit(rates, Model.BOTH)
    assert found.bases[0] == pytest.approx([low, high], abs=0.2)
    assert found.slopes[0] == pytest.approx([slope, slope * ratio], rel=0.05)
    assert np.sqrt(found.squares[0] / 12) < 0.01 * slope


@pytest.mark.parametrize("model", [Model.HEATING, Model.COOLING])
def test_base_on_the_grid_is_found_to_the_last_digit(model):
    rates = 5 + 2 * columns_at(model, [14.0])[0]
    found = fit(rates, model)
    assert found.bases[0, 0] == pytest.approx(14.0, abs=1e-9)
    assert found.slopes[0, 0] == pytest.approx(2.0, rel=1e-9)
    assert found.base_load[0] == pytest.approx(5.0, rel=1e-9)
    assert found.squares[0] == pytest.approx(0, abs=1e-15)


@given(seed=st.integers(0, 10**6), spread=st.floats(0.1, 5))
@settings(deadline=None, max_examples=30)
def test_no_base_of_a_dense_grid_leaves_smaller_squares(seed, spread):
    rates = 20 + 4 * heating_days(15.0) + noise(1, spread=spread, seed=seed)[0]
    found = fit(rates, Model.HEATING)
    dense = [least_squares(rates, [heating_days(base)]) for base in SEARCH.bases]
    assert found.squares[0] == pytest.approx(min(dense), rel=1e-9)
    assert found.bases[0, 0] == pytest.approx(SEARCH.bases[int(np.argmin(dense))], abs=1e-9)


@given(seed=st.integers(0, 10**6))
@settings(deadline=None, max_examples=5)
def test_no_pair_of_a_dense_grid_leaves_smaller_squares(seed):
    search = Search(lowest=10.0, highest=22.0, coarse=2, fine=0.5)
    truth = 20 + 4 * heating_days(13.0) + 6 * cooling_days(18.0)
    rates = truth + noise(1, spread=1.0, seed=seed)[0]
    found = fit(rates, Model.BOTH, search=search)
    dense = [
        least_squares(rates, [heating_days(low), cooling_days(high)])
        for low in search.bases
        for high in search.bases
        if low <= high
    ]
    assert found.squares[0] == pytest.approx(min(dense), rel=1e-9)


@pytest.mark.parametrize("model", list(Model))
def test_the_linear_part_agrees_with_statsmodels(model):
    """Weighted least squares of statsmodels at the bases found, weights in days."""
    truth = 20 + 4 * heating_days(14.0) + 5 * cooling_days(18.0)
    rates = truth + noise(1, spread=2.0, seed=3)[0]
    found = fit(rates, model)
    design = sm.add_constant(np.column_stack(columns_at(model, found.bases[0])))
    other = sm.WLS(rates, design, weights=LENGTHS / LENGTHS.mean()).fit()
    assert [found.base_load[0], *found.slopes[0]] == pytest.approx(other.params, rel=1e-8)
    assert found.squares[0] == pytest.approx(other.ssr, rel=1e-9)
    assert found.predicted[0] == pytest.approx(other.fittedvalues, rel=1e-9)


@given(factor=st.floats(min_value=1e-3, max_value=1e9), seed=st.integers(0, 1000))
@settings(deadline=None)
def test_scaling_energy_scales_load_and_slopes_and_leaves_the_bases(factor, seed):
    rates = 20 + 4 * heating_days(14.0) + noise(1, spread=1.0, seed=seed)[0]
    one, scaled = fit(rates, Model.HEATING), fit(rates * factor, Model.HEATING)
    assert scaled.bases == pytest.approx(one.bases)
    assert scaled.slopes == pytest.approx(one.slopes * factor, rel=1e-9)
    assert scaled.base_load == pytest.approx(one.base_load * factor, rel=1e-9)
    assert scaled.cv_rmse == pytest.approx(one.cv_rmse, rel=1e-9)


@given(days=st.integers(min_value=-4000, max_value=4000))
@settings(deadline=None, max_examples=20)
def test_moving_bills_and_weather_in_time_together_changes_nothing(days):
    rates = 20 + 4 * heating_days(14.0) + noise(1, spread=1.0, seed=9)[0]

    def shifted(by):
        first = FIRST_DAY + timedelta(days=by)
        bills = [
            Bill(
                start=first + timedelta(days=int(o)),
                end=first + timedelta(days=int(o + n)),
                energy=rate * n,
            )
            for o, n, rate in zip(OPENINGS, LENGTHS, rates, strict=True)
        ]
        weather = Weather(first_day=first, temperature=YEAR)
        table = tabulate([bills], weather)
        return fit_change_points(table, weather, model=Model.HEATING, search=SEARCH)

    here, there = shifted(0), shifted(days)
    assert (there.base_load, there.slopes, there.bases) == (
        here.base_load,
        here.slopes,
        here.bases,
    )


@given(by=st.integers(min_value=-20, max_value=20))
@settings(deadline=None, max_examples=10)
def test_warmer_weather_and_range_move_the_base_alike(by):
    rates = 20 + 4 * heating_days(14.0)
    moved = fit(
        rates,
        Model.HEATING,
        weather=Weather(first_day=FIRST_DAY, temperature=YEAR + by),
        search=Search(lowest=7.0 + by, highest=23.0 + by, coarse=5, fine=0.05),
    )
    assert moved.bases[0, 0] == pytest.approx(14.0 + by, abs=1e-6)
    assert moved.slopes[0, 0] == pytest.approx(4.0, rel=1e-6)


@pytest.mark.parametrize("model", list(Model))
def test_a_home_in_company_is_fitted_as_alone(model):
    truth = 20 + 4 * heating_days(14.0) + 5 * cooling_days(18.0)
    rates = truth + noise(40, spread=2.0, seed=1)
    together = fit(rates, model)
    for home in (0, 17, 39):
        alone = fit(rates[home], model)
        assert alone.bases[0] == pytest.approx(together.bases[home])
        assert alone.slopes[0] == pytest.approx(together.slopes[home], rel=1e-9)


def test_homes_with_fewer_bills_are_fitted_by_their_own():
    rates = 20 + 4 * heating_days(14.0) + noise(1, spread=1.0, seed=2)[0]
    both = table_of([rates, rates])
    both.days[1, 9:] = 0
    both.rate[1, 9:] = 0
    alone = BillTable(rate=rates[None, :9], days=LENGTHS[None, :9], first=OPENINGS[None, :9])
    found = fit_change_points(both, WEATHER, model=Model.HEATING, search=SEARCH)
    nine = fit_change_points(alone, WEATHER, model=Model.HEATING, search=SEARCH)
    assert found.bills.tolist() == [12, 9]
    assert found.bases[1] == pytest.approx(nine.bases[0])
    assert found.slopes[1] == pytest.approx(nine.slopes[0], rel=1e-9)
    assert found.spread[1] == pytest.approx(nine.spread[0], rel=1e-9)


def test_weighted_residuals_sum_to_nothing_and_spread_is_that_of_the_free_bills():
    """Derived: normal equations of a model with a constant."""
    rates = 20 + 4 * heating_days(14.0) + noise(1, spread=1.0, seed=4)[0]
    found = fit(rates, Model.HEATING)
    assert (found.residuals * LENGTHS).sum() == pytest.approx(0, abs=1e-9)
    weighted = (found.residuals**2 * LENGTHS).sum() / LENGTHS.mean()
    assert found.spread[0] == pytest.approx(np.sqrt(weighted / 9), rel=1e-12)
    mean = (rates * LENGTHS).sum() / LENGTHS.sum()
    assert found.cv_rmse[0] == pytest.approx(found.spread[0] / mean, rel=1e-12)


def test_weights_are_days_over_their_mean():
    assert weights_of(table_of(np.ones(12)))[0] == pytest.approx(LENGTHS / LENGTHS.mean())


def test_the_heating_base_is_never_above_the_cooling_base():
    rng = np.random.default_rng(8)
    found = fit(rng.uniform(1, 100, (60, 12)), Model.BOTH)
    assert (found.bases[:, 0] <= found.bases[:, 1]).all()


def test_a_home_without_a_further_bill_or_spread_is_told_by_nan():
    table = BillTable(
        rate=np.array([[5.0, 6.0, 7.0], [0.0, 0.0, 0.0]]),
        days=np.array([[30, 30, 30], [0, 0, 0]]),
        first=np.array([[0, 30, 60], [0, 0, 0]]),
    )
    found = fit_change_points(table, WEATHER, model=Model.HEATING, search=SEARCH)
    assert np.isnan(found.spread).all()
    assert np.isnan(found.cv_rmse).all()


@pytest.mark.parametrize(("lowest", "highest", "fine"), [(20, 10, 0.1), (10, 20, 0.0)])
def test_a_search_without_range_is_refused(lowest, highest, fine):
    with pytest.raises(BillError, match="bases are searched"):
        fit(
            np.ones(12),
            Model.HEATING,
            search=Search(lowest=lowest, highest=highest, coarse=5, fine=fine),
        )
