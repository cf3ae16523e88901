"""Flows moved from one pressure to another, and numerical uncertainty, against other means."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import ufloat

from agency.leakage.errors import LeakageError
from agency.leakage.scaling import (
    flow_at_other_pressure,
    half_differences,
    other_pressure_uncertainty,
)

pressures = st.floats(min_value=1, max_value=100)
exponents = st.floats(min_value=0.5, max_value=1)
flows = st.floats(min_value=0, max_value=5)

# Ratio of two pressures to the exponent, by a pocket calculator; arithmetic, no source needed.
FACTORS = [
    # read [Pa], wanted [Pa], exponent, factor as printed, half its last digit
    (50.0, 25.0, 0.65, 0.63728, 5e-6),
    (50.0, 25.0, 0.60, 0.65975, 5e-6),
    (75.0, 50.0, 0.65, 0.76832, 5e-6),
]


@pytest.mark.parametrize(("read", "wanted", "exponent", "factor", "half_digit"), FACTORS)
def test_factors(read, wanted, exponent, factor, half_digit):
    found = flow_at_other_pressure(flow=1.0, pressure=read, target=wanted, exponent=exponent)
    assert found == pytest.approx(factor, abs=half_digit)
    by_logs = math.exp(exponent * (math.log(wanted) - math.log(read)))
    assert found == pytest.approx(by_logs, rel=1e-14)


@given(flow=flows, there=pressures, here=pressures, exponent=exponents)
def test_there_and_back_is_where_one_was(flow, there, here, exponent):
    away = flow_at_other_pressure(flow=flow, pressure=here, target=there, exponent=exponent)
    back = flow_at_other_pressure(flow=away, pressure=there, target=here, exponent=exponent)
    assert back == pytest.approx(flow, rel=1e-12)


def test_uncertainty_agrees_with_linear_propagation():
    """The uncertainties package, 3.2."""
    flow, read = ufloat(0.05, 0.05 * 0.03), ufloat(18.0, 0.4)
    exponent = ufloat(0.6, 0.05)
    oracle = flow * (25.0 / read) ** exponent
    found = other_pressure_uncertainty(
        u_flow=0.03, pressure=18.0, u_pressure=0.4, target=25.0, exponent=0.6, u_exponent=0.05
    )
    assert found == pytest.approx(oracle.std_dev / oracle.nominal_value, rel=1e-10)


def test_half_differences_of_a_linear_figure_are_exact():
    """Quadrature of 3 x 2 and 4 x 2, a 3-4-5 triangle."""
    found = half_differences(
        lambda v: 3 * v["a"] - 4 * v["b"], values={"a": 1, "b": 7}, uncertainties={"a": 2, "b": 2}
    )
    assert found == pytest.approx(10)


def test_half_differences_agree_with_linear_propagation():
    """The uncertainties package, 3.2, for small uncertainties."""
    oracle = ufloat(2.0, 0.002) ** 1.5 / ufloat(3.0, 0.004)
    found = half_differences(
        lambda v: v["a"] ** 1.5 / v["b"],
        values={"a": 2.0, "b": 3.0},
        uncertainties={"a": 0.002, "b": 0.004},
    )
    assert found == pytest.approx(oracle.std_dev, rel=1e-5)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"flow": -0.1}, "Flow is -0.1 m³/s; it must be at least 0 m³/s"),
        ({"pressure": 0.0}, "Pressure is 0 Pa; it must be more than 0 Pa"),
        ({"target": -25.0}, "Pressure wanted is -25 Pa"),
        ({"exponent": 0.45}, "Exponent is 0.45; it must be from 0.5 to 1"),
        ({"flow": math.nan}, "Flow is nan"),
    ],
)
def test_impossible_readings_are_refused(change, words):
    case = {"flow": 0.1, "pressure": 20.0, "target": 25.0, "exponent": 0.6} | change
    with pytest.raises(LeakageError, match=words):
        flow_at_other_pressure(**case)
