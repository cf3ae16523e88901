"""Stray points against statsmodels, and the configuration they hint at."""

import numpy as np
import pytest
import statsmodels.api as sm
from hypothesis import given, settings
from hypothesis import strategies as st

from agency.leakage.outliers import (
    likely_configuration,
    offsets_from_others,
    residuals,
    stray_significance,
    studentized_residuals,
)
from agency.leakage.power_law import fit_power_law

from .runs import FLOW, PRESSURE

# Invented fan: flow at its fan pressure by configuration. [m³/s]
FLOWS = {"open": 0.9, "wide": 0.6, "middle": 0.3, "narrow": 0.1}


@settings(max_examples=50, deadline=None)
@given(seed=st.integers(0, 2**32 - 1))
def test_residuals_agree_with_statsmodels(seed):
    """OLSInfluence: externally studentized and leave-one-out (PRESS) residuals."""
    rng = np.random.default_rng(seed)
    pressure = np.linspace(60, 12, 7) + rng.uniform(-2, 2, 7)
    flow = 0.05 * pressure**0.65 * np.exp(0.02 * rng.standard_normal(7))
    run = {"pressure": pressure, "flow": flow}
    law = fit_power_law(**run)
    oracle = sm.OLS(np.log(flow), sm.add_constant(np.log(pressure))).fit().get_influence()
    assert residuals(law, **run) == pytest.approx(oracle.resid, abs=1e-12)
    assert offsets_from_others(law, **run) == pytest.approx(oracle.resid_press, rel=1e-7)
    expected = oracle.resid_studentized_external
    assert studentized_residuals(law, **run) == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize("stray", [0.0, 0.05, 0.3])
def test_significance_agrees_with_statsmodels(stray):
    """OLSResults.outlier_test with Bonferroni's correction."""
    flow = FLOW * np.exp(stray * (np.arange(6) == 2))
    law = fit_power_law(pressure=PRESSURE, flow=flow)
    fit = sm.OLS(np.log(flow), sm.add_constant(np.log(PRESSURE))).fit()
    expected = fit.outlier_test(method="bonf")[:, 2]
    found = stray_significance(law, pressure=PRESSURE, flow=flow)
    assert found == pytest.approx(expected, rel=1e-6)


def test_good_series_are_seldom_questioned():
    """Bonferroni's bound: at most 1 % of series without a stray point fall below 0.01."""
    rng = np.random.default_rng(20260101)
    pressure = np.broadcast_to(np.linspace(60, 12, 7), (4000, 7))
    flow = 0.05 * pressure**0.65 * np.exp(0.01 * rng.standard_normal(pressure.shape))
    law = fit_power_law(pressure=pressure, flow=flow)
    least = stray_significance(law, pressure=pressure, flow=flow).min(axis=-1)
    # Four standard deviations of a share of 1 % in 4000 draws are 0.6 %.
    assert np.mean(least < 0.01) < 0.016


def test_offset_is_that_from_a_fit_without_the_point():
    """Identity: leave the point out and fit again."""
    used = np.arange(6) != 2
    law = fit_power_law(pressure=PRESSURE, flow=FLOW)
    without = fit_power_law(pressure=PRESSURE, flow=FLOW, used=used)
    expected = np.log(FLOW[2] / (without.coefficient * PRESSURE[2] ** without.exponent))
    offset = offsets_from_others(law, pressure=PRESSURE, flow=FLOW)[2]
    assert offset == pytest.approx(expected, rel=1e-9)


def test_unused_and_too_few_points_have_none():
    """Three points leave no degree of freedom once one is out."""
    used = [True, True, True, False, False, False]
    run = {"pressure": PRESSURE, "flow": FLOW, "used": used}
    law = fit_power_law(**run)
    assert np.all(np.isnan(studentized_residuals(law, **run)))
    assert np.isnan(residuals(law, **run)).tolist() == [False] * 3 + [True] * 3


def test_point_of_a_wrong_configuration_is_found():
    """A point that was "middle" keyed as "wide" reads twice the flow."""
    flow = FLOW.copy()
    flow[3] *= FLOWS["wide"] / FLOWS["middle"]
    law = fit_power_law(pressure=PRESSURE, flow=flow)
    strays = studentized_residuals(law, pressure=PRESSURE, flow=flow)
    assert np.argmax(np.abs(strays)) == 3
    assert strays[3] > 3.5
    offset = offsets_from_others(law, pressure=PRESSURE, flow=flow)[3]
    found = likely_configuration(float(offset), keyed="wide", flows=FLOWS, tolerance=0.1)
    assert found == "middle"


@pytest.mark.parametrize("offset", [0.01, -0.02, 0.25])
def test_no_configuration_is_guessed(offset):
    """On the line already, or near none of the others."""
    assert likely_configuration(offset, keyed="wide", flows=FLOWS, tolerance=0.1) is None


def test_run_without_scatter_still_shows_its_stray():
    """The others lie exactly on a line: the offset is beyond any limit."""
    pressure = np.array([16.0, 8.0, 4.0, 2.0, 1.0])
    flow = pressure**0.5 * np.array([1, 1, 2.0, 1, 1])
    law = fit_power_law(pressure=pressure, flow=flow)
    assert studentized_residuals(law, pressure=pressure, flow=flow)[2] > 1e6
