"""Houses of several zones against independent solvers, and leaks found again from readings."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq, fsolve

from agency.leakage.errors import LeakageError, NotConverged, NotPositive, OutOfRange
from agency.leakage.network import (
    LINEAR_BELOW,
    OUTSIDE,
    IsolatedZone,
    Path,
    flows_of,
    free_pressures,
    lay_out,
    opening,
    solve_network,
    stiffness_solve,
)
from agency.leakage.network_states import sensitivities

from .zone_cases import CFM, zone_pressure

LEAKS = {
    ("house", OUTSIDE): 110,
    ("house", "attic"): 40,
    ("attic", OUTSIDE): 200,
    ("house", "garage"): 15,
    ("garage", OUTSIDE): 60,
    ("attic", "garage"): 10,
}
DRIVEN = {"held": {"house": -50}, "fans": {}}


def path(start, end, coefficient, exponent=0.65, *, name=None, stack=0.0):
    return Path(
        name=name or f"{start}-{end}",
        start=start,
        end=end,
        coefficient=coefficient,
        exponent=exponent,
        stack=stack,
    )


def house(scale=CFM, **changed):
    return [path(a, b, scale * changed.get(f"{a}_{b}", size)) for (a, b), size in LEAKS.items()]


def signed(coefficient, drop, n):
    """The plain law, without its linear middle."""
    return math.copysign(coefficient * abs(drop) ** n, drop)


def imbalances(paths, state, fans):
    """Air that comes in and does not go out again, of every node but outside."""
    left = dict.fromkeys(state.pressures, 0.0) | dict(fans) | dict(state.fans)
    for one in paths:
        left[one.start] -= state.flows[one.name]
        left[one.end] += state.flows[one.name]
    return {node: value for node, value in left.items() if node != OUTSIDE}


def test_house_with_attic_and_garage():
    """-3.98656, -4.911565 Pa and 2058.905 cfm, and nested bracketing (scipy brentq) again."""

    def garage(attic):
        return brentq(
            lambda g: signed(15, -50 - g, 0.65) + signed(10, attic - g, 0.65) - signed(60, g, 0.65),
            -50, 0, xtol=1e-13,
        )  # fmt: skip

    def surplus(attic):
        to_garage = signed(10, attic - garage(attic), 0.65)
        return signed(40, -50 - attic, 0.65) - signed(200, attic, 0.65) - to_garage

    attic = brentq(surplus, -50, 0, xtol=1e-12)
    state = solve_network(paths=house(), **DRIVEN)
    assert attic == pytest.approx(-3.98656, abs=5e-6)
    assert state.pressures["attic"] == pytest.approx(attic, abs=1e-8)
    assert state.pressures["garage"] == pytest.approx(garage(attic), abs=1e-8)
    assert state.pressures["garage"] == pytest.approx(-4.911565, abs=5e-7)
    assert state.fans["house"] / CFM == pytest.approx(-2058.905, abs=5e-4)


def test_a_hole_of_known_size_moves_the_zone_from_5_to_12():
    """The added hole of 60 in² between house and zone, boundaries 37.8189 and 157.749 cfm/Pa^n:
    both zone pressures come back. Derived."""
    leaks = [path("house", "zone", 37.81891 * CFM), path("zone", OUTSIDE, 157.74901 * CFM)]
    hole = opening(
        name="hole", start="house", end="zone", area=60 * 0.0254**2, discharge=0.6, density=1.2041
    )
    shut = solve_network(paths=leaks, held={"house": -50}, fans={})
    holed = solve_network(paths=[*leaks, hole], held={"house": -50}, fans={})
    assert shut.pressures["zone"] == pytest.approx(-5.0, abs=1e-5)
    assert holed.pressures["zone"] == pytest.approx(-12.0, abs=1e-5)


def test_sealing_either_boundary_takes_the_through_flow_away():
    """294.4066 cfm whichever is sealed: the series flow of 27.6750 and 58.5436. Derived."""
    direct = path("house", OUTSIDE, 100 * CFM)
    near, far = path("house", "zone", 27.67503 * CFM), path("zone", OUTSIDE, 58.54364 * CFM)
    whole = solve_network(paths=[direct, near, far], held={"house": -50}, fans={})
    for left in (near, far):
        sealed = solve_network(paths=[direct, left], held={"house": -50}, fans={})
        fall = sealed.fans["house"] - whole.fans["house"]
        assert fall / CFM == pytest.approx(294.4066, abs=5e-4)


def test_the_fan_flow_that_holds_a_node_brings_it_there():
    state = solve_network(paths=house(), **DRIVEN)
    again = solve_network(paths=house(), held={}, fans=state.fans)
    assert again.pressures == pytest.approx(state.pressures, abs=1e-7)


coefficients = st.floats(min_value=-4, max_value=0).map(lambda power: 10**power)
laws = st.tuples(coefficients, st.sampled_from([0.5, 0.6, 0.65, 0.8, 1.0]))


@st.composite
def networks(draw):
    """One to four zones, each with a way out, and further paths among them."""
    count = draw(st.integers(min_value=1, max_value=4))
    nodes = [f"room {i}" for i in range(count)] + [OUTSIDE]
    paths = []
    for i in range(count):
        end = draw(st.integers(min_value=i + 1, max_value=count))
        paths.append(path(nodes[i], nodes[end], *draw(laws), name=f"way {i}"))
    for k in range(draw(st.integers(min_value=0, max_value=5))):
        a, b = draw(st.permutations(range(count + 1)))[:2]
        stack = draw(st.sampled_from([0.0, -3.0, 2.0]))
        paths.append(path(nodes[a], nodes[b], *draw(laws), name=f"more {k}", stack=stack))
    flows = st.floats(min_value=-0.5, max_value=0.5)
    return paths, {node: draw(st.one_of(st.just(0.0), flows)) for node in nodes[:-1]}


def lost_to_rounding(paths, state):
    """Flow in the last bits of the pressures: rooms at 25 MPa and 0.25 Pa apart do turn up."""
    last_bits = 4 * np.finfo(float).eps * max(abs(p) for p in state.pressures.values())
    lost = 0.0
    for one in paths:
        drop = abs(state.pressures[one.start] - state.pressures[one.end] + one.stack)
        slope = one.exponent * max(drop, LINEAR_BELOW) ** (one.exponent - 1)
        lost += one.coefficient * slope * last_bits
    return lost


@given(case=networks())
@settings(max_examples=150)
def test_every_network_settles_and_every_node_balances(case):
    paths, fans = case
    state = solve_network(paths=paths, held={}, fans=fans)
    largest = max([abs(q) for q in state.flows.values()] + [abs(s) for s in fans.values()])
    allowed = 1e-9 * largest + 1e-12 + lost_to_rounding(paths, state)
    for left in imbalances(paths, state, fans).values():
        assert abs(left) <= allowed
    for one in paths:
        drop = state.pressures[one.start] - state.pressures[one.end] + one.stack
        if abs(drop) > 2 * LINEAR_BELOW:
            expected = signed(one.coefficient, drop, one.exponent)
            assert state.flows[one.name] == pytest.approx(expected, rel=1e-12)


@given(case=networks())
def test_driving_the_other_way_turns_every_sign(case):
    paths, fans = case
    level = [path(p.start, p.end, p.coefficient, p.exponent, name=p.name) for p in paths]
    one = solve_network(paths=level, held={}, fans=fans)
    other = solve_network(paths=level, held={}, fans={k: -v for k, v in fans.items()})
    for node, pressure in one.pressures.items():
        assert other.pressures[node] == pytest.approx(-pressure, rel=1e-6, abs=1e-6)


@given(case=networks(), more=st.floats(min_value=0.001, max_value=0.5))
def test_more_supply_lowers_no_pressure(case, more):
    paths, fans = case
    before = solve_network(paths=paths, held={}, fans=fans)
    after = solve_network(paths=paths, held={}, fans=fans | {"room 0": fans["room 0"] + more})
    for node, pressure in before.pressures.items():
        assert after.pressures[node] >= pressure - 1e-6 * (1 + abs(pressure))
    assert after.pressures["room 0"] > before.pressures["room 0"]


@given(sizes=st.lists(coefficients, min_size=6, max_size=6))
@settings(max_examples=40)
def test_pressures_agree_with_another_solver(sizes):
    """scipy fsolve on the plain laws, with a numerical Jacobian, from the answer moved by 5 %."""
    paths = [path(a, b, size) for (a, b), size in zip(LEAKS, sizes, strict=True)]
    state = solve_network(paths=paths, **DRIVEN)

    def left(unknown):
        attic, garage = unknown
        flows = {
            "ha": signed(sizes[1], -50 - attic, 0.65),
            "ao": signed(sizes[2], attic, 0.65),
            "hg": signed(sizes[3], -50 - garage, 0.65),
            "go": signed(sizes[4], garage, 0.65),
            "ag": signed(sizes[5], attic - garage, 0.65),
        }
        return (flows["ha"] - flows["ao"] - flows["ag"], flows["hg"] - flows["go"] + flows["ag"])

    at = np.array([state.pressures["attic"], state.pressures["garage"]])
    found, _, done, _ = fsolve(left, at * 1.05, xtol=1e-12, full_output=True)
    if done == 1 and np.min(np.abs([at, at + 50, at[::-1] - at])) > 2 * LINEAR_BELOW:
        assert at == pytest.approx(found, abs=1e-5)


@given(near=coefficients, far=coefficients, n=st.floats(min_value=0.5, max_value=1))
def test_one_zone_agrees_with_bracketing(near, far, n):
    z = zone_pressure(near=near, far=far, n=n, envelope=50)
    paths = [path("house", "zone", near, n), path("zone", OUTSIDE, far, n)]
    state = solve_network(paths=paths, held={"house": 50}, fans={})
    # The linear middle of the law is another law below its border.
    if min(z, 50 - z) > 2 * LINEAR_BELOW:
        assert state.pressures["zone"] == pytest.approx(z, abs=1e-7)


def test_a_lone_square_root_does_not_cycle():
    """Undamped Newton turns the error to its negative for ever: (1 - 1/n) = -1 at n = 0.5."""
    state = solve_network(paths=[path("room", OUTSIDE, 0.01, 0.5)], held={}, fans={"room": 0.1})
    assert state.pressures["room"] == pytest.approx(100.0, rel=1e-9)
    assert state.iterations < 20


def test_no_drive_means_no_flow():
    state = solve_network(paths=house(), held={}, fans={})
    assert [*state.pressures.values(), *state.flows.values()] == pytest.approx([0.0] * 10)


def test_parallel_paths_add():
    two = [path("room", OUTSIDE, 0.01, name="a"), path("room", OUTSIDE, 0.03, name="b")]
    one = [path("room", OUTSIDE, 0.04)]
    fans = {"held": {}, "fans": {"room": 0.2}}
    assert solve_network(paths=two, **fans).pressures["room"] == pytest.approx(
        solve_network(paths=one, **fans).pressures["room"], rel=1e-9
    )


def test_stack_pressure_drives_a_loop():
    """Two equal leaks, 4 Pa at one of them: the room takes half. By symmetry."""
    paths = [path("room", OUTSIDE, 0.01, name="low", stack=-4.0),
             path("room", OUTSIDE, 0.01, name="high")]  # fmt: skip
    state = solve_network(paths=paths, held={}, fans={})
    assert state.pressures["room"] == pytest.approx(2.0, rel=1e-9)
    assert state.flows["high"] == pytest.approx(0.01 * 2**0.65, rel=1e-9)


def test_sensitivities_against_differences():
    """Attic and garage move by -5.2268 and -1.1051 Pa for each ln C of house to attic. Derived;
    central differences of the solver again for all paths and the fan."""
    layout = lay_out(paths=house(), **DRIVEN)
    pressure, _ = free_pressures(layout)
    moved, fan = sensitivities(layout, pressure, count=6)
    assert layout.free == ("attic", "garage")
    assert moved[:, 1] == pytest.approx([-5.2268, -1.1051], abs=5e-5)
    step = 1e-5
    for k, (a, b) in enumerate(LEAKS):
        up, down = (
            solve_network(paths=house(**{f"{a}_{b}": LEAKS[a, b] * math.exp(s)}), **DRIVEN)
            for s in (step, -step)
        )
        for i, node in enumerate(layout.free):
            slope = (up.pressures[node] - down.pressures[node]) / (2 * step)
            assert moved[i, k] == pytest.approx(slope, abs=1e-5)
        assert fan[0, k] == pytest.approx(
            (up.fans["house"] - down.fans["house"]) / (2 * step), abs=1e-7
        )


def test_flow_is_continuous_at_the_linear_border():
    layout = lay_out(paths=[path("room", OUTSIDE, 0.01, 0.5)], held={}, fans={})
    inside, outside = (
        flows_of(layout, np.array([LINEAR_BELOW * (1 + shift)]))[0][0] for shift in (-1e-9, 1e-9)
    )
    assert inside == pytest.approx(outside, rel=1e-8)
    assert outside == pytest.approx(0.01 * LINEAR_BELOW**0.5, rel=1e-8)


@pytest.mark.parametrize(
    ("paths", "driven", "error", "text"),
    [
        ([path("a", "b", 0.1)], {}, IsolatedZone, "No path joins a, b"),
        ([path("a", OUTSIDE, 0.1)] * 2, {}, LeakageError, "share a name: a-outside"),
        ([path("a", "a", 0.1)], {}, LeakageError, "back to where"),
        ([path("a", OUTSIDE, 0.0)], {}, NotPositive, "Coefficient of a path is 0"),
        ([path("a", OUTSIDE, 0.1, 1.2)], {}, OutOfRange, "from 0.5 to 1"),
        ([path("a", OUTSIDE, 0.1)], {"held": {"b": 1}}, LeakageError, "No path leads to: b"),
        ([path("a", OUTSIDE, 0.1)], {"held": {"a": 1}, "fans": {"a": 1}}, LeakageError, "both|too"),
        ([path("a", OUTSIDE, 0.1)], {"held": {OUTSIDE: 1}}, LeakageError, "0 by definition"),
        ([path("a", OUTSIDE, 0.1)], {"held": {"a": math.nan}}, OutOfRange, "held node"),
        ([path("a", OUTSIDE, 0.1)], {"fans": {"a": math.inf}}, OutOfRange, "Flow of a fan"),
    ],
)
def test_what_cannot_be_solved_is_refused(paths, driven, error, text):
    with pytest.raises(error, match=text):
        solve_network(paths=paths, **{"held": {}, "fans": {}, **driven})


def test_a_network_that_numbers_cannot_hold_is_refused_in_words():
    """Derived: with no slope towards outside, nothing holds the pressures of the free zones."""
    paths = (
        Path(name="a", start="house", end="attic", coefficient=0.01, exponent=0.65),
        Path(name="b", start="attic", end=OUTSIDE, coefficient=0.01, exponent=0.65),
    )
    layout = lay_out(paths=paths, held={}, fans={"house": 1.0})
    with pytest.raises(NotConverged, match="differ by more"):
        stiffness_solve(layout, np.array([1.0, 0.0]), np.array([1.0, 0.0]))
