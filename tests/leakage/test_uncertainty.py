"""Errors of readings and what a fit makes of them: the GUM, `uncertainties` and repetition."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import correlated_values, ufloat
from uncertainties.umath import log as ulog
from uncertainties.umath import sqrt as usqrt

from agency.leakage.errors import NotPositive, OutOfRange
from agency.leakage.power_law import (
    fit_power_law,
    fit_with_exponent,
    flow_at,
    log_flow_uncertainty,
)
from agency.leakage.reading_errors import (
    Shape,
    baseline_offset,
    effective_samples,
    flow_gain,
    from_fan_pressure,
    from_range,
    from_resolution,
    gauge_accuracy,
    gauge_gain,
    of_average,
    rectangular,
)
from agency.leakage.uncertainty import (
    FlowUncertainty,
    air_parts,
    combine,
    random_part,
    systematic_parts,
    u_of_mean,
)
from agency.leakage.weighted import effective_weights, fit_york

from .runs import FLOW, PRESSURE, U_FLOW, U_PRESSURE

AT = [4.0, 10.0, 50.0]


def plain():
    """Least squares fit of the invented run."""
    return fit_power_law(pressure=PRESSURE, flow=FLOW)


def test_rectangular_is_the_deviation_of_a_uniform_error():
    """Standard deviation of numpy's uniform draws, and GUM 4.3.7 a/√3."""
    draws = np.random.default_rng(1).uniform(-0.25, 0.25, 1_000_000)
    assert rectangular(0.25) == pytest.approx(draws.std(), rel=2e-3)
    assert rectangular(0.25) == pytest.approx(0.25 / 3**0.5, rel=1e-15)


def test_resolution_is_the_deviation_of_rounding():
    """Rounding a million pressures to 0.1 Pa."""
    pressures = np.random.default_rng(2).uniform(10, 60, 1_000_000)
    error = pressures - np.round(pressures, 1)
    assert from_resolution(0.1) == pytest.approx(error.std(), rel=2e-3)


def test_baseline_range():
    """A baseline from -1 to 2 Pa: half width 1.5 Pa (GUM 4.3.7)."""
    assert from_range(lowest=-1.0, highest=2.0) == pytest.approx(1.5 / 3**0.5, rel=1e-15)


def test_independent_readings_in_an_average_of_a_wandering_signal():
    """Simulated first-order signal with τ = 5 s, averaged over 300 s (variance of the mean)."""
    step, tau, duration = 0.5, 5.0, 300.0
    rng, keep = np.random.default_rng(4), np.exp(-0.5 / 5.0)
    signal, total = rng.standard_normal(4000), np.zeros(4000)
    for _ in range(int(duration / step)):
        signal = keep * signal + np.sqrt(1 - keep**2) * rng.standard_normal(4000)
        total += signal
    spread = (total / (duration / step)).std()
    effective = effective_samples(samples=600, duration=duration, correlation_time=tau)
    assert effective == pytest.approx(30.0)
    assert of_average(deviation=1.0, effective=effective) == pytest.approx(spread, rel=0.05)


@given(
    samples=st.integers(1, 1000), duration=st.floats(1, 600), correlation_time=st.floats(0.01, 600)
)
def test_an_average_holds_at_least_one_reading_and_no_more_than_taken(
    samples, duration, correlation_time
):
    """Neither invented nor lost."""
    effective = effective_samples(
        samples=samples, duration=duration, correlation_time=correlation_time
    )
    assert 1 <= effective <= samples


def test_gauge_accuracy_takes_the_larger_part():
    """1 % or 0.25 Pa: they meet at 25 Pa."""
    expected = np.array([0.25, 0.25, 0.6]) / np.sqrt(3)
    got = gauge_accuracy(reading=[-10, 25, -60], relative=0.01, absolute=0.25)
    assert got == pytest.approx(expected, rel=1e-12)


def test_error_of_flow_from_fan_pressure():
    """K Pf^m by `uncertainties`."""
    flow = 0.01 * ufloat(80.0, 1.2) ** 0.49
    got = from_fan_pressure(exponent=0.49, u_pressure=1.2, pressure=80.0)
    assert got == pytest.approx(flow.std_dev / flow.nominal_value, rel=1e-10)


