"""Uncertainties of a fit against statsmodels' straight line and a figure that is free."""

import math

import numpy as np
import pytest
import statsmodels.api as sm

from agency.leakage.fit_spread import fit_spread

X = np.array([1.0, 2.0, 3.0, 4.5, 6.0, 8.0])
Y = np.array([2.1, 3.9, 6.2, 8.8, 12.3, 15.7])


def test_a_straight_line_as_statsmodels_has_it():
    design = sm.add_constant(X)
    oracle = sm.OLS(Y, design).fit()
    found = fit_spread(jacobian=design, residual=oracle.resid, is_weighted=False)
    assert found.deviations == pytest.approx(oracle.bse, rel=1e-10)
    assert found.residual_sd == pytest.approx(math.sqrt(oracle.mse_resid))
    assert found.condition == pytest.approx(np.linalg.cond(design))
    half = oracle.conf_int()[0, 1] - oracle.params[0]
    assert found.quantile * found.deviations[0] == pytest.approx(half, rel=1e-9)


def test_stated_uncertainties_are_not_narrowed():
    """Residuals of a tenth of what was stated leave (J'J)^-1 as it is."""
    design = np.eye(3)[:, :2]
    found = fit_spread(jacobian=design, residual=np.array([0.0, 0.0, 0.1]), is_weighted=True)
    assert found.deviations == pytest.approx([1, 1])
    wide = fit_spread(jacobian=design, residual=np.array([0.0, 0.0, 3.0]), is_weighted=True)
    assert wide.deviations == pytest.approx([3, 3])


def test_a_free_figure_has_no_finite_uncertainty():
    design = np.array([[1.0, 0.0], [1.0, 0.0], [1.0, 0.0]])
    found = fit_spread(jacobian=design, residual=np.array([0.1, -0.1, 0.0]), is_weighted=False)
    assert found.condition == math.inf
    assert not np.isfinite(found.deviations[1])
