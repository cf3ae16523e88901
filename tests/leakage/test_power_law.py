"""Least squares fits against NIST, statsmodels and algebra, and the runs they refuse."""

import numpy as np
import pytest
import statsmodels.api as sm
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from agency.leakage.errors import (
    LeakageError,
    NotPositive,
    ShapeMismatch,
    SpanTooSmall,
    TooFewPoints,
)
from agency.leakage.line import Reason, least_squares, student_quantile
from agency.leakage.power_law import (
    ExponentSource,
    coefficient_interval,
    exponent_interval,
    fit_one_run,
    fit_power_law,
    fit_with_exponent,
    flow_at,
    log_flow_uncertainty,
    number_or_none,
    two_point_law,
)

from .runs import FLOW, NORRIS, PRESSURE

# Two-sided 95 % quantiles of Student's t, 1 to 8 degrees of freedom, as printed in JCGM 100:2008
# Table G.2 (from memory), here with scipy.stats's further digits.
QUANTILES = [12.7062, 4.3027, 3.1824, 2.7764, 2.5706, 2.4469, 2.3646, 2.3060]

# Figure, value, relative tolerance: statsmodels OLS on the logarithms and the forms of ASTM E779
# Annex A1 (from memory) agree on each (derived).
WORKED = [
    ("exponent", 0.648882),
    ("coefficient", 0.0508097),
    ("u_slope", 0.00653021),
    ("u_intercept", 0.0227210),
    ("r_squared", 0.99959505),
    ("quantile", 2.776445),
]
# Pressure, flow, low end and high end in percent of it; same source.
WORKED_FLOWS = [(50, 0.643247, -1.3055, 1.3227), (4, 0.124914, -3.773, 3.921)]

pressures = arrays(np.float64, st.integers(5, 10), elements=st.floats(10, 75), unique=True)
exponents = st.floats(0.45, 1.05)
coefficients = st.floats(1e-3, 1.0)
seeds = st.integers(0, 2**32 - 1)


def noisy(pressure, seed, scatter=0.02):
    """Flows of a run with some scatter. [m³/s]"""
    rng = np.random.default_rng(seed)
    return 0.05 * pressure**0.65 * np.exp(scatter * rng.standard_normal(pressure.shape))


def spread(pressure):
    """Whether the pressures reach over a factor of two."""
    return pressure.max() / pressure.min() > 2


def test_line_agrees_with_nist_norris():
    """NIST StRD Norris, certified values (read in the file scipy ships), to eleven digits."""
    line = least_squares(x=NORRIS[:, 0], y=NORRIS[:, 1])
    assert line.intercept == pytest.approx(-0.262323073774029, rel=1e-11)
    assert line.slope == pytest.approx(1.00211681802045, rel=1e-13)
    assert line.u_intercept == pytest.approx(0.232818234301152, rel=1e-11)
    assert line.u_slope == pytest.approx(0.429796848199937e-3, rel=1e-11)
    assert line.residual_sd == pytest.approx(0.884796396144373, rel=1e-11)
    assert line.r_squared == pytest.approx(0.999993745883712, rel=1e-13)


@pytest.mark.parametrize(("name", "expected"), WORKED)
def test_worked_run(name, expected):
    """An invented run of six points; tolerance 1e-5."""
    law = fit_power_law(pressure=PRESSURE, flow=FLOW)
    figure = getattr(law, name, None)
    figure = getattr(law.line, name) if figure is None else figure
    assert figure == pytest.approx(expected, rel=1e-5)


@pytest.mark.parametrize(("pressure", "flow", "below", "above"), WORKED_FLOWS)
def test_worked_flow_and_its_lopsided_interval(pressure, flow, below, above):
    """Same run: interval of the mean line, not symmetric in the flow."""
    interval = flow_at(fit_power_law(pressure=PRESSURE, flow=FLOW), pressure)
    assert interval.value == pytest.approx(flow, rel=1e-5)
    assert 100 * (interval.low / interval.value - 1) == pytest.approx(below, abs=6e-4)
    assert 100 * (interval.high / interval.value - 1) == pytest.approx(above, abs=6e-4)


def test_worked_intervals_of_both_parameters():
    """Same run; ends as printed to five digits."""
    law = fit_power_law(pressure=PRESSURE, flow=FLOW)
    n, c = exponent_interval(law), coefficient_interval(law)
    assert (n.low, n.high) == pytest.approx((0.63075, 0.66701), abs=5e-6)
    assert (c.low, c.high) == pytest.approx((0.047703, 0.054118), abs=5e-7)
    assert flow_at(law, 75).value == pytest.approx(0.836836, rel=1e-6)


