"""Fits with errors in both readings against York's table, scipy and identities."""

import numpy as np
import pytest
import statsmodels.api as sm
from hypothesis import given, settings
from hypothesis import strategies as st

from agency.leakage import weighted
from agency.leakage.errors import NotConverged, NotPositive
from agency.leakage.line import Reason, least_squares
from agency.leakage.power_law import (
    fit_power_law,
    flow_at,
    log_flow_uncertainty,
    refuse_unfitted,
    two_point_law,
)
from agency.leakage.weighted import (
    birge_scaled,
    effective_variance_line,
    effective_weights,
    fit_effective_variance,
    fit_organic_correlation,
    fit_york,
    organic_correlation_line,
    product_weights,
    york_line,
)

from .runs import (
    FLOW,
    PEARSON_U_X,
    PEARSON_U_Y,
    PEARSON_X,
    PEARSON_Y,
    PRESSURE,
    U_FLOW,
    U_PRESSURE,
)

PEARSON = {"x": PEARSON_X, "y": PEARSON_Y, "u_x": PEARSON_U_X, "u_y": PEARSON_U_Y}
RUN = {"pressure": PRESSURE, "flow": FLOW, "u_pressure": U_PRESSURE, "u_flow": U_FLOW}
FITS = [fit_york, fit_effective_variance]


def test_york_agrees_with_the_published_fit():
    """York 1966 and York et al. 2004, Pearson's data (from memory), to the digits printed."""
    line = york_line(**PEARSON)
    assert line.intercept == pytest.approx(5.47991022, abs=5e-9)
    assert line.slope == pytest.approx(-0.480533407, abs=5e-10)
    assert line.u_intercept == pytest.approx(0.294971, abs=5e-7)
    assert line.u_slope == pytest.approx(0.0579850, abs=5e-8)
    assert 8 * line.residual_sd**2 == pytest.approx(11.8663532, abs=5e-8)


@pytest.mark.filterwarnings("ignore::DeprecationWarning")
def test_york_agrees_with_orthogonal_distance_regression():
    """scipy.odr, while scipy has it: slope and intercept to 2e-5, errors scaled and not."""
    odr = pytest.importorskip("scipy.odr")
    data = odr.RealData(PEARSON_X, PEARSON_Y, sx=PEARSON_U_X, sy=PEARSON_U_Y)
    output = odr.ODR(data, odr.unilinear, beta0=[-0.5, 5.5]).run()
    line = york_line(**PEARSON)
    scaled = birge_scaled(line)
    assert [line.slope, line.intercept] == pytest.approx(output.beta, rel=2e-5)
    unscaled = np.sqrt(np.diag(output.cov_beta))
    assert [line.u_slope, line.u_intercept] == pytest.approx(unscaled, rel=2e-3)
    assert [scaled.u_slope, scaled.u_intercept] == pytest.approx(output.sd_beta, rel=2e-3)


def test_unweighted_organic_correlation_is_between_both_regressions():
    """Pearson's data: y on x, x on y, and minus the root of their product (identity)."""
    ones = np.ones(10)
    line = organic_correlation_line(x=PEARSON_X, y=PEARSON_Y, u_x=ones, u_y=ones, weights=ones)
    y_on_x = least_squares(x=PEARSON_X, y=PEARSON_Y).slope
    x_on_y = 1 / least_squares(x=PEARSON_Y, y=PEARSON_X).slope
    assert (y_on_x, x_on_y) == pytest.approx((-0.539577, -0.565889), abs=5e-7)
    assert line.slope == pytest.approx(-0.552577, abs=5e-7)
    assert line.slope == pytest.approx(-np.sqrt(y_on_x * x_on_y), rel=1e-12)


def test_worked_run_by_york():
    """The invented run of six points; two implementations agree (derived), to 1e-4."""
    law = fit_york(**RUN)
    assert law.exponent == pytest.approx(0.650571, rel=1e-5)
    assert law.coefficient == pytest.approx(0.0504972, rel=1e-5)
    assert law.line.u_slope == pytest.approx(0.017605, rel=1e-4)
    assert flow_at(law, 50).value == pytest.approx(0.643527, rel=1e-5)
    assert log_flow_uncertainty(law, [50, 4]) == pytest.approx([0.011332, 0.038555], rel=1e-4)


def test_worked_run_by_other_weightings():
    """Same run: effective variance, and organic correlation with 1/(u_x u_y) (derived)."""
    assert fit_effective_variance(**RUN).exponent == pytest.approx(0.650522, abs=1e-6)
    law = fit_organic_correlation(**RUN, weights=product_weights(u_x=U_PRESSURE, u_y=U_FLOW))
    assert law.exponent == pytest.approx(0.653009, abs=1e-6)
    assert law.coefficient == pytest.approx(0.0500608, abs=1e-7)


