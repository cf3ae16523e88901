"""The sweep against worked values, scipy, linear algebra done apart, and noise of known size."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import Phase, example, given, settings
from hypothesis import strategies as st
from scipy.optimize import curve_fit

from agency.leakage.duct_sweep import (
    DuctPressures,
    SweepRule,
    fit_sweep,
    fit_with_pressures,
    sweep_difference,
)
from agency.leakage.errors import LeakageError, ShapeMismatch, SpanTooSmall, TooFewPoints

# Rule numbers: exponent from memory (LBNL work on ducts), the rest common practice.
RULE = SweepRule(
    exponent=0.6, u_exponent=0.0, largest_relative_uncertainty=0.5, largest_condition=1e3
)
PRESSURES = DuctPressures(supply=60.0, return_=90.0, u_supply=0.0, u_return=0.0)
STATIONS = np.array([-50, -40, -30, -20, -10, -5, 5, 10, 20, 30, 40, 50.0])
# Worked in cfm: the model is linear in the flows, so any unit does.
TRUE = {"supply": 90.0, "return_": 60.0, "supply_pressure": 60.0, "return_pressure": 90.0}

CASE = {"supply": 90.0, "return_": 60.0, "by_supply": 57.0, "by_return": 84.0}


def model(x, supply, return_, by_supply, by_return, *, n=0.6):
    """Written out apart from the code: leaks open, minus leaks with the air handler off."""

    def leak(dp, at):
        return np.sign(dp) * (np.abs(dp) / at) ** n

    on = supply * leak(x + by_supply, by_supply) + return_ * leak(x - by_return, by_return)
    off = supply * leak(x, by_supply) + return_ * leak(x, by_return)
    return on - off


def exact(x=STATIONS):
    return sweep_difference(house_pressure=x, exponent=0.6, **TRUE)


@pytest.mark.parametrize(("x", "printed"), [(0, 30.000), (-25, 76.6712), (25, -19.4851)])
def test_worked_values(x, printed):
    """90, 60 cfm; 60, 90 Pa; n = 0.6: by pocket calculator."""
    assert exact(x) == pytest.approx(printed, abs=5e-5 if x else 1e-9)


@given(
    x=st.floats(min_value=-80, max_value=80),
    n=st.floats(min_value=0.5, max_value=1),
    supply=st.floats(min_value=0, max_value=200),
    return_=st.floats(min_value=0, max_value=200),
)
def test_difference_is_leaks_on_minus_leaks_off(x, n, supply, return_):
    found = sweep_difference(
        house_pressure=x, supply=supply, return_=return_, supply_pressure=60.0,
        return_pressure=90.0, exponent=n,
    )  # fmt: skip
    assert found == pytest.approx(float(model(x, supply, return_, 60.0, 90.0, n=n)), abs=1e-9)


@given(x=st.floats(min_value=-80, max_value=80))
def test_supply_adds_outward_and_return_inward(x):
    only = {"house_pressure": x, "supply_pressure": 60.0, "return_pressure": 90.0, "exponent": 0.6}
    assert sweep_difference(supply=1, return_=0, **only) > 0
    assert sweep_difference(supply=0, return_=1, **only) < 0


def test_linear_exponent_gives_the_leaks_whatever_the_house_does():
    """n = 1: the house's pressure cancels, and supply less return is left."""
    case = TRUE | {"exponent": 1.0}
    assert sweep_difference(house_pressure=STATIONS, **case) == pytest.approx(np.full(12, 30.0))


def test_clean_sweep_gives_back_two_parameters():
    found = fit_with_pressures(
        house_pressure=STATIONS, difference=exact(), u_difference=None, pressures=PRESSURES,
        rule=RULE,
    )  # fmt: skip
    assert found.supply.value == pytest.approx(90, rel=1e-10)
    assert found.return_.value == pytest.approx(60, rel=1e-10)
    assert found.words == ()


@settings(max_examples=8, deadline=None, phases=[Phase.explicit, Phase.generate])
@example(supply=168.9, return_=218.5, by_supply=40.0, by_return=71.4)
@example(supply=20.0, return_=34.0, by_supply=20.0, by_return=21.0)
@given(
    supply=st.floats(min_value=20, max_value=300),
    return_=st.floats(min_value=20, max_value=300),
    by_supply=st.floats(min_value=20, max_value=80),
    by_return=st.floats(min_value=20, max_value=120),
)
def test_clean_sweep_gives_back_four_parameters(supply, return_, by_supply, by_return):
    x = np.linspace(-60, 60, 25)
    found = fit_sweep(
        house_pressure=x, difference=model(x, supply, return_, by_supply, by_return),
        u_difference=1.0, rule=RULE,
    )  # fmt: skip
    assert found.supply.value == pytest.approx(supply, rel=1e-4)
    assert found.return_.value == pytest.approx(return_, rel=1e-4)
    assert found.supply_pressure.value == pytest.approx(by_supply, rel=1e-4)
    assert found.return_pressure.value == pytest.approx(by_return, rel=1e-4)


