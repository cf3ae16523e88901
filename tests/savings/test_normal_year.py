"""Normal-year energy, its errors and intervals, and the reasons to refuse a fit."""

import math

import numpy as np
import pytest
import statsmodels.api as sm
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import curve_fit
from scipy.stats import t as student

from agency.savings.bills import BillTable, Weather
from agency.savings.change_point import Model, Search, fit_change_points
from agency.savings.climate import Convention, cooling_degree_days, heating_degree_days
from agency.savings.errors import BillError
from agency.savings.normal_year import (
    Bases,
    Fault,
    covariance,
    forecast,
    normalized_annual,
    rejections,
    standard_errors,
    yearly_saving,
)
from tests.savings.billing import (
    FIRST_DAY,
    LENGTHS,
    NORMAL,
    SEARCH,
    WEATHER,
    YEAR,
    cooling_days,
    daily,
    heating_days,
    noise,
    per_day,
    table_of,
)


def fit(rates, model=Model.HEATING, *, weather=WEATHER):
    return fit_change_points(table_of(rates), weather, model=model, search=SEARCH)


def faults(fits, *, fewest_bills=9):
    return [rejection.fault for rejection in rejections(fits, fewest_bills=fewest_bills)[0]]


def test_normal_year_is_base_load_and_degree_days_by_another_count():
    """Against the degree days counted from hours at each day's mean."""
    rates = 20 + 4 * heating_days(14.0) + 5 * cooling_days(18.0) + noise(1, spread=1, seed=3)[0]
    found = fit(rates, Model.BOTH)
    hours, (low, high) = np.repeat(NORMAL, 24), found.bases[0]
    count = {"convention": Convention.DAILY_MEAN}
    by_hand = (
        365 * found.base_load[0]
        + found.slopes[0, 0] * heating_degree_days(hours, base=low, **count)
        + found.slopes[0, 1] * cooling_degree_days(hours, base=high, **count)
    )
    assert normalized_annual(found, normal=NORMAL).energy[0] == pytest.approx(by_hand, rel=1e-10)


@given(load=st.floats(1, 100), slope=st.floats(0.5, 50), share=st.floats(0.0, 0.9))
@settings(deadline=None, max_examples=30)
def test_a_slope_cut_by_a_share_saves_that_share_of_heating(load, slope, share):
    """Derived: base 14 °C lies on the grid, so both fits are exact."""
    heat = slope * heating_days(14.0)
    saved = yearly_saving(
        before=fit(load + heat), after=fit(load + (1 - share) * heat), normal=NORMAL
    )
    degree_days = np.maximum(0, 14.0 - NORMAL).sum()
    assert saved.energy[0] == pytest.approx(share * slope * degree_days, abs=1e-6 * slope * 1e3)


def test_the_same_house_in_a_milder_year_saves_nothing():
    mild = Weather(first_day=FIRST_DAY, temperature=daily(mean=13.5, seed=9))
    before = fit(20 + 4 * heating_days(14.0))
    after = fit(20 + 4 * heating_days(14.0, mild.temperature), weather=mild)
    assert after.table.rate.sum() < before.table.rate.sum()
    found = yearly_saving(before=before, after=after, normal=NORMAL)
    assert found.energy[0] == pytest.approx(0, abs=1e-6)


def test_errors_with_bases_held_agree_with_statsmodels():
    """Weighted least squares of statsmodels knows no bases; its freedom is two less."""
    rates = 20 + 4 * heating_days(14.0) + 5 * cooling_days(18.0) + noise(1, spread=2, seed=3)[0]
    found = fit(rates, Model.BOTH)
    low, high = found.bases[0]
    design = sm.add_constant(np.column_stack([heating_days(low), cooling_days(high)]))
    other = sm.WLS(rates, design, weights=LENGTHS / LENGTHS.mean()).fit()
    freedom = math.sqrt((12 - 3) / (12 - 5))
    assert standard_errors(found, bases=Bases.HELD)[0] == pytest.approx(
        other.bse * freedom, rel=1e-8
    )


def test_errors_with_bases_fitted_agree_with_nonlinear_least_squares():
    """scipy's curve_fit takes its derivatives by differences at its own optimum."""
    rates = 20 + 4 * heating_days(14.0) + noise(1, spread=2, seed=3)[0]
    found = fit(rates)
    start = [found.base_load[0], found.slopes[0, 0], found.bases[0, 0]]

    def model(_, load, slope, base):
        return load + slope * heating_days(base)

    _, other = curve_fit(
        model, np.zeros(12), rates, p0=start, sigma=np.sqrt(LENGTHS.mean() / LENGTHS)
    )
    assert standard_errors(found, bases=Bases.FITTED)[0] == pytest.approx(
        np.sqrt(np.diag(other)), rel=0.02
    )


def test_prediction_interval_is_the_printed_form_for_bills_of_one_length():
    """RP-1050 preprint eq. 24, read in an excerpt: t RMSE sqrt(1 + 1/n + (x - xm)²/Sxx)."""
    openings, lengths = np.arange(12) * 30, np.full(12, 30)
    rng = np.random.default_rng(2)
    x = per_day(np.maximum(0, 14.0 - YEAR), openings=openings, lengths=lengths)
    rates = 20 + 4 * x + rng.standard_normal(12)
    table = BillTable(rate=rates[None], days=lengths[None], first=openings[None])
    held = Search(lowest=13.0, highest=15.0, coarse=1, fine=1.0)
    found = fit_change_points(table, WEATHER, model=Model.HEATING, search=held)
    base = found.bases[0, 0]
    x = per_day(np.maximum(0, base - YEAR), openings=openings, lengths=lengths)
    new = np.maximum(0, base - NORMAL[40:70]).mean()
    rmse = math.sqrt(((rates - found.predicted[0]) ** 2).sum() / (12 - 3))
    printed = (
        student.ppf(0.95, 9)
        * rmse
        * math.sqrt(1 + 1 / 12 + (new - x.mean()) ** 2 / ((x - x.mean()) ** 2).sum())
    )
    ahead = forecast(
        found,
        temperature=NORMAL,
        first=np.array([40]),
        days=np.array([30]),
        confidence=0.90,
        bases=Bases.HELD,
    )
    assert ahead.half_width[0, 0] == pytest.approx(printed, rel=1e-9)
    assert ahead.rate[0, 0] == pytest.approx(found.base_load[0] + found.slopes[0, 0] * new)