def test_coefficient_and_exponent_are_not_taken_as_independent():
    """Taken as independent, their errors would give 3.4 % at 50 Pa instead of 0.47 % (derived)."""
    law = fit_power_law(pressure=PRESSURE, flow=FLOW)
    independent = np.hypot(law.line.u_intercept, np.log(50) * law.line.u_slope)
    assert independent == pytest.approx(0.0341886, rel=1e-5)
    assert log_flow_uncertainty(law, 50) == pytest.approx(0.00473285, rel=1e-5)


@settings(max_examples=60, deadline=None)
@given(pressure=pressures, seed=seeds)
def test_fit_agrees_with_statsmodels(pressure, seed):
    """statsmodels OLS: parameters, errors, covariance, interval of the mean."""
    assume(spread(pressure))
    flow = noisy(pressure, seed)
    law = fit_power_law(pressure=pressure, flow=flow)
    oracle = sm.OLS(np.log(flow), sm.add_constant(np.log(pressure))).fit()
    assert [law.line.intercept, law.line.slope] == pytest.approx(oracle.params, rel=1e-9)
    assert [law.line.u_intercept, law.line.u_slope] == pytest.approx(oracle.bse, rel=1e-7)
    assert law.line.covariance == pytest.approx(oracle.cov_params()[0, 1], rel=1e-7)
    assert law.line.r_squared == pytest.approx(oracle.rsquared, rel=1e-9)
    at = np.array([4.0, 10.0, 50.0])
    mean = oracle.get_prediction(sm.add_constant(np.log(at)))
    low, high = mean.conf_int(alpha=0.05).T
    interval = flow_at(law, at)
    assert log_flow_uncertainty(law, at) == pytest.approx(mean.se_mean, rel=1e-7)
    assert interval.low == pytest.approx(np.exp(low), rel=1e-7)
    assert interval.high == pytest.approx(np.exp(high), rel=1e-7)


def test_student_quantiles_as_printed():
    """JCGM 100 Table G.2; none without degrees of freedom."""
    degrees = np.array([np.nan, *range(1, 9)])
    quantiles = student_quantile(degrees)
    assert np.isnan(quantiles[0])
    assert quantiles[1:] == pytest.approx(QUANTILES, abs=5e-5)


def test_exact_readings_come_back():
    """Q = 0.05 dP^0.65: 2288.7745 m³/h at 50 Pa (algebra)."""
    pressure = np.array([60.0, 50, 40, 30, 20, 10])
    law = fit_one_run(pressure=pressure, flow=0.05 * pressure**0.65)
    assert law.coefficient == pytest.approx(0.05, rel=1e-12)
    assert law.exponent == pytest.approx(0.65, rel=1e-12)
    assert flow_at(law, 50).value * 3600 == pytest.approx(2288.7745, abs=5e-5)


@settings(max_examples=100, deadline=None)
@given(pressure=pressures, exponent=exponents, coefficient=coefficients)
def test_any_exact_readings_come_back(pressure, exponent, coefficient):
    """Algebra."""
    assume(spread(pressure))
    law = fit_power_law(pressure=pressure, flow=coefficient * pressure**exponent)
    assert law.exponent == pytest.approx(exponent, rel=1e-10)
    assert law.coefficient == pytest.approx(coefficient, rel=1e-10)


def test_ratios_of_reference_flows():
    """0.65 as exponent: Q75, Q4, Q10 and Q25 over Q50 (algebra)."""
    law = fit_with_exponent(pressure=[50.0], flow=[1.0], exponent=0.65, u_exponent=0.08)
    flows = flow_at(law, [75, 4, 10, 25]).value
    assert flows == pytest.approx([1.30155, 0.193646, 0.351293, 0.637280], abs=6e-6)


@pytest.mark.parametrize(
    ("reached", "factor"),
    # (50/P)^0.65 (algebra).
    [(45, 1.071), (40, 1.156), (35, 1.261), (30, 1.394), (25, 1.569), (20, 1.814), (15, 2.187)],
)
def test_one_point_short_of_50_pascals(reached, factor):
    """One reading carried to 50 Pa with the assumed exponent."""
    law = fit_with_exponent(pressure=[reached], flow=[1.0], exponent=0.65, u_exponent=0.08)
    assert flow_at(law, 50).value == pytest.approx(factor, abs=5e-4)
    assert law.exponent_source is ExponentSource.ASSUMED


def test_one_reading_has_no_interval():
    """What does not exist is none, not zero."""
    law = fit_with_exponent(pressure=[50.0], flow=[1.0], exponent=0.65, u_exponent=0.08)
    interval = flow_at(law, 50)
    assert number_or_none(interval.value) == pytest.approx(1.0)
    assert number_or_none(interval.low) is None
    assert number_or_none(law.line.r_squared) is None