def test_measured_pressures_halve_the_uncertainty():
    """20 cfm at each of 12 points: by central differences and a matrix inverse, 22.2 and 19.1 cfm
    with four figures free, 10.3 and 10.2 cfm with two."""
    case = {"house_pressure": STATIONS, "difference": exact(), "u_difference": 20.0}
    free = fit_sweep(**case, rule=RULE)
    fixed = fit_with_pressures(**case, pressures=PRESSURES, rule=RULE)
    assert (free.supply.u, free.return_.u) == pytest.approx((22.2, 19.1), abs=0.05)
    assert (fixed.supply.u, fixed.return_.u) == pytest.approx((10.3, 10.2), abs=0.051)


def test_noise_of_known_size_scatters_the_fit_as_stated():
    """2000 sweeps with 20 cfm of noise, solved here by the pseudo-inverse."""
    rng = np.random.default_rng(11)
    shares = np.column_stack([model(STATIONS, 1, 0, 60, 90), model(STATIONS, 0, 1, 60, 90)])
    noisy = exact()[:, None] + rng.normal(0, 20, (12, 2000))
    scatter = (np.linalg.pinv(shares) @ noisy).std(axis=1, ddof=1)
    found = fit_with_pressures(
        house_pressure=STATIONS, difference=exact(), u_difference=20.0, pressures=PRESSURES,
        rule=RULE,
    )  # fmt: skip
    # Standard error of a standard deviation of 2000 is 1.6 %; three of them.
    assert (found.supply.u, found.return_.u) == pytest.approx(tuple(scatter), rel=0.05)


@pytest.mark.parametrize("sigma", [None, 15.0])
def test_fits_agree_with_scipy(sigma):
    """scipy.optimize.curve_fit on one noisy sweep, in the flows themselves."""
    y = exact() + np.random.default_rng(3).normal(0, 15, 12)
    case = {"house_pressure": STATIONS, "difference": y, "u_difference": sigma}

    def curve(x, supply, return_):
        return model(x, supply, return_, 60, 90)

    best, covariance = curve_fit(
        curve, STATIONS, y, p0=[50, 50], sigma=None if sigma is None else np.full(12, sigma),
        absolute_sigma=sigma is not None,
    )  # fmt: skip
    found = fit_with_pressures(**case, pressures=PRESSURES, rule=RULE)
    widened = 1.0 if sigma is None else max(1.0, found.residual_sd)
    assert (found.supply.value, found.return_.value) == pytest.approx(tuple(best), rel=1e-6)
    u = widened * np.sqrt(np.diag(covariance))
    assert (found.supply.u, found.return_.u) == pytest.approx(tuple(u), rel=1e-5)
    r = covariance[0, 1] / np.sqrt(covariance[0, 0] * covariance[1, 1])
    assert found.correlation == pytest.approx(r, rel=1e-5)


def test_four_figures_agree_with_scipy():
    """curve_fit with all four free; uncertainty of a logarithm is that of the figure over it."""
    y = exact() + np.random.default_rng(3).normal(0, 2, 12)
    found = fit_sweep(house_pressure=STATIONS, difference=y, u_difference=None, rule=RULE)
    best, covariance = curve_fit(model, STATIONS, y, p0=[80, 70, 50, 80])[:2]
    ours = [found.supply, found.return_, found.supply_pressure, found.return_pressure]
    assert [one.value for one in ours] == pytest.approx(list(best), rel=1e-4)
    assert [one.u for one in ours] == pytest.approx(list(np.sqrt(np.diag(covariance))), rel=1e-3)
    assert all(one.low < one.value < one.high for one in ours)


def test_uncertain_pressures_and_exponent_are_counted_in():
    """The fit is a linear function of the readings; its slope by hand against the stated figure."""
    case = {"house_pressure": STATIONS, "difference": exact(), "u_difference": 20.0}
    sure = fit_with_pressures(**case, pressures=PRESSURES, rule=RULE)
    unsure = fit_with_pressures(
        **case, pressures=replace(PRESSURES, u_supply=6.0), rule=replace(RULE, u_exponent=0.05)
    )
    parts = []
    for low, high in (((54, 0.6), (66, 0.6)), ((60, 0.55), (60, 0.65))):
        ends = []
        for at, n in (low, high):
            shares = [model(STATIONS, *one, at, 90, n=n) for one in ((1, 0), (0, 1))]
            ends.append(np.linalg.pinv(np.column_stack(shares)) @ exact())
        parts.append((ends[1] - ends[0])[0] / 2)
    assert unsure.supply.u == pytest.approx(np.hypot(sure.supply.u, np.hypot(*parts)), rel=1e-9)