def test_error_in_flow_alone_is_weighted_least_squares():
    """statsmodels WLS with covariance not scaled; both methods must fall back to it."""
    u_flow = np.linspace(0.01, 0.03, 6)
    model = sm.WLS(np.log(FLOW), sm.add_constant(np.log(PRESSURE)), weights=u_flow**-2)
    oracle = model.fit(cov_type="fixed scale", use_t=False)
    for fit in FITS:
        law = fit(pressure=PRESSURE, flow=FLOW, u_pressure=0.0, u_flow=u_flow)
        assert [law.line.intercept, law.exponent] == pytest.approx(oracle.params, rel=1e-10)
        assert [law.line.u_intercept, law.line.u_slope] == pytest.approx(oracle.bse, rel=1e-10)


def test_york_does_not_care_which_is_x():
    """Swapped, the slope is the inverse: York's fit is symmetric (identity)."""
    line = york_line(**PEARSON)
    swapped = york_line(x=PEARSON_Y, y=PEARSON_X, u_x=PEARSON_U_Y, u_y=PEARSON_U_X)
    assert swapped.slope == pytest.approx(1 / line.slope, rel=1e-9)


def test_equal_errors_reproduce_ordinary_least_squares():
    """One error for every flow and none of pressure: the line, but not its error, is OLS."""
    law = fit_york(pressure=PRESSURE, flow=FLOW, u_pressure=0.0, u_flow=0.02)
    plain = fit_power_law(pressure=PRESSURE, flow=FLOW)
    assert law.exponent == pytest.approx(plain.exponent, rel=1e-12)
    # Ordinary least squares takes the size of the error from the scatter.
    ratio = plain.line.residual_sd / 0.02
    assert plain.line.u_slope == pytest.approx(ratio * law.line.u_slope, rel=1e-10)
    assert law.line.residual_sd == pytest.approx(ratio, rel=1e-10)


def test_two_points_by_york_are_the_two_point_method():
    """The closed form of two stations is York's line through them (identity)."""
    closed = two_point_law(pressure=[50, 12.5], flow=[1, 0.41], u_flow=[0.01, 0.03]).line
    line = fit_york(pressure=[50, 12.5], flow=[1, 0.41], u_pressure=0.0, u_flow=[0.01, 0.03]).line
    for name in ("intercept", "slope", "centre", "u_height", "u_slope"):
        assert getattr(line, name) == pytest.approx(float(getattr(closed, name)), rel=1e-10), name


@settings(max_examples=30, deadline=None)
@given(n=st.floats(0.45, 1.05), c=st.floats(1e-3, 1.0))
def test_exact_readings_come_back(n, c):
    """Algebra, with every weighting."""
    flow = c * PRESSURE**n
    run = {"pressure": PRESSURE, "flow": flow, "u_pressure": U_PRESSURE, "u_flow": U_FLOW}
    weights = product_weights(u_x=U_PRESSURE, u_y=U_FLOW)
    for law in (fit_york(**run), fit_effective_variance(**run)):
        assert (law.exponent, law.coefficient) == pytest.approx((n, c), rel=1e-9)
    assert fit_organic_correlation(**run, weights=weights).exponent == pytest.approx(n, rel=1e-9)


@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 2**32 - 1))
def test_many_runs_at_once_equal_one_by_one(seed):
    """A run's figures do not depend on its neighbours or on its unused points."""
    rng = np.random.default_rng(seed)
    pressure = rng.uniform(10, 70, (8, 9))
    flow = 0.05 * pressure**0.65 * np.exp(0.03 * rng.standard_normal(pressure.shape))
    used = rng.random(pressure.shape) < 0.8
    flow[~used] = np.nan
    u = {"u_pressure": 0.5 / pressure, "u_flow": np.full(pressure.shape, 0.02)}
    together = fit_york(pressure=pressure, flow=flow, used=used, **u)
    for i in range(8):
        keep = used[i]
        mine = {name: values[i][keep] for name, values in u.items()}
        alone = fit_york(pressure=pressure[i][keep], flow=flow[i][keep], **mine)
        assert together.line.reason[i] == alone.line.reason
        for name in ("intercept", "slope", "centre", "u_height", "u_slope", "residual_sd"):
            got, expected = getattr(together.line, name)[i], float(getattr(alone.line, name))
            assert got == pytest.approx(expected, rel=1e-8, nan_ok=True), name