def test_repeats_under_an_assumed_exponent():
    """The mean of the logarithms and its standard error, by numpy."""
    pressure, flow = np.full(5, 50.0), np.array([1.00, 1.02, 0.99, 1.01, 0.98])
    law = fit_with_exponent(pressure=pressure, flow=flow, exponent=0.65, u_exponent=0.08)
    logs = np.log(flow)
    assert flow_at(law, 50).value == pytest.approx(np.exp(logs.mean()), rel=1e-14)
    expected = logs.std(ddof=1) / np.sqrt(5)
    assert log_flow_uncertainty(law, 50) == pytest.approx(expected, rel=1e-12)
    away = np.hypot(expected, 0.08 * np.log(50 / 25))
    assert log_flow_uncertainty(law, 25) == pytest.approx(away, rel=1e-12)


def test_two_stations():
    """1.0 at 50 Pa and 0.41 at 12.5 Pa, form of ASTM E1827 (from memory)."""
    law = two_point_law(pressure=[50, 12.5], flow=[1.0, 0.41], u_flow=[0.02, 0.02])
    assert law.exponent == pytest.approx(0.643152, abs=5e-7)
    assert law.coefficient == pytest.approx(0.0807800, abs=5e-8)
    # 2 % random at either station gives 0.020 (derived).
    assert law.line.u_slope == pytest.approx(0.020, abs=5e-4)
    assert law.exponent_source is ExponentSource.TWO_POINT
    # At a station, the error of its own flow remains.
    assert log_flow_uncertainty(law, [50, 12.5]) == pytest.approx([0.02, 0.02], rel=1e-12)


def test_two_stations_without_a_known_error_have_no_interval():
    """NaN in, none out."""
    law = two_point_law(pressure=[50, 12.5], flow=[1.0, 0.41], u_flow=[np.nan, np.nan])
    assert number_or_none(law.exponent) == pytest.approx(0.643152, abs=5e-7)
    assert number_or_none(flow_at(law, 50).low) is None


def test_three_stations_are_not_two():
    """The text says what is wanted."""
    with pytest.raises(TooFewPoints, match="Number of stations is 3; it must be 2"):
        two_point_law(pressure=[50, 25, 12.5], flow=[1, 1, 1], u_flow=0.02)


def test_two_points_say_nothing_of_their_error():
    """N - 2 = 0 degrees of freedom."""
    law = fit_power_law(pressure=[50, 12.5], flow=[1.0, 0.41])
    assert law.line.reason == Reason.FITTED
    for figure in (law.line.u_slope, law.line.u_intercept, law.line.r_squared, law.line.quantile):
        assert number_or_none(figure) is None


@settings(max_examples=60, deadline=None)
@given(pressure=pressures, seed=seeds, factor=st.floats(1e-3, 1e3))
def test_unit_of_flow_scales_the_coefficient_only(pressure, seed, factor):
    """Algebra: C takes the factor, n and every relative error stay."""
    assume(spread(pressure))
    flow = noisy(pressure, seed)
    one, other = (fit_power_law(pressure=pressure, flow=f * flow) for f in (1, factor))
    assert other.coefficient == pytest.approx(factor * one.coefficient, rel=1e-10)
    assert other.exponent == pytest.approx(one.exponent, rel=1e-9)
    assert other.line.u_slope == pytest.approx(one.line.u_slope, rel=1e-7)


@settings(max_examples=60, deadline=None)
@given(pressure=pressures, seed=seeds)
def test_order_of_points_does_not_matter(pressure, seed):
    """A shuffled run."""
    assume(spread(pressure))
    flow, order = noisy(pressure, seed), np.random.default_rng(seed).permutation(pressure.size)
    one = fit_power_law(pressure=pressure, flow=flow)
    other = fit_power_law(pressure=pressure[order], flow=flow[order])
    assert flow_at(other, 50).high == pytest.approx(flow_at(one, 50).high, rel=1e-9)