def by_uncertainties(at, u_x, u_y, shared=0.0):
    """Relative error of Q at a pressure: ordinary least squares written out in `uncertainties`."""
    offset = ufloat(0.0, 1.0) * shared
    x = [ulog(p) + u * ufloat(0, 1) + offset / p for p, u in zip(PRESSURE, u_x, strict=True)]
    # Readings on the line: first-order propagation is then exact in both methods.
    law = plain()
    fitted = law.line.intercept + law.exponent * np.log(PRESSURE)
    y = [v + u * ufloat(0, 1) for v, u in zip(fitted, u_y, strict=True)]
    mean_x, mean_y = sum(x) / len(x), sum(y) / len(y)
    pairs = list(zip(x, y, strict=True))
    slope = sum((a - mean_x) * (b - mean_y) for a, b in pairs) / sum((a - mean_x) ** 2 for a in x)
    return (mean_y + slope * (np.log(at) - mean_x)).std_dev


@pytest.mark.parametrize("at", AT)
def test_random_part_agrees_with_uncertainties(at):
    """Independent errors of both readings through ordinary least squares."""
    u_x, u_y = U_PRESSURE, np.linspace(0.01, 0.03, 6)
    got = random_part(
        law=plain(), pressure=PRESSURE, u_pressure=u_x, u_flow=u_y, at=at, weights=1.0
    )
    assert got == pytest.approx(by_uncertainties(at, u_x, u_y), rel=1e-9)


@pytest.mark.parametrize("at", AT)
def test_common_baseline_error_agrees_with_uncertainties(at):
    """One error of 0.4 Pa in all six pressures."""
    zero = np.zeros(6)
    errors = [baseline_offset("baseline", 0.4, shape=Shape.NORMAL)]
    parts = systematic_parts(law=plain(), pressure=PRESSURE, errors=errors, at=at, weights=1.0)
    expected = by_uncertainties(at, zero, zero, shared=0.4)
    assert abs(parts["baseline"]) == pytest.approx(expected, rel=1e-9)


def test_york_carries_the_stated_errors_itself():
    """Its own uncertainty is the random part with its weights, near a run without scatter."""
    flow = 0.05 * PRESSURE**0.65
    law = fit_york(pressure=PRESSURE, flow=flow, u_pressure=U_PRESSURE, u_flow=U_FLOW)
    weights = effective_weights(
        u_x=U_PRESSURE, u_y=U_FLOW, slope=law.exponent, used=np.ones(6, dtype=bool)
    )
    got = random_part(
        law=law,
        pressure=PRESSURE,
        u_pressure=U_PRESSURE,
        u_flow=U_FLOW,
        at=AT,
        weights=weights,
    )
    assert got == pytest.approx(log_flow_uncertainty(law, AT), rel=1e-9)


def test_common_gains_do_not_tilt_the_line():
    """A gauge gain g moves ln Q by n g everywhere, a calibration by itself (algebra)."""
    errors = [
        gauge_gain("gauge", 0.01, shape=Shape.RECTANGULAR),
        flow_gain("fan", 0.03, shape=Shape.NORMAL),
    ]
    law = plain()
    parts = systematic_parts(law=law, pressure=PRESSURE, errors=errors, at=AT, weights=1.0)
    assert parts["gauge"] == pytest.approx(np.full(3, -0.01 * law.exponent), rel=1e-10)
    assert parts["fan"] == pytest.approx(np.full(3, 0.03), rel=1e-10)


def test_calibration_of_one_configuration_tilts_the_line():
    """Compared with fitting again, those points shifted by 1e-6."""
    touched = np.array([1, 1, 1, 0, 0, 0.0])
    errors = [flow_gain("fan, open", 1e-6 * touched, shape=Shape.NORMAL)]
    parts = systematic_parts(law=plain(), pressure=PRESSURE, errors=errors, at=AT, weights=1.0)
    shifted = fit_power_law(pressure=PRESSURE, flow=FLOW * (1 + 1e-6 * touched))
    change = np.log(flow_at(shifted, AT).value / flow_at(plain(), AT).value)
    assert parts["fan, open"] == pytest.approx(change, rel=1e-4)
    assert np.ptp(parts["fan, open"]) > 1e-6


# Pressure reached, added relative error at 50 Pa with u(n) = 0.08 (derived: u(n) ln(50/dP)).
SHORT_OF_50 = [(35, 0.029), (25, 0.055), (15, 0.096)]


@pytest.mark.parametrize(("reached", "expected"), SHORT_OF_50)
def test_assumed_exponent_adds_to_the_error(reached, expected):
    """One point, carried to 50 Pa; tolerance half the last digit."""
    law = fit_with_exponent(pressure=[reached], flow=[1.0], exponent=0.65, u_exponent=0.08)
    parts = systematic_parts(law=law, pressure=[reached], errors=[], at=50, weights=1.0)
    assert abs(parts["assumed exponent"]) == pytest.approx(expected, abs=5e-4)
    random = random_part(
        law=law, pressure=[reached], u_pressure=0.01, u_flow=0.02, at=50, weights=1.0
    )
    assert random == pytest.approx(np.hypot(0.02, 0.65 * 0.01), rel=1e-12)
    total = combine(random=random, parts=parts).total
    assert total == pytest.approx(np.hypot(random, parts["assumed exponent"]), rel=1e-12)


