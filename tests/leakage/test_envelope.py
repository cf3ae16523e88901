"""The chain from fan pressure to leakage area, against printed factors and identities."""

import math

import numpy as np
import psychrolib
import pytest
from hypothesis import given
from hypothesis import strategies as st

from agency.leakage import air, envelope, fan_flow, leakage_area, power_law
from agency.leakage.errors import LeakageError
from agency.leakage.fan_flow import Direction

CFM = 0.3048**3 / 60
"""[m³/s]  Exact: one cubic foot in a minute."""
SQUARE_INCH = 0.0254**2
N = 0.65


def whole_chain(direction, indoor, outdoor, elevation, calibration=1.2041):
    """Flow at reference conditions against the indicated flow, for an exponent of 0.65."""
    densities = {
        name: air.dry_air_density(temperature=temperature, elevation=elevation)
        for name, temperature in (("indoor", indoor), ("outdoor", outdoor))
    }
    path = fan_flow.air_path(direction=direction, **densities)
    meter = fan_flow.meter_density_factor(calibration_density=calibration, fan_density=path.fan)
    balance = fan_flow.mass_balance_factor(fan_density=path.fan, envelope_density=path.envelope)
    leak_air = outdoor if direction is Direction.DEPRESSURIZATION else indoor
    reference = envelope.reference_factor_e779(
        exponent=N, temperature=leak_air, density=path.envelope
    )
    return float(meter * balance * reference)


# Derived from the gas law, Sutherland's formula and dimensional analysis; three printed digits.
WHOLE_CHAIN = [
    # indoor [degC], outdoor [degC], elevation [m], depressurization, pressurization
    (20.0, 20.0, 0.0, 1.000, 1.000),
    (21.0, -18.0, 0.0, 0.883, 1.075),
    (21.0, 35.0, 0.0, 1.043, 0.978),
    (20.0, 20.0, 1609.0, 1.029, 1.029),
    (20.0, -10.0, 1609.0, 0.935, 1.086),
    (20.0, 8.0, 2350.0, 1.005, 1.065),
]


@pytest.mark.parametrize(("indoor", "outdoor", "elevation", "down", "up"), WHOLE_CHAIN)
def test_whole_chain_factor(indoor, outdoor, elevation, down, up):
    found = whole_chain(Direction.DEPRESSURIZATION, indoor, outdoor, elevation)
    assert found == pytest.approx(down, abs=0.0006)
    found = whole_chain(Direction.PRESSURIZATION, indoor, outdoor, elevation)
    assert found == pytest.approx(up, abs=0.0006)


def test_iso_chain_without_viscosity_on_a_cold_day():
    """21 degC in, -18 degC out, depressurization: 0.912 without viscosity (derived)."""
    inside, outside = (psychrolib_density(t) for t in (21.0, -18.0))
    chain = (
        fan_flow.meter_density_factor(calibration_density=1.204, fan_density=inside)
        * fan_flow.mass_balance_factor(fan_density=inside, envelope_density=outside)
        * envelope.reference_factor_iso9972(exponent=N, density=outside)
    )
    assert chain == pytest.approx(0.912, abs=0.0006)


def psychrolib_density(temperature):
    """Dry air at sea level, from a library that shares nothing with ours."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    return psychrolib.GetDryAirDensity(temperature, 101_325.0)


@pytest.mark.parametrize(
    ("elevation_ft", "factor"), [(5000, 1.0275), (7000, 1.039), (10000, 1.057)]
)
def test_altitude_alone_gives_the_known_factor(elevation_ft, factor):
    """(rho0/rho)^(n - 0.5), derived; RESNET 380's 1 + 6e-6 per foot (from memory) is near it."""
    found = whole_chain(Direction.DEPRESSURIZATION, 20.0, 20.0, elevation_ft * 0.3048)
    assert found == pytest.approx(factor, abs=0.0006)
    assert found == pytest.approx(1 + 6e-6 * elevation_ft, rel=0.004)