@settings(max_examples=40, deadline=None)
@given(seed=seeds)
def test_many_runs_at_once_equal_one_by_one(seed):
    """Fitted together, masked and of unequal length, or alone without the unused points."""
    rng = np.random.default_rng(seed)
    pressure = rng.uniform(10, 70, (4, 3, 9))
    flow = noisy(pressure, seed)
    used = rng.random(pressure.shape) < 0.8
    # What was not used is not looked at, whatever it is.
    flow[~used] = rng.choice([np.nan, 0.0, -1.0, np.inf], (~used).sum())
    together = fit_power_law(pressure=pressure, flow=flow, used=used)
    for run in np.ndindex(4, 3):
        alone = fit_power_law(pressure=pressure[run][used[run]], flow=flow[run][used[run]])
        assert together.line.points[run] == used[run].sum()
        assert together.line.reason[run] == alone.line.reason
        for name in ("intercept", "slope", "u_height", "u_slope", "r_squared", "quantile"):
            got, expected = getattr(together.line, name)[run], getattr(alone.line, name)
            assert got == pytest.approx(float(expected), rel=1e-8, nan_ok=True)


def test_shape_of_flows():
    """One pressure keeps the shape of the runs; several add an axis."""
    law = fit_power_law(pressure=np.tile(PRESSURE, (3, 2, 1)), flow=FLOW)
    assert flow_at(law, 50).value.shape == (3, 2)
    assert flow_at(law, [1, 4, 10, 50]).low.shape == (3, 2, 4)


# Reading put in place of the third one, or mask, and the reason.
UNFIT = [
    ({"flow": 0.0}, None, Reason.NOT_POSITIVE),
    ({"flow": -0.1}, None, Reason.NOT_POSITIVE),
    ({"flow": np.nan}, None, Reason.NOT_POSITIVE),
    ({"pressure": -3.0}, None, Reason.NOT_POSITIVE),
    ({"pressure": np.inf}, None, Reason.NOT_POSITIVE),
    ({}, [True, False, False, False, False, False], Reason.TOO_FEW_POINTS),
    ({}, [False] * 6, Reason.TOO_FEW_POINTS),
]


@pytest.mark.parametrize(("spoilt", "used", "reason"), UNFIT)
def test_a_run_that_cannot_be_fitted_leaves_the_others_alone(spoilt, used, reason):
    """Its figures are NaN with the reason; its neighbour's are those it has alone."""
    readings = {"pressure": np.tile(PRESSURE, (2, 1)), "flow": np.tile(FLOW, (2, 1))}
    for name, value in spoilt.items():
        readings[name][0, 2] = value
    mask = np.ones((2, 6), dtype=bool)
    mask[0] = True if used is None else used
    law = fit_power_law(**readings, used=mask)
    assert law.line.reason.tolist() == [reason, Reason.FITTED]
    for name in ("intercept", "slope", "centre", "u_height", "u_slope", "r_squared", "quantile"):
        assert np.isnan(getattr(law.line, name)[0]), name
    assert law.exponent[1] == pytest.approx(fit_power_law(pressure=PRESSURE, flow=FLOW).exponent)


REFUSED = [
    ([50, -3, 20], [1, 2, 3], NotPositive, "Induced pressure of point 2 is -3 Pa; .* more than 0"),
    ([50, 30, 20], [1, 2, 0], NotPositive, "Induced flow of point 3 is 0 m³/s"),
    ([50, np.nan, 20], [1, 2, 3], NotPositive, "Induced pressure of point 2 is not given"),
    ([50], [1], TooFewPoints, "Number of used points is 1; it must be at least 2"),
    ([50, 50, 50], [1, 2, 3], SpanTooSmall, "several pressures"),
    ([50, 40], [1, 2, 3], ShapeMismatch, "one pressure and one flow for each point"),
]


@pytest.mark.parametrize(("pressure", "flow", "error", "text"), REFUSED)
def test_single_run_refused_in_words(pressure, flow, error, text):
    """Field, value, limit and next step."""
    with pytest.raises(error, match=text) as caught:
        fit_one_run(pressure=pressure, flow=flow)
    assert isinstance(caught.value, LeakageError)
    assert caught.value.next_step in str(caught.value)


def test_flow_at_no_pressure_is_refused():
    """The reference pressure has a logarithm too."""
    law = fit_power_law(pressure=PRESSURE, flow=FLOW)
    with pytest.raises(NotPositive, match="Reference pressure is 0 Pa"):
        flow_at(law, [50, 0])


def test_mean_of_both_directions_is_of_flows():
    """C 0.05, n 0.66 and C 0.056, n 0.64: mean Q50 and Q4 in m³/h (algebra)."""
    pressure = np.array([60.0, 45, 30, 15])
    down = fit_one_run(pressure=pressure, flow=0.05 * pressure**0.66)
    up = fit_one_run(pressure=pressure, flow=0.056 * pressure**0.64)
    mean = (flow_at(down, [50, 4]).value + flow_at(up, [50, 4]).value) / 2
    assert 3600 * mean == pytest.approx([2422.58, 469.48], abs=5e-3)