def test_50_to_4_pascals_under_an_assumed_exponent():
    """20 % with u(n) = 0.08 (derived)."""
    law = fit_with_exponent(pressure=[50], flow=[1.0], exponent=0.65, u_exponent=0.08)
    parts = systematic_parts(law=law, pressure=[50], errors=[], at=4, weights=1.0)
    assert abs(parts["assumed exponent"]) == pytest.approx(0.20, abs=5e-3)


def test_many_runs_at_once_and_one_alone():
    """Shapes (2, 3) with three pressures; the second run lacks its third point."""
    used = np.ones((2, 6), dtype=bool)
    used[1, 2] = False
    runs = {"pressure": np.tile(PRESSURE, (2, 1)), "used": used}
    law = fit_power_law(flow=np.tile(FLOW, (2, 1)), **runs)
    u = {"u_pressure": U_PRESSURE, "u_flow": U_FLOW, "weights": 1.0, "at": AT}
    random = random_part(law=law, **runs, **u)
    errors = [baseline_offset("baseline", 0.3, shape=Shape.NORMAL)]
    common = systematic_parts(law=law, **runs, errors=errors, at=AT, weights=1.0)["baseline"]
    for i in range(2):
        one = {"pressure": PRESSURE[used[i]]}
        alone = fit_power_law(flow=FLOW[used[i]], **one)
        mine = {**u, "u_pressure": U_PRESSURE[used[i]]}
        assert random[i] == pytest.approx(random_part(law=alone, **one, **mine), rel=1e-9)
        expected = systematic_parts(law=alone, **one, errors=errors, at=AT, weights=1.0)
        assert common[i] == pytest.approx(expected["baseline"], rel=1e-9)


def test_air_parts_agree_with_uncertainties():
    """Whole chain sqrt(rho_fan) / rho_env * rho_env^(1 - n), ideal gas."""
    n, pressure = 0.65, ufloat(98_000.0, 300.0)
    indoors, outdoors = ufloat(294.0, 0.6), ufloat(255.0, 0.6)
    flow = usqrt(pressure / indoors) / (pressure / outdoors) ** n
    parts = air_parts(
        exponent=n,
        fan_temperature=294.0,
        envelope_temperature=255.0,
        u_temperature=0.6,
        relative_u_pressure=300 / 98_000,
    )
    total = combine(random=0.0, parts=parts).systematic
    assert total == pytest.approx(flow.std_dev / flow.nominal_value, rel=1e-9)


@pytest.mark.parametrize("correlation", [0.0, 0.5, 1.0])
def test_mean_of_directions_agrees_with_uncertainties(correlation):
    """Random errors independent, systematic ones correlated."""
    down, up = 0.66, 0.72
    shared = [[1, correlation], [correlation, 1]]
    s_d, s_p = correlated_values([1, 1], np.outer([0.03, 0.03], [0.03, 0.03]) * shared)
    mean = (down * s_d * ufloat(1, 0.01) + up * s_p * ufloat(1, 0.02)) / 2
    got = u_of_mean(
        depressurization=down,
        pressurization=up,
        u_depressurization=combine(random=0.01, parts={"fan": 0.03}),
        u_pressurization=combine(random=0.02, parts={"fan": 0.03}),
        correlation=correlation,
    )
    assert isinstance(got, FlowUncertainty)
    assert got.total == pytest.approx(mean.std_dev / mean.nominal_value, rel=1e-6)


REFUSED = [
    (lambda: rectangular(-1.0), OutOfRange, "Half width is -1; it must be 0 or more"),
    (
        lambda: effective_samples(samples=9, duration=10.0, correlation_time=0.0),
        NotPositive,
        "Correlation time is 0 s",
    ),
    (
        lambda: from_fan_pressure(exponent=0.5, u_pressure=1.0, pressure=0.0),
        NotPositive,
        "Fan pressure is 0 Pa",
    ),
    (
        lambda: u_of_mean(
            depressurization=1.0,
            pressurization=1.0,
            u_depressurization=combine(random=0.01, parts={}),
            u_pressurization=combine(random=0.01, parts={}),
            correlation=2.0,
        ),
        OutOfRange,
        "Correlation of the systematic errors is 2; it must be from -1 to 1",
    ),
]


@pytest.mark.parametrize(("call", "error", "text"), REFUSED)
def test_refused_in_words(call, error, text):
    """Field, value, limit and next step."""
    with pytest.raises(error, match=text):
        call()
