"""Exhaust-fan flow and running time against worked values and other means."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import ufloat

from agency.leakage import exhaust_fans
from agency.leakage.errors import LeakageError, OutOfRange

CFM = 0.3048**3 / 60
INCH2 = 0.0254**2
BOX = {"discharge": 0.61, "density": 1.2041, "lowest_pressure": 1.0, "highest_pressure": 8.0}
"""Discharge of a sharp edge and range of the box: common practice, no source."""


@pytest.mark.parametrize(("discharge", "factor"), [(0.61, 1.07470), (1.0, 1.76180)])
def test_factor_of_the_trade(discharge, factor):
    """cfm through 1 in² at 1 Pa, from sqrt(2/1.2041) = 1.288788 by calculator."""
    found = exhaust_fans.orifice_flow(area=INCH2, pressure=1.0, discharge=discharge, density=1.2041)
    assert found / CFM == pytest.approx(factor, abs=5.1e-6)


def test_box():
    """20 in², 4 Pa: 42.988 cfm."""
    found = exhaust_fans.box_flow(area=20 * INCH2, pressure=-4.0, **BOX)
    assert found / CFM == pytest.approx(42.988, abs=5e-4)


def test_one_square_inch_at_50_pa():
    """12.4578 cfm with a discharge of 1, 7.4747 with 0.6."""
    for discharge, printed in ((1.0, 12.4578), (0.6, 7.4747)):
        found = exhaust_fans.orifice_flow(
            area=INCH2, pressure=50.0, discharge=discharge, density=1.2041
        )
        assert found / CFM == pytest.approx(printed, abs=5e-5)


@given(
    area=st.floats(min_value=1e-4, max_value=0.1),
    pressure=st.floats(min_value=-60, max_value=60),
    density=st.floats(min_value=0.8, max_value=1.4),
)
def test_energy_is_conserved(area, pressure, density):
    """Half the density times the square of the speed in the vena contracta is the pressure."""
    flow = exhaust_fans.orifice_flow(area=area, pressure=pressure, discharge=0.61, density=density)
    speed = flow / (0.61 * area)
    assert density * speed**2 / 2 == pytest.approx(abs(pressure), rel=1e-9, abs=1e-300)


def test_thin_air_is_more_flow():
    sea, high = exhaust_fans.orifice_flow(
        area=0.01, pressure=4.0, discharge=0.61, density=[1.2041, 1.0]
    )
    assert high / sea == pytest.approx(math.sqrt(1.2041))


@pytest.mark.parametrize("pressure", [4.0, -0.4, -9.0, 0.0])
def test_a_pressure_the_box_cannot_have_is_refused(pressure):
    """A supply grille; too little for the gauge; enough to choke the fan; no flow."""
    with pytest.raises(OutOfRange, match="Room less box pressure"):
        exhaust_fans.box_flow(area=20 * INCH2, pressure=pressure, **BOX)


def test_discharge_of_more_than_the_whole_is_refused():
    with pytest.raises(LeakageError, match=r"Discharge coefficient is 1\.1"):
        exhaust_fans.orifice_flow(area=0.01, pressure=4.0, discharge=1.1, density=1.2)


def test_uncertainty_agrees_with_linear_propagation():
    """The uncertainties package, 3.2."""
    area, discharge, drop = ufloat(0.013, 0.00013), ufloat(0.61, 0.0122), ufloat(2.0, 0.25)
    oracle = discharge * area * (2 * drop / 1.2041) ** 0.5
    found = exhaust_fans.box_flow_uncertainty(
        pressure=-2.0, u_pressure=0.25, u_area=0.01, u_discharge=0.02
    )
    assert found == pytest.approx(oracle.std_dev / oracle.nominal_value, rel=1e-12)


def test_hood_density():
    """The same fan pressure at 1.0 kg/m³ is sqrt(1.2) times the flow at 1.2; Bernoulli."""
    found = exhaust_fans.powered_hood_flow(
        flow=0.05, residual_pressure=0.05, balanced_within=0.1, calibration_density=1.2,
        density=1.0,
    )  # fmt: skip
    assert found == pytest.approx(0.05 * math.sqrt(1.2))


def test_a_hood_out_of_balance_is_refused():
    with pytest.raises(OutOfRange, match=r"Hood less room pressure is -0\.4 Pa"):
        exhaust_fans.powered_hood_flow(
            flow=0.05, residual_pressure=-0.4, balanced_within=0.1, calibration_density=1.2,
            density=1.2,
        )  # fmt: skip


def test_minutes_per_hour():
    """30 of 90 cfm is 20 minutes; a fan just large enough runs all the time."""
    found = exhaust_fans.minutes_per_hour(required=[30.0, 50.0, 50.0], installed=[90.0, 50.0, 49.9])
    assert found.minutes[:2] == pytest.approx([20, 60])
    assert found.minutes[2] > 60
    assert list(found.is_large_enough) == [True, True, False]


def test_a_fan_that_moves_nothing_never_suffices_unless_nothing_is_asked():
    found = exhaust_fans.minutes_per_hour(required=[10.0, 0.0], installed=0.0)
    assert list(found.minutes) == [math.inf, 0.0]
    assert list(found.is_large_enough) == [False, True]


@given(
    required=st.floats(min_value=0.001, max_value=0.1),
    share=st.floats(min_value=0.05, max_value=1),
    cycle=st.floats(min_value=0.1, max_value=3),
)
def test_intermittent_flow_moves_the_same_air(required, share, cycle):
    """Flow times time on equals required flow times the cycle."""
    flow = exhaust_fans.intermittent_flow(
        required=required, on_time=share * cycle, cycle=cycle, effectiveness=1.0, longest_cycle=3.0
    )
    assert flow * share * cycle == pytest.approx(required * cycle, rel=1e-9)


@pytest.mark.parametrize(("on", "cycle"), [(2.0, 1.0), (1.0, 4.0), (0.0, 1.0)])
def test_impossible_cycles_are_refused(on, cycle):
    """On longer than the cycle; a cycle beyond 3 h (ASHRAE 62.2-2013, from memory); never on."""
    with pytest.raises(LeakageError, match=r"Time on|Cycle"):
        exhaust_fans.intermittent_flow(
            required=0.03, on_time=on, cycle=cycle, effectiveness=1.0, longest_cycle=3.0
        )