def test_readings_close_together_do_not_tell_supply_from_return():
    found = fit_with_pressures(
        house_pressure=[20.0, 20.001, 20.002], difference=[-10.0, -9.0, -11.0], u_difference=10.0,
        pressures=PRESSURES, rule=RULE,
    )  # fmt: skip
    assert found.condition > 1e3
    assert not found.supply.is_determined
    assert "do not tell supply and return apart" in found.words[0]


def test_a_tight_duct_is_not_determined_rather_than_nothing():
    """No leakage, 10 cfm of noise: 0 lies in the 95 % interval of 200 sweeps as often as it says.

    Stated noise is widened where the scatter is larger and never narrowed, so rather more often;
    0.95 less three standard errors is 0.904.
    """
    fits = [
        fit_with_pressures(
            house_pressure=STATIONS, difference=np.random.default_rng(seed).normal(0, 10, 12),
            u_difference=10.0, pressures=PRESSURES, rule=RULE,
        )
        for seed in range(200)
    ]  # fmt: skip
    assert np.mean([fit.supply.low < 0 < fit.supply.high for fit in fits]) > 0.904
    assert np.mean([fit.supply.is_determined for fit in fits]) < 0.05
    below = [fit for fit in fits if fit.supply.value < 0]
    assert below
    assert all("Supply leakage came out below 0" in " ".join(fit.words) for fit in below)


def test_tight_ducts_leave_four_figures_undetermined():
    y = np.random.default_rng(8).normal(0, 10, 12)
    found = fit_sweep(house_pressure=STATIONS, difference=y, u_difference=10.0, rule=RULE)
    assert not (found.supply.is_determined and found.return_.is_determined)


def test_two_points_determine_two_leaks_and_no_scatter():
    found = fit_with_pressures(
        house_pressure=[-30.0, 30.0], difference=exact(np.array([-30.0, 30.0])), u_difference=5.0,
        pressures=PRESSURES, rule=RULE,
    )  # fmt: skip
    assert found.supply.value == pytest.approx(90)
    assert found.residual_sd is None
    # Half the interval is 1.96 u, of the normal distribution.
    half = found.supply.high - found.supply.value
    assert half / found.supply.u == pytest.approx(1.95996, abs=5e-6)


@pytest.mark.parametrize(
    ("change", "error", "words"),
    [
        ({"difference": [1.0, 2.0]}, ShapeMismatch, "one difference for each pressure"),
        ({"house_pressure": [5.0] * 3}, SpanTooSmall, "Range of the house pressures"),
        ({"difference": [1.0, np.nan, 3.0]}, LeakageError, "Difference of flow is nan"),
        ({"u_difference": 0.0}, LeakageError, "Uncertainty of a difference is 0"),
        ({"house_pressure": [5.0, 9.0], "difference": [1.0, 2.0]}, TooFewPoints, "at least 3"),
    ],
)
def test_sweeps_that_cannot_be_fitted_are_refused(change, error, words):
    case = {"house_pressure": [-20.0, 5.0, 20.0], "difference": [30.0, 10.0, -9.0]}
    case |= {"u_difference": None, "pressures": PRESSURES, "rule": RULE} | change
    with pytest.raises(error, match=words):
        fit_with_pressures(**case)


def test_four_figures_take_five_points():
    with pytest.raises(TooFewPoints, match="at least 5"):
        fit_sweep(
            house_pressure=[-20, -10, 10, 20], difference=[4, 3, 2, 1], u_difference=None, rule=RULE
        )


def test_an_uncertain_exponent_widens_four_figures():
    """The exponent shifts what the search finds; quadrature with the scatter."""
    x = np.linspace(-60, 60, 13)
    case = {"house_pressure": x, "difference": model(x, **CASE), "u_difference": 0.1}
    sure = fit_sweep(**case, rule=RULE)
    unsure = fit_sweep(**case, rule=replace(RULE, u_exponent=0.02))
    ends = [fit_sweep(**case, rule=replace(RULE, exponent=n)).supply.value for n in (0.58, 0.62)]
    expected = np.hypot(sure.supply.u, (ends[1] - ends[0]) / 2)
    assert unsure.supply.u == pytest.approx(expected, rel=1e-3)


def test_no_difference_at_all_determines_nothing():
    found = fit_sweep(house_pressure=STATIONS, difference=np.zeros(12), u_difference=5.0, rule=RULE)
    assert not found.supply.is_determined
    assert not found.return_.is_determined
    assert found.words


def test_pressures_that_leave_the_search_leave_all_undetermined():
    """A constant difference: any far-off duct pressure explains it as well."""
    found = fit_sweep(
        house_pressure=STATIONS, difference=np.full(12, 30.0), u_difference=5.0, rule=RULE
    )
    assert not found.supply.is_determined
    assert not found.return_.is_determined
    assert "measure the duct pressures" in found.words[0]