@pytest.mark.parametrize(("exponent", "moved"), [(0.5, "density"), (1.0, "viscosity")])
def test_reference_factor_of_an_orifice_and_of_laminar_flow(exponent, moved):
    """An orifice knows no viscosity and laminar flow no density (dimensional analysis)."""
    plain = envelope.reference_factor_e779(exponent=exponent, temperature=0.0, density=1.2)
    denser = envelope.reference_factor_e779(exponent=exponent, temperature=0.0, density=1.3)
    warmer = envelope.reference_factor_e779(exponent=exponent, temperature=30.0, density=1.2)
    assert (denser != plain) == (moved == "density")
    assert (warmer != plain) == (moved == "viscosity")


def test_reference_air_is_left_alone():
    assert envelope.reference_factor_e779(
        exponent=N, temperature=20.0, density=1.2041
    ) == pytest.approx(1, rel=1e-12)
    assert envelope.reference_factor_iso9972(exponent=N, density=1.204) == pytest.approx(1)


# (50/P)^0.65, three printed decimals (algebra).
NOT_REACHED = [
    (45, 1.071), (40, 1.156), (35, 1.261), (30, 1.394), (25, 1.569), (20, 1.814), (15, 2.187),
    (10, 2.847),
]  # fmt: skip


@pytest.mark.parametrize(("pressure", "factor"), NOT_REACHED)
def test_flow_at_50_from_a_lower_pressure(pressure, factor):
    law = power_law.fit_with_exponent(pressure=[pressure], flow=[1.0], exponent=N, u_exponent=0.08)
    assert power_law.flow_at(law, 50.0).value == pytest.approx(factor, abs=0.0006)


@pytest.mark.parametrize(("pressure", "percent"), [(35, 2.9), (25, 5.5), (15, 9.6)])
def test_assumed_exponent_widens_the_result(pressure, percent):
    """u(n) ln(50/P) with u(n) = 0.08 (derived)."""
    found = envelope.extrapolation_uncertainty(
        exponent_uncertainty=0.08, measured_pressure=pressure, wanted_pressure=50.0
    )
    assert 100 * found == pytest.approx(percent, abs=0.06)


def test_reference_factor_moves_the_coefficient_only():
    law = power_law.fit_power_law(pressure=[60.0, 40.0, 20.0], flow=[0.72, 0.55, 0.36])
    moved = envelope.at_reference(law, 1.1)
    assert moved.coefficient == pytest.approx(1.1 * law.coefficient, rel=1e-12)
    assert moved.exponent == law.exponent
    here, there = power_law.flow_at(law, 50.0), power_law.flow_at(moved, 50.0)
    assert there.high / there.value == pytest.approx(here.high / here.value, rel=1e-12)


def test_both_directions_are_averaged_at_the_pressure():
    """C 0.05, n 0.66 and C 0.056, n 0.64: 2422.58 and 469.48 m³/h at 50 and 4 Pa (algebra)."""
    for pressure, mean in ((50.0, 2422.58), (4.0, 469.48)):
        flows = [3600 * c * pressure**n for c, n in ((0.05, 0.66), (0.056, 0.64))]
        assert envelope.mean_of_directions(*flows) == pytest.approx(mean, abs=0.005)


def test_leakage_area_and_normalized_leakage_in_metres():
    """1500 m³/h at 50 Pa, 150 m², 2.5 m: 313.03 cm² and 0.20869 (formula by hand)."""
    flow_4 = 1500 / 3600 * (4 / 50) ** N
    area = leakage_area.effective_leakage_area(flow_4)
    assert area * 1e4 == pytest.approx(313.03, abs=0.01)
    found = leakage_area.normalized_leakage_119(leakage_area=area, floor_area=150, height=2.5)
    assert found == pytest.approx(0.20869, abs=0.00001)


def test_leakage_area_in_square_inches():
    """1500 cfm at 50 Pa, 1500 ft², 8.2 ft: 82.44 in², and 0.3817 by ASHRAE 62.2 (from memory)."""
    flow_4 = 1500 * CFM * (4 / 50) ** N
    area = leakage_area.effective_leakage_area(flow_4)
    assert area / SQUARE_INCH == pytest.approx(82.44, abs=0.006)
    floor = 1500 * 0.3048**2
    found = leakage_area.normalized_leakage_62_2(
        leakage_area=area, floor_area=floor, height=8.2 * 0.3048
    )
    assert found == pytest.approx(0.3817, abs=0.0002)


