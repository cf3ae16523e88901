"""Goodness of fit and the simplified uncertainty, by hand and by an independent library."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from statsmodels.tsa.stattools import acf

from agency.savings.errors import BillError
from agency.savings.fit_quality import (
    FACTOR_OF_2002,
    cv_rmse,
    effective_count,
    fractional_savings_uncertainty,
    lag_one_autocorrelation,
    monthly_factor_of_2014,
    nmbe,
    student_quantile,
)

MEASURED = [10.0, 20.0, 30.0, 40.0]


def test_cv_by_hand():
    """By hand: squares 4 + 4 + 9 + 9 = 26 over 4 - 1, root 2.94392, over 25."""
    found = cv_rmse(measured=MEASURED, predicted=[12, 18, 33, 37], parameters=1)
    assert found == pytest.approx(0.117757, abs=5e-7)


def test_bias_by_hand_is_positive_when_the_model_is_low():
    """By hand: (-2 + 2 + 0 + 4) / 3 / 25."""
    found = nmbe(measured=MEASURED, predicted=[12, 18, 30, 36], parameters=1)
    assert found == pytest.approx(0.0533333, abs=5e-8)


def test_many_homes_at_once():
    predicted = [[12, 18, 33, 37], [12, 18, 30, 36]]
    both = nmbe(measured=[MEASURED, MEASURED], predicted=predicted, parameters=1)
    assert both == pytest.approx([0, 0.0533333], abs=5e-8)


def test_autocorrelation_and_effective_count_by_hand():
    """By hand: (2 - 2 + 2) / 10 = 0.2, and 4 (0.8 / 1.2) = 2.667."""
    r = lag_one_autocorrelation([1.0, 2.0, -1.0, -2.0])
    assert r == pytest.approx(0.2)
    assert effective_count(count=4, autocorrelation=r) == pytest.approx(8 / 3)


@given(st.lists(st.floats(-100, 100), min_size=4, max_size=20))
def test_autocorrelation_agrees_with_statsmodels(values):
    residuals = np.array(values) - np.mean(values)
    if np.abs(residuals).max() < 1e-3:
        residuals = residuals + np.resize([1.0, -1.0], len(values))
        residuals -= residuals.mean()
    other = acf(residuals, nlags=1, adjusted=False)[1]
    assert lag_one_autocorrelation(residuals) == pytest.approx(other, abs=1e-9)


def test_no_residuals_have_no_autocorrelation():
    assert lag_one_autocorrelation([0.0, 0.0, 0.0]) == 0


def fsu(**changed):
    values = {
        "cv_rmse": 0.10,
        "fraction_saved": 0.15,
        "bills_before": 12,
        "effective_before": 12,
        "bills_after": 12,
        "quantile": 1.0,
        "factor": FACTOR_OF_2002,
    }
    return fractional_savings_uncertainty(**(values | changed))


def test_simplified_form_of_2002():
    """ASHRAE Guideline 14-2002, from memory: CV 10 %, F 15 %, n = n' = m = 12, t = 1; by hand
    1.26 * 0.1 * sqrt(1.16667 / 12) / 0.15 = 0.2619."""
    assert fsu() == pytest.approx(0.2619, abs=0.00005)


def test_monthly_factor_of_2014_for_a_year():
    """ASHRAE Guideline 14-2014, from memory; by hand -0.03168 + 0.39672 + 0.94054."""
    assert monthly_factor_of_2014(12) == pytest.approx(1.30558, abs=5e-9)
    by_hand = 0.1 * 1.30558 * math.sqrt(14 / 12 / 12) / 0.15
    assert fsu(factor=monthly_factor_of_2014(12)) == pytest.approx(by_hand, rel=1e-9)


def test_autocorrelated_residuals_count_for_less():
    """By hand: r = 0.2 leaves 8 of 12; sqrt(12/8 * 1.25 / 12) * 1.26 * 0.1 / 0.15 = 0.33204."""
    effective = effective_count(count=12, autocorrelation=0.2)
    assert effective == pytest.approx(8)
    assert fsu(effective_before=effective) == pytest.approx(0.33204, abs=5e-6)


@given(saved=st.floats(0.01, 0.9), more=st.floats(1.01, 10))
def test_a_larger_saving_is_surer_and_a_longer_look_too(saved, more):
    assert fsu(fraction_saved=saved * more) < fsu(fraction_saved=saved)
    assert fsu(bills_after=12 * more) < fsu()
    assert fsu(cv_rmse=0.1 * more) > fsu()


def test_students_quantile():
    """Printed in tables of Student's t, from memory: 1.833 for 90 % and 9, 1.960 for 95 %."""
    assert student_quantile(confidence=0.90, degrees_of_freedom=9) == pytest.approx(1.833, abs=5e-4)
    assert student_quantile(confidence=0.95, degrees_of_freedom=1e9) == pytest.approx(
        1.960, abs=5e-4
    )


@pytest.mark.parametrize("saved", [0.0, -0.1, math.nan])
def test_no_saving_has_no_fractional_uncertainty(saved):
    with pytest.raises(BillError, match="fraction saved"):
        fsu(fraction_saved=saved)


@pytest.mark.parametrize("r", [1.0, -1.0, math.nan])
def test_perfect_autocorrelation_is_refused(r):
    with pytest.raises(BillError, match="autocorrelation"):
        effective_count(count=12, autocorrelation=r)


def test_as_many_parameters_as_periods_are_refused():
    with pytest.raises(BillError, match="4 periods for 4 parameters"):
        cv_rmse(measured=MEASURED, predicted=MEASURED, parameters=4)
    with pytest.raises(BillError, match="mean of the measured"):
        nmbe(measured=[0.0] * 4, predicted=MEASURED, parameters=1)
