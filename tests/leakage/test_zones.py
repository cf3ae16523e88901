"""Zone pressures against closed sums, an independent solver, drawn errors and identities."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from agency.leakage.errors import LeakageError, NotPositive, OutOfRange
from agency.leakage.zone_balance import Outcome, Repeats, exponent_band
from agency.leakage.zone_methods import add_hole, open_door, vent_outside
from agency.leakage.zones import (
    Side,
    boundary_ratio,
    closure,
    opening_coefficient,
    series_coefficient,
)

from .zone_cases import CFM, HOUSE_ZONE, INCH2, ZONE_OUTSIDE, fan_flow, read, zone_pressure

sizes = st.floats(min_value=0.002, max_value=0.2)
powers = st.floats(min_value=0.5, max_value=1.0)
drives = st.floats(min_value=20, max_value=70)


def door_case(**changes):
    case = {
        "before": read(50, 12),
        "after": read(50, 50, u_zone=0),
        "flow_before": 2400 * CFM,
        "flow_after": 2850 * CFM,
        "u_flow": 0.01,
        "exponent": 0.65,
        "reference": 50,
    }
    return open_door(**{**case, **changes})


def hole_case(**changes):
    case = {
        "boundary": HOUSE_ZONE,
        "before": read(50, 5),
        "after": read(50, 12),
        "area": 60 * INCH2,
        "u_area": 0,
        "discharge": 0.6,
        "u_discharge": 0,
        "density": 1.2041,
        "exponent": 0.65,
        "reference": 50,
    }
    return add_hole(**{**case, **changes})


@pytest.mark.parametrize(
    ("zone", "ratio", "u"),
    [(1, 0.0797, 0.66), (2, 0.1267, 0.339), (5, 0.23974, 0.144), (10, 0.40613, 0.081),
     (25, 1.0, 0.052), (40, 2.46229, 0.081), (45, 4.1712, 0.144), (48, 7.89110, 0.339),
     (49, 12.5495, 0.66)],
)  # fmt: skip
def test_ratio_of_the_boundaries(zone, ratio, u):
    """(z/h)^0.65 by hand, and 0.65 x 50/(z h) for 1 Pa: derived. Printed to half a last digit."""
    found = boundary_ratio(read(50, zone, u_zone=1), exponent=0.65, detection=0)
    assert float(found.ratio.value) == pytest.approx(ratio, rel=1e-4, abs=5e-5)
    assert float(found.u_log) == pytest.approx(u, abs=0.006)


@pytest.mark.parametrize(("zone", "side"), [(1, Side.AT_MOST), (49, Side.AT_LEAST)])
def test_a_zone_near_one_side_gives_one_bound(zone, side):
    """By hand: the drop is at most 1 + 1.644854 x 0.5 = 1.822427 Pa, so R is off 1.822427/48.177573
    to the power 0.65 = 0.119057, or its inverse."""
    found = boundary_ratio(read(50, zone), exponent=0.65, detection=3)
    bound = (1.822427 / 48.177573) ** 0.65
    assert found.side == side
    assert math.isnan(found.ratio.value)
    if side == Side.AT_MOST:
        assert math.isnan(found.ratio.low)
        assert float(found.ratio.high) == pytest.approx(bound, rel=1e-6)
    else:
        assert math.isnan(found.ratio.high)
        assert float(found.ratio.low) == pytest.approx(1 / bound, rel=1e-6)


def test_a_house_of_little_pressure_tells_neither_side():
    found = boundary_ratio(read(2, 1), exponent=0.65, detection=3)
    assert found.side == Side.NEITHER
    assert np.isnan([found.ratio.value, found.u_log]).all()


@given(drive=drives, share=st.floats(min_value=0.1, max_value=0.9), n=powers)
def test_ratio_is_the_same_read_from_either_side(drive, share, n):
    """With no error of the envelope, h = P - z carries the error of z."""
    z = share * drive
    outside = boundary_ratio(read(drive, z), exponent=n, detection=3)
    inside = boundary_ratio(read(drive, drive - z, HOUSE_ZONE), exponent=n, detection=3)
    mirrored = boundary_ratio(read(drive, drive - z), exponent=n, detection=3)
    for end in ("value", "low", "high"):
        got = float(getattr(inside.ratio, end))
        assert got == pytest.approx(float(getattr(outside.ratio, end)), rel=1e-9)
    assert float(mirrored.ratio.value) == pytest.approx(1 / float(outside.ratio.value), rel=1e-9)


def test_error_of_the_ratio_against_drawn_readings():
    """100 000 draws with numpy, wind common to both hoses."""
    rng = np.random.default_rng(3)
    errors = rng.multivariate_normal([0, 0], [[0.36, 0.6 * 0.24], [0.6 * 0.24, 0.16]], 100_000)
    p, z = 50 + errors[:, 0], 20 + errors[:, 1]
    drawn = np.std(0.65 * np.log(z / (p - z)))
    reading = read(50, 20, u_envelope=0.6, u_zone=0.4, correlation=0.6)
    assert float(boundary_ratio(reading, exponent=0.65, detection=3).u_log) == pytest.approx(
        drawn, rel=0.02
    )


def test_open_door_by_hand():
    """450/(50^0.65 - 12^0.65) = 58.5436 and its series flow; errors against 8.47 and 9.41 %
    of the written-out propagation with the second zone reading exact. Derived."""
    found = door_case()
    near, far = (float(c) / CFM for c in found.coefficients)
    assert (near, far) == pytest.approx((27.6750, 58.5436), rel=2e-6)
    assert float(found.through_zone.value) / CFM == pytest.approx(294.4066, rel=1e-6)
    assert float(found.house_zone.value) / CFM == pytest.approx(351.9, abs=0.05)
    assert float(found.zone_outside.value) / CFM == pytest.approx(744.4, abs=0.05)
    assert float(found.direct.value) / CFM == pytest.approx(2105.6, abs=0.05)
    assert float(found.zone_outside.u_relative) == pytest.approx(0.0847, abs=5e-5)
    assert float(found.through_zone.u_relative) == pytest.approx(0.0941, abs=5e-5)


def test_vent_to_outside_by_hand():
    """200/(49^0.65 - 30^0.65) = 58.3649, times (30/20)^0.65 = 75.9646; series 532.4523. Derived."""
    found = vent_outside(
        before=read(50, 30, HOUSE_ZONE), after=read(50, 49, HOUSE_ZONE),
        flow_before=1900 * CFM, flow_after=2100 * CFM, u_flow=0.01, exponent=0.65, reference=50,
    )  # fmt: skip
    near, far = (float(c) / CFM for c in found.coefficients)
    assert (near, far) == pytest.approx((58.3649, 75.9646), rel=2e-6)
    assert float(found.through_zone.value) / CFM == pytest.approx(532.4523, rel=1e-6)


def test_hole_into_the_house_by_hand():
    """0.6 x 60 in² at 38 Pa passes 390.9775 cfm; over (45 x 12/5)^0.65 - 38^0.65. Derived."""
    found = hole_case()
    assert float(found.signal) / CFM == pytest.approx(390.9775, rel=1e-6)
    assert float(found.coefficients[0]) / CFM == pytest.approx(37.8189, rel=2e-6)
    assert float(found.house_zone.value) / CFM == pytest.approx(480.883, rel=2e-6)
    assert float(found.zone_outside.value) / CFM == pytest.approx(2005.844, rel=2e-6)
    assert float(found.through_zone.value) / CFM == pytest.approx(449.1, abs=0.05)
    assert float(found.house_zone.u_relative) == pytest.approx(0.163, abs=5e-4)
    assert math.isnan(found.direct.value)


def test_hole_to_outside_by_hand():
    """25 Pa falls to 10: 100.2836 cfm over 40^0.65 - 10^0.65, both boundaries alike. Derived."""
    found = hole_case(
        boundary=ZONE_OUTSIDE, before=read(50, 25), after=read(50, 10), area=30 * INCH2
    )
    assert float(found.signal) / CFM == pytest.approx(100.2836, rel=1e-6)
    assert float(found.coefficients[0]) / CFM == pytest.approx(15.3531, rel=4e-6)
    assert float(found.coefficients[1]) / CFM == pytest.approx(15.3531, rel=4e-6)
    assert float(found.zone_outside.value) / CFM == pytest.approx(195.221, rel=3e-6)


def test_a_zone_that_hardly_moves_is_uncertain():
    """5 to 6 Pa, half a pascal each: 76 % by central differences. Derived."""
    assert float(hole_case(after=read(50, 6)).house_zone.u_relative) == pytest.approx(
        0.76, abs=5e-3
    )


def test_band_of_exponents():
    """Exponents 0.60 and 0.70 give 528.943 and 439.695 cfm. Derived."""
    low, high = exponent_band(hole_case(exponent=[0.60, 0.65, 0.70]).house_zone)
    assert float(high) / CFM == pytest.approx(528.943, rel=2e-6)
    assert float(low) / CFM == pytest.approx(439.695, rel=2e-6)


def test_discharge_of_a_hole():
    """A square inch passes 12.4578 cfm at 50 Pa with 1, 7.4747 with 0.6. Bernoulli, derived."""
    both = opening_coefficient(area=INCH2, discharge=[1, 0.6], density=1.2041) * 50**0.5 / CFM
    assert both == pytest.approx([12.4578, 7.4747], rel=1e-5)
    assert 10 / both[0] == pytest.approx(0.80271, abs=5e-6)


def test_series_of_two_boundaries():
    """10 and 10 make 10 x 2^-0.65 = 6.37280; 10 and 30 make 8.95788. Derived."""
    found = series_coefficient(house_zone=10, zone_outside=[10, 30], exponent=0.65)
    assert found == pytest.approx([6.37280, 8.95788], rel=1e-6)


@given(near=sizes, far=sizes, direct=sizes, n=powers, drive=st.tuples(drives, drives))
def test_known_leaks_come_back_from_an_opened_boundary(near, far, direct, n, drive):
    """Forward by brentq, at unequal envelope pressures and with doors that leave a drop."""
    first, second = drive
    case = {"direct": direct, "near": near, "n": n}
    z = zone_pressure(near=near, far=far, n=n, envelope=first)
    flow = fan_flow(**case, envelope=first, z=z)
    for method, side in ((open_door, HOUSE_ZONE), (vent_outside, ZONE_OUTSIDE)):
        hole = 0.5
        z2 = zone_pressure(near=near, far=far, n=n, envelope=second, hole=hole, hole_in=side)
        extra = hole if side is HOUSE_ZONE else 0.0
        found = method(
            before=read(first, z), after=read(second, z2), flow_before=flow,
            flow_after=fan_flow(**case, envelope=second, z=z2, hole=extra),
            u_flow=0.01, exponent=n, reference=50,
        )  # fmt: skip
        assert [float(c) for c in found.coefficients] == pytest.approx([near, far], rel=1e-5)
        # Sealing either boundary leaves the direct leak alone.
        assert float(found.direct.value) == pytest.approx(direct * 50**n, rel=1e-5)


@given(near=sizes, far=sizes, n=powers, first=drives, second=drives)
def test_known_leaks_come_back_from_a_hole(near, far, n, first, second):
    """Forward by brentq; the envelope pressures need not be equal."""
    z = zone_pressure(near=near, far=far, n=n, envelope=first)
    for side in (HOUSE_ZONE, ZONE_OUTSIDE):
        hole = 0.6 * 0.05 * math.sqrt(2 / 1.2041)
        z2 = zone_pressure(near=near, far=far, n=n, envelope=second, hole=hole, hole_in=side)
        found = hole_case(
            boundary=side, before=read(first, z), after=read(second, z2), area=0.05, exponent=n
        )
        assert [float(c) for c in found.coefficients] == pytest.approx([near, far], rel=1e-5)


@given(near=sizes, far=sizes, n=powers)
def test_through_flow_is_the_series_of_both_and_below_either(near, far, n):
    z = zone_pressure(near=near, far=far, n=n, envelope=50)
    one = float(series_coefficient(house_zone=near, zone_outside=far, exponent=n))
    other = float(series_coefficient(house_zone=far, zone_outside=near, exponent=n))
    assert one * 50**n == pytest.approx(near * (50 - z) ** n, rel=1e-8)
    assert one == pytest.approx(other, rel=1e-12)
    assert one < min(near, far)


def door_figures(readings, n=0.65):
    """Plain sums over (P1, z1, P2, z2, Q1, Q2): house-zone, zone-outside and through the zone."""
    p1, z1, p2, z2, q1, q2 = readings
    scale = (p2 / p1) ** n
    far = (q2 - q1 * scale) / (z2**n - z1**n * scale)
    near = far * (z1 / (p1 - z1)) ** n
    return np.array([near, far, far * z1**n * (50 / p1) ** n])


def test_errors_with_correlation_against_plain_differences():
    """Central differences of plain sums and a covariance written out by hand."""
    at = np.array([50.0, 12.0, 49.0, 44.0, 1.13, 1.31])
    u = np.array([0.4, 0.5, 0.3, 0.6, 0.02 * 1.13, 0.02 * 1.31])
    wind, again, fan = 0.4, 0.5, 0.8
    r = np.eye(6)
    r[0, 1] = r[2, 3] = wind
    r[0, 2] = r[1, 3] = again
    r[0, 3] = r[1, 2] = again * wind
    r[4, 5] = fan
    covariance = (r + r.T - np.eye(6)) * np.outer(u, u)
    steps = np.eye(6) * 1e-5
    slopes = np.stack(
        [(np.log(door_figures(at + s)) - np.log(door_figures(at - s))) / 2e-5 for s in steps], 1
    )
    found = open_door(
        before=read(50, 12, u_envelope=0.4, u_zone=0.5, correlation=wind),
        after=read(49, 44, u_envelope=0.3, u_zone=0.6, correlation=wind),
        flow_before=1.13, flow_after=1.31, u_flow=0.02, exponent=0.65, reference=50,
        repeats=Repeats(pressure=again, size=fan),
    )  # fmt: skip
    assert found.covariance == pytest.approx(slopes @ covariance @ slopes.T, rel=1e-6)


def test_errors_against_drawn_readings():
    """200 000 draws with numpy: 8.46 and 9.43 % of the open door. Plain sums, not the package."""
    rng = np.random.default_rng(8)
    flows = [q * (1 + 0.01 * rng.standard_normal(200_000)) for q in (2400, 2850)]
    z = 12 + 0.5 * rng.standard_normal(200_000)
    _, far, through = door_figures((50.0, z, 50.0, 50.0, *flows))
    found = door_case()
    assert float(found.zone_outside.u_relative) == pytest.approx(far.std() / far.mean(), rel=0.02)
    assert float(found.through_zone.u_relative) == pytest.approx(
        through.std() / through.mean(), rel=0.02
    )


def test_a_calibration_error_common_to_both_flows_is_only_a_factor():
    """Then 1 % of each flow is 1 % of their difference."""
    found = door_case(before=read(50, 12, u_zone=0), repeats=Repeats(size=1.0))
    assert float(found.through_zone.u_relative) == pytest.approx(0.01, rel=1e-9)


def test_many_zones_at_once_are_the_single_ones():
    zones, moved = np.array([5.0, 8.0, 12.0]), np.array([12.0, 20.0, 30.0])
    together = hole_case(before=read(50, zones), after=read(50, moved))
    for i in range(3):
        alone = hole_case(before=read(50, zones[i]), after=read(50, moved[i]))
        assert together.through_zone.value[i] == alone.through_zone.value
        assert together.covariance[i] == pytest.approx(alone.covariance, rel=1e-12)


@pytest.mark.parametrize(
    ("changes", "outcome"),
    [
        ({"after": read(50, 4)}, Outcome.WRONG_WAY),
        ({"after": read(50, 12), "before": read(50, 12)}, Outcome.WRONG_WAY),
        ({"before": read(50, 0)}, Outcome.NOT_POSITIVE),
        ({"before": read(50, 51)}, Outcome.NOT_POSITIVE),
        ({"flow_after": 2300 * CFM}, Outcome.FLOW_NOT_RISEN),
    ],
)
def test_readings_that_contradict_give_no_value_and_a_reason(changes, outcome):
    found = door_case(**changes)
    assert found.outcome == outcome
    assert np.isnan([found.through_zone.value, found.direct.value, found.ratio]).all()
    assert np.isnan(found.covariance).all()


def test_one_bad_zone_leaves_the_others():
    found = hole_case(before=read(50, [5, 5]), after=read(50, [3, 12]))
    assert found.outcome.tolist() == [Outcome.WRONG_WAY, Outcome.ESTIMATED]
    assert float(found.coefficients[0][1]) / CFM == pytest.approx(37.8189, rel=2e-6)


def test_three_readings_have_to_add_up():
    assert float(closure(envelope=50, house_zone=30, zone_outside=23)) == 3


@pytest.mark.parametrize(
    ("call", "error", "text"),
    [
        (lambda: read_ratio(read(0, 5)), NotPositive, "envelope is 0 Pa"),
        (lambda: read_ratio(read(50, math.nan)), OutOfRange, "Zone pressure is not given"),
        (lambda: read_ratio(read(50, 55)), NotPositive, "house to zone boundary is -5 Pa"),
        (lambda: read_ratio(read(50, -5)), NotPositive, "hose"),
        (lambda: door_case(exponent=0.4), OutOfRange, "from 0.5 to 1"),
        (lambda: door_case(flow_before=0), NotPositive, "Fan flow before"),
        (lambda: door_case(before=read(50, 12, correlation=1.2)), OutOfRange, "Correlation"),
        (lambda: hole_case(discharge=1.2), OutOfRange, "Discharge"),
        (lambda: hole_case(area=0), NotPositive, "Area of the opening"),
        (lambda: hole_case(u_area=-0.1), OutOfRange, "uncertainty"),
    ],
)
def test_what_cannot_be_is_refused(call, error, text):
    with pytest.raises(error, match=text) as caught:
        call()
    assert isinstance(caught.value, LeakageError)


def read_ratio(reading):
    return boundary_ratio(reading, exponent=0.65, detection=3)
