"""Monte Carlo of a fit against first-order propagation and known distributions."""

import time

import numpy as np
import pytest

from agency.leakage.errors import NotPositive, TooFewPoints
from agency.leakage.monte_carlo import Air, AirModel, Readings, simulate
from agency.leakage.power_law import fit_power_law, flow_at
from agency.leakage.reading_errors import Shape, baseline_offset, flow_gain, gauge_gain
from agency.leakage.uncertainty import combine, random_part, systematic_parts

from .runs import FLOW, PRESSURE

AT = [4.0, 10.0, 50.0]
ERRORS = [
    gauge_gain("gauge", 0.01 / 3**0.5, shape=Shape.RECTANGULAR),
    baseline_offset("baseline", 0.3, shape=Shape.NORMAL),
    flow_gain("fan", 0.03, shape=Shape.NORMAL),
]


def readings(**changes):
    """The invented run with small random errors."""
    given = {"pressure": PRESSURE, "flow": FLOW, "u_pressure": 0.1, "u_flow": 0.01}
    return Readings(**{**given, **changes})


def test_agrees_with_first_order_propagation():
    """JCGM 101 against JCGM 100 where errors are small; 100,000 trials tell sd to 0.3 %."""
    found = simulate(readings(), errors=ERRORS, at=AT, trials=100_000, seed=1)
    law = fit_power_law(pressure=PRESSURE, flow=FLOW)
    random = random_part(
        law=law, pressure=PRESSURE, u_pressure=0.1 / PRESSURE, u_flow=0.01, at=AT, weights=1.0
    )
    parts = systematic_parts(law=law, pressure=PRESSURE, errors=ERRORS, at=AT, weights=1.0)
    expected = combine(random=random, parts=parts).total
    assert found.u_flow == pytest.approx(expected, rel=0.02)
    assert found.flow.value == pytest.approx(flow_at(law, AT).value, rel=1e-12)
    # A nearly normal error: the ends lie 1.96 standard deviations out.
    assert np.log(found.flow.high / found.flow.low) == pytest.approx(2 * 1.96 * expected, rel=0.03)
    assert found.dropped == 0


def test_one_rectangular_error_has_the_percentiles_of_one():
    """Nothing but a calibration within ± 6 %: 95 % of it lies within ± 5.7 %."""
    errors = [flow_gain("fan", 0.06 / 3**0.5, shape=Shape.RECTANGULAR)]
    quiet = readings(u_pressure=0.0, u_flow=0.0)
    found = simulate(quiet, errors=errors, at=[50.0], trials=100_000, seed=2)
    assert found.flow.low / found.flow.value == pytest.approx(0.943, abs=5e-4)
    assert found.flow.high / found.flow.value == pytest.approx(1.057, abs=5e-4)
    # It is common to all points: the exponent does not move.
    assert found.exponent.high - found.exponent.low == pytest.approx(0, abs=1e-12)


def test_same_seed_gives_the_same_figures():
    """To the last bit; another seed does not."""
    one, again, other = (
        simulate(readings(), errors=ERRORS, at=AT, trials=12_345, seed=seed) for seed in (5, 5, 6)
    )
    assert np.array_equal(one.flow.low, again.flow.low)
    assert not np.array_equal(one.flow.low, other.flow.low)
    assert (one.trials, one.seed) == (12_345, 5)


def test_unused_points_do_not_matter():
    """A nonsense reading that is not used changes no figure beyond chance."""
    used = [True] * 6 + [False]
    more = readings(pressure=[*PRESSURE, np.nan], flow=[*FLOW, -1.0], used=used)
    one = simulate(readings(), errors=ERRORS, at=AT, trials=50_000, seed=8)
    other = simulate(more, errors=ERRORS, at=AT, trials=50_000, seed=9)
    assert other.flow.value == pytest.approx(one.flow.value, rel=1e-12)
    assert other.u_flow == pytest.approx(one.u_flow, rel=0.03)
    assert other.dropped == 0


def test_trials_below_zero_pressure_are_dropped_and_counted():
    """A lowest point at 2 standard deviations from zero: 2.275 % of the trials (normal table)."""
    run = readings(pressure=[50.0, 40, 30, 20, 2], flow=[0.6, 0.52, 0.43, 0.33, 0.08])
    quiet = Readings(
        pressure=run.pressure, flow=run.flow, u_pressure=[0, 0, 0, 0, 1.0], u_flow=0.001
    )
    found = simulate(quiet, errors=[], at=[50.0], trials=100_000, seed=3)
    assert found.dropped / found.trials == pytest.approx(0.02275, abs=0.0015)


def test_air_is_drawn_and_carried_to_reference_conditions():
    """C (mu/mu0)^(2n-1) (rho/rho0)^(1-n) by hand for the value; the error of T shows."""

    def air(indoor, outdoor):
        density = 293.15 / outdoor
        return Air(
            flow_factor=np.asarray(np.sqrt(293.15 / indoor) / density),
            density_ratio=np.asarray(density),
            viscosity_ratio=np.asarray((outdoor / 293.15) ** 0.75),
        )

    def draw(rng, trials):
        return air(
            294.0 + 3.0 * rng.standard_normal(trials), 255.0 + 3.0 * rng.standard_normal(trials)
        )

    model = AirModel(recorded=air(294.0, 255.0), draw=draw)
    quiet = readings(u_pressure=0.0, u_flow=0.0)
    found = simulate(quiet, errors=[], at=[50.0], trials=50_000, seed=4, air=model)
    law = fit_power_law(pressure=PRESSURE, flow=FLOW)
    n, density = law.exponent, 293.15 / 255.0
    by_hand = flow_at(law, 50).value * np.sqrt(293.15 / 294.0) / density
    by_hand *= (255.0 / 293.15) ** (0.75 * (2 * n - 1)) * density ** (1 - n)
    assert found.flow.value[0] == pytest.approx(by_hand, rel=1e-12)
    # d ln Q = -0.5 dTi/Ti + (n + 0.75 (2n - 1)) dTo/To (derived).
    expected = np.hypot(0.5 * 3 / 294.0, (n + 0.75 * (2 * n - 1)) * 3 / 255.0)
    assert found.u_flow[0] == pytest.approx(expected, rel=0.02)


REFUSED = [
    ({}, 10, TooFewPoints, "Number of trials is 10; it must be at least 1000"),
    ({"flow": [0.7, 0.6, 0.5, 0.4, 0.3, -0.2]}, 1000, NotPositive, "Induced flow of point 6"),
    # The lowest reading is lost in noise: half of the trials fall below zero.
    (
        {"pressure": [*PRESSURE[:5], 0.001], "u_pressure": [0, 0, 0, 0, 0, 9.0]},
        1000,
        TooFewPoints,
        "could be fitted",
    ),
]


@pytest.mark.parametrize(("changes", "trials", "error", "text"), REFUSED)
def test_refused_in_words(changes, trials, error, text):
    """Field, value, limit and next step."""
    with pytest.raises(error, match=text):
        simulate(readings(**changes), errors=[], at=[50.0], trials=trials, seed=1)


def test_a_hundred_thousand_trials_are_quick():
    """Eight points; a worker must not be held up. Best of three, as the machine is shared."""
    pressure = np.linspace(60, 15, 8)
    run = readings(pressure=pressure, flow=0.05 * pressure**0.65)
    seconds = []
    for _ in range(3):
        start = time.perf_counter()
        simulate(run, errors=ERRORS, at=AT, trials=100_000, seed=1)
        seconds.append(time.perf_counter() - start)
    assert min(seconds) < 1.5