def test_stated_errors_are_borne_out_by_repetition():
    """20,000 simulated runs: the spread of n and Q is what each fit says of it (JCGM 101)."""
    rng = np.random.default_rng(7)
    true = np.broadcast_to(PRESSURE, (20_000, 6))
    # Lowest pressures are the least sure, as with a gauge good to so many pascals.
    u = {"u_pressure": 0.4 / PRESSURE, "u_flow": np.linspace(0.005, 0.03, 6)}
    pressure = true * np.exp(u["u_pressure"] * rng.standard_normal(true.shape))
    flow = 0.05 * true**0.65 * np.exp(u["u_flow"] * rng.standard_normal(true.shape))
    weights = np.ones(6)
    for law in (
        fit_york(pressure=pressure, flow=flow, **u),
        fit_effective_variance(pressure=pressure, flow=flow, **u),
        fit_organic_correlation(pressure=pressure, flow=flow, **u, weights=weights),
    ):
        # 20,000 runs tell a standard deviation to about half a percent.
        assert law.line.u_slope.mean() == pytest.approx(law.exponent.std(), rel=0.03)
        at = [4.0, 20.0, 60.0]
        heights = np.log(flow_at(law, at).value)
        stated = log_flow_uncertainty(law, at).mean(axis=0)
        assert stated == pytest.approx(heights.std(axis=0), rel=0.03)


def test_scatter_within_the_stated_error_shrinks_nothing():
    """Birge's ratio only enlarges, and only where there is a degree of freedom."""
    line = york_line(x=np.log(PRESSURE), y=np.log(FLOW), u_x=U_PRESSURE, u_y=U_FLOW)
    assert line.residual_sd < 1
    assert birge_scaled(line).u_slope == line.u_slope
    two = york_line(x=[0, 1], y=[0, 1], u_x=0.1, u_y=0.1)
    assert birge_scaled(two).u_slope == two.u_slope


def test_weights_leave_unused_points_out():
    """1/(u_y² + b² u_x²) by hand."""
    weights = effective_weights(
        u_x=[0.3, 0.3], u_y=[0.4, 0.4], slope=1.0, used=np.array([True, False])
    )
    assert weights == pytest.approx([4.0, 0.0])


@pytest.mark.parametrize("fit", FITS)
@pytest.mark.parametrize("u_flow", [0.0, np.nan, -0.01])
def test_point_without_a_stated_error_is_refused(fit, u_flow):
    """Reported in a batch, raised for one run."""
    run = {"pressure": PRESSURE, "flow": FLOW}
    u = np.full((2, 6), 0.02)
    u[0, 3] = u_flow
    law = fit(pressure=PRESSURE, flow=FLOW, u_pressure=0.0, u_flow=u)
    assert law.line.reason.tolist() == [Reason.NO_UNCERTAINTY, Reason.FITTED]
    assert np.isnan(law.exponent[0])
    single = fit(**run, u_pressure=0.0, u_flow=u[0])
    with pytest.raises(NotPositive, match="Stated uncertainty of a used point"):
        refuse_unfitted(single, **run)


def test_lines_of_either_sign_settle():
    """A falling and a level cloud in one batch."""
    rng = np.random.default_rng(3)
    x = np.tile(np.linspace(0, 1, 8), (3, 1))
    y = np.array([[-2.0], [0.0], [3.0]]) * x + 0.01 * rng.standard_normal(x.shape)
    for make in (york_line, effective_variance_line):
        line = make(x=x, y=y, u_x=0.01, u_y=0.01)
        assert line.reason.tolist() == [Reason.FITTED] * 3
        assert line.slope == pytest.approx([-2, 0, 3], abs=0.05)


def test_run_that_does_not_settle_is_refused(monkeypatch):
    """One pass is not enough; nothing half done is handed out."""
    monkeypatch.setattr(weighted, "PASSES", 1)
    law = fit_york(**RUN)
    assert law.line.reason == Reason.NOT_CONVERGED
    assert np.isnan(law.exponent)
    with pytest.raises(NotConverged, match="did not settle"):
        refuse_unfitted(law, pressure=PRESSURE, flow=FLOW)


@pytest.mark.parametrize("weights", [0.0, np.nan, np.inf])
def test_organic_correlation_without_weights_is_refused(weights):
    """A used point needs a weight."""
    law = fit_organic_correlation(**RUN, weights=np.where(np.arange(6) == 2, weights, 1.0))
    assert law.line.reason == Reason.NO_UNCERTAINTY
