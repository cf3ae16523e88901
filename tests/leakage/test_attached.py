"""Guarded tests of attached dwellings against solved blocks, drawn errors and hand sums."""

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.optimize import brentq

from agency.leakage.attached import WallReading, dwelling_paths, guarded_state, guarded_test
from agency.leakage.errors import NotPositive
from agency.leakage.zone_balance import Outcome

sizes = st.floats(min_value=0.005, max_value=0.2)
powers = st.floats(min_value=0.5, max_value=1.0)


def reading(envelope, wall, flow, *, u_envelope=0.0, u_wall=0.0, u_flow=0.0):
    return WallReading(
        envelope=envelope,
        wall=wall,
        flow=flow,
        u_envelope=u_envelope,
        u_wall=u_wall,
        u_flow=u_flow,
    )


def case(unguarded, guarded, n=0.65):
    return guarded_test(unguarded=unguarded, guarded=guarded, exponent=n, reference=50)


def test_guarded_test_by_hand():
    """Q_unguarded - Q_guarded is the flow past the wall: 1.0 - 0.8 at 30 Pa, derived."""
    found = case(reading(50, 30, 1.0), reading(50, 0, 0.8))
    assert float(found.to_outside.value) == pytest.approx(0.8, rel=1e-12)
    assert float(found.through_neighbour.value) == pytest.approx(0.2, rel=1e-12)
    assert float(found.wall.value) == pytest.approx(0.2 * (50 / 30) ** 0.65, rel=1e-12)


@given(own=sizes, beside=sizes, wall=sizes, n=powers, guard=st.floats(min_value=-6, max_value=6))
def test_known_leaks_come_back_though_the_guard_is_not_exact(own, beside, wall, n, guard):
    """The unguarded neighbour is found by brentq; the guard misses by some pascals."""

    def neighbour(p):
        return wall * (50 - p) ** n - beside * p**n

    h = 50 - brentq(neighbour, 0, 50, xtol=1e-13, rtol=1e-14)
    past = math.copysign(wall * abs(guard) ** n, guard)
    guarded_flow = own * 47**n + past
    assume(h > 1.3 * max(guard, 0.1) and guarded_flow > 0)
    found = case(reading(50, h, own * 50**n + wall * h**n), reading(47, guard, guarded_flow), n)
    assert float(found.to_outside.value) == pytest.approx(own * 50**n, rel=1e-5)
    assert float(found.wall.value) == pytest.approx(wall * 50**n, rel=1e-5)


@given(own=sizes, beside=sizes, wall=sizes, n=powers)
def test_the_block_as_a_network_agrees(own, beside, wall, n):
    """Unguarded less guarded fan flow is the flow past the wall, by the network's own balance."""
    paths = dwelling_paths(envelopes={"A": own, "B": beside}, walls={("A", "B"): wall}, exponent=n)
    alone = guarded_state(paths=paths, dwelling="A", guards=[], pressure=-50)
    guarded = guarded_state(paths=paths, dwelling="A", guards=["B"], pressure=-50)
    assert -guarded.fans["A"] == pytest.approx(own * 50**n, rel=1e-9)
    assert guarded.flows["A to B"] == 0
    fall = guarded.fans["A"] - alone.fans["A"]
    assert fall == pytest.approx(-alone.flows["A to B"], rel=1e-9)


def test_the_middle_of_a_row_needs_both_guards():
    """One guard leaves the flow past the other wall. From the balance, derived."""
    paths = dwelling_paths(
        envelopes={"left": 0.05, "middle": 0.04, "right": 0.05},
        walls={("left", "middle"): 0.02, ("middle", "right"): 0.03},
        exponent=0.65,
    )
    flows = [
        -guarded_state(paths=paths, dwelling="middle", guards=guards, pressure=-50).fans["middle"]
        for guards in ([], ["left"], ["left", "right"])
    ]
    assert flows[0] > flows[1] > flows[2]
    assert flows[2] == pytest.approx(0.04 * 50**0.65, rel=1e-9)


def test_errors_against_drawn_readings():
    """200 000 draws of plain sums with numpy; the guard's 0 Pa is where a slope has no end."""
    rng = np.random.default_rng(6)
    e = rng.standard_normal((6, 200_000))
    first, second = 1.0 * (1 + 0.01 * e[0]), 0.8 * (1 + 0.01 * e[1])
    h1, h2 = 30 + 0.5 * e[2], 0.2 * e[3]
    p1, p2 = 50 + 0.3 * e[4], 50 + 0.3 * e[5]
    scale = (p1 / p2) ** 0.65
    s1, s2 = h1**0.65, np.sign(h2) * np.abs(h2) ** 0.65
    wall = (first - scale * second) / (s1 - scale * s2)
    found = case(
        reading(50, 30, 1.0, u_envelope=0.3, u_wall=0.5, u_flow=0.01),
        reading(50, 0, 0.8, u_envelope=0.3, u_wall=0.2, u_flow=0.01),
    )
    assert float(found.wall.u_relative) == pytest.approx(wall.std() / wall.mean(), rel=0.05)


@pytest.mark.parametrize(
    ("first", "second", "outcome"),
    [((50, 30, 0.8), (50, 0, 0.8), Outcome.FLOW_NOT_RISEN),
     ((50, 30, 1.0), (50, 31, 0.8), Outcome.WRONG_WAY),
     ((50, 0, 1.0), (50, 0, 0.8), Outcome.WRONG_WAY)],
)  # fmt: skip
def test_flows_that_do_not_differ_give_no_value(first, second, outcome):
    found = case(reading(*first), reading(*second))
    assert found.outcome == outcome
    assert np.isnan([found.wall.value, found.to_outside.value]).all()


def test_no_flow_is_refused():
    with pytest.raises(NotPositive, match="Fan flow"):
        case(reading(50, 30, 0), reading(50, 0, 0.8))