def many(homes=600, *, seed=1):
    """Homes alike but for their bills' errors."""
    return fit(20 + 4 * heating_days(14.0) + noise(homes, spread=3.0, seed=seed))


def test_nine_of_ten_normal_years_lie_within_their_error():
    """Derived: t of 9 degrees of freedom. Errors are drawn, so a band about 90 % is asked for."""
    truth = 365 * 20 + 4 * np.maximum(0, 14.0 - NORMAL).sum()
    found = normalized_annual(many(), normal=NORMAL)
    within = np.abs(found.energy - truth) < student.ppf(0.95, 9) * found.standard_error
    assert 0.86 < within.mean() < 0.94


def test_nine_of_ten_later_bills_lie_within_their_prediction():
    later = daily(seed=12)
    first, days = np.array([0, 60, 200]), np.array([30, 45, 31])
    ahead = forecast(
        many(), temperature=later, first=first, days=days, confidence=0.90, bases=Bases.FITTED
    )
    rng = np.random.default_rng(3)
    own = 3.0 * np.sqrt(LENGTHS.mean() / days) * rng.standard_normal((600, 3))
    bills = 20 + 4 * per_day(np.maximum(0, 14.0 - later), openings=first, lengths=days) + own
    within = np.abs(bills - ahead.rate) < ahead.half_width
    assert 0.86 < within.mean() < 0.94


def test_the_error_of_a_saving_is_that_of_both_years_together():
    """Derived: independent errors add by squares."""
    before, after = many(5, seed=1), many(5, seed=2)
    both = [normalized_annual(fits, normal=NORMAL).standard_error for fits in (before, after)]
    found = yearly_saving(before=before, after=after, normal=NORMAL)
    assert found.standard_error**2 == pytest.approx(both[0] ** 2 + both[1] ** 2)


def test_a_good_fit_has_no_fault():
    assert rejections(many(3), fewest_bills=9) == ((), (), ())


def test_energy_that_does_not_rise_with_cold_is_refused():
    found = fit(200 - 4 * heating_days(14.0))
    assert Fault.NO_RISE in faults(found)
    message = rejections(found, fewest_bills=9)[0][0].message
    assert "does not rise in colder weather" in message
    assert "must be above 0" in message


def test_flat_bills_are_refused_as_not_rising():
    assert Fault.NO_RISE in faults(fit(np.full(12, 30.0)))


def test_a_base_outside_the_range_is_refused_with_the_range():
    found = fit(20 + 4 * heating_days(26.0))
    assert Fault.BASE_AT_EDGE in faults(found)
    assert "7.0 to 23.0 °C" in rejections(found, fewest_bills=9)[0][0].message


def test_eight_bills_are_refused_where_nine_are_asked_for():
    whole = table_of(20 + 4 * heating_days(14.0))
    eight = BillTable(rate=whole.rate[:, :8], days=whole.days[:, :8], first=whole.first[:, :8])
    found = fit_change_points(eight, WEATHER, model=Model.HEATING, search=SEARCH)
    assert faults(found, fewest_bills=9) == [Fault.TOO_FEW_BILLS]
    assert faults(found, fewest_bills=8) == []
    assert "8 bills; at least 9" in rejections(found, fewest_bills=9)[0][0].message


def test_a_negative_base_load_is_refused_with_its_value():
    found = fit(-2e6 + 4e7 * heating_days(14.0))
    assert faults(found) == [Fault.NEGATIVE_BASE_LOAD]
    assert "-2 MJ a day; it must be 0 or more" in rejections(found, fewest_bills=9)[0][0].message


def test_too_few_bills_leave_errors_unknown_and_not_zero():
    table = BillTable(
        rate=np.array([[50.0, 40.0, 20.0]]),
        days=np.array([[30, 30, 30]]),
        first=np.array([[0, 60, 120]]),
    )
    found = fit_change_points(table, WEATHER, model=Model.HEATING, search=SEARCH)
    assert np.isnan(covariance(found, bases=Bases.FITTED)).all()
    assert np.isnan(normalized_annual(found, normal=NORMAL).standard_error).all()


def test_a_base_all_days_are_below_has_no_error_of_its_own():
    """Derived: load and base then move the same line, and no bills can part them."""
    arctic = Weather(first_day=FIRST_DAY, temperature=daily(mean=-10, swing=5, noise=1))
    rates = 20 + 4 * heating_days(14.0, arctic.temperature) + noise(1, spread=1, seed=1)[0]
    found = fit(rates, weather=arctic)
    assert np.isnan(standard_errors(found, bases=Bases.FITTED)).all()
    assert np.isfinite(standard_errors(found, bases=Bases.HELD)).all()


@pytest.mark.parametrize("normal", [NORMAL[:-1], np.append(NORMAL[:-1], math.nan)])
def test_an_incomplete_normal_year_is_refused(normal):
    with pytest.raises(BillError, match="must have 365"):
        normalized_annual(fit(20 + 4 * heating_days(14.0)), normal=normal)