@pytest.mark.parametrize(("exponent", "ratio"), [(0.65, 1.878), (0.5, 1.637)])
def test_equivalent_against_effective_leakage_area(exponent, ratio):
    """(10/4)^(n - 0.5)/0.611 (algebra): the two areas never share a column."""
    eqla = leakage_area.equivalent_leakage_area(10**exponent)
    ela = leakage_area.effective_leakage_area(4**exponent)
    assert eqla / ela == pytest.approx(ratio, abs=0.0006)


def test_equivalent_leakage_area_constant_of_the_canadian_standard():
    """EqLA = 0.001157 sqrt(rho) C 10^(n - 0.5), C in L/s (CAN/CGSB-149.10, from memory)."""
    coefficient = 0.05
    flow_10 = coefficient * 10**N
    printed = 0.001157 * math.sqrt(1.2041) * coefficient * 1000 * 10 ** (N - 0.5)
    assert leakage_area.equivalent_leakage_area(flow_10) == pytest.approx(printed, rel=5e-4)


def test_air_changes_of_a_unit_of_normalized_leakage():
    """One storey of 2.5 m, n 0.65: 19.17 air changes at 50 Pa (algebra)."""
    flow_50 = 1.0
    area = leakage_area.effective_leakage_area(flow_50 * (4 / 50) ** N)
    leakage = leakage_area.normalized_leakage_119(leakage_area=area, floor_area=100, height=2.5)
    changes = leakage_area.air_changes(flow=flow_50, volume=250)
    assert changes / leakage == pytest.approx(19.17, abs=0.005)


@given(st.floats(min_value=1, max_value=9))
def test_both_normalized_leakages_rise_with_height(height):
    shape = {"leakage_area": 0.05, "floor_area": 120}
    for formula in (leakage_area.normalized_leakage_119, leakage_area.normalized_leakage_62_2):
        assert formula(**shape, height=height + 0.1) > formula(**shape, height=height)


def test_baseline_with_flutter_has_a_zero_mean_and_large_signed_means():
    """A symmetric flutter of 8 Pa: mean 0, signed means +8 and -8 (identity)."""
    found = fan_flow.baseline_from_samples([8.0, -8.0] * 6)
    assert (found.mean, found.positive_mean, found.negative_mean) == (0.0, 8.0, -8.0)
    assert (found.spread, found.readings) == (16.0, 12)


def test_baseline_sign_in_depressurization():
    """A reading of -50 with a baseline of -3 was 47 of the fan's making (arithmetic)."""
    found = fan_flow.induced_pressure(
        direction=Direction.DEPRESSURIZATION, building_pressure=[-50.0, 50.0], baseline=-3.0
    )
    assert found.tolist() == [47.0, -53.0]


def test_flow_of_two_fans_adds_up():
    flows = fan_flow.indicated_flow(
        coefficient=[0.2, 0.1],
        exponent=[0.5, 0.5],
        fan_pressure=[100.0, 64.0],
        lowest_pressure=25,
        highest_pressure=300,
    )
    assert flows.sum(axis=-1) == pytest.approx(0.2 * 10 + 0.1 * 8)


def test_many_runs_at_once_give_the_same_numbers():
    """The formulas take whole arrays; a row alone and in company must agree (identity)."""
    rng = np.random.default_rng(3)
    flows = rng.uniform(0.1, 0.4, size=(40, 1))
    together = leakage_area.effective_leakage_area(flows)
    alone = [leakage_area.effective_leakage_area(flow) for flow in flows]
    assert np.array_equal(together, np.array(alone))


def test_values_a_formula_cannot_take_are_refused():
    with pytest.raises(LeakageError, match="Fan pressure is 20 Pa; it must be from 25 to 300 Pa"):
        fan_flow.indicated_flow(
            coefficient=0.2,
            exponent=0.5,
            fan_pressure=20.0,
            lowest_pressure=25,
            highest_pressure=300,
        )
    with pytest.raises(LeakageError, match="Volume is 0 m³"):
        leakage_area.air_changes(flow=1.0, volume=0.0)
    with pytest.raises(LeakageError, match="Pressure is -3 Pa"):
        envelope.extrapolation_uncertainty(
            exponent_uncertainty=0.08, measured_pressure=-3.0, wanted_pressure=50.0
        )
