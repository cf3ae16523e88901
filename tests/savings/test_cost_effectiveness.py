"""Ratios by hand, by the words of 10 CFR 440.21(c), and the laws they must keep."""

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agency.savings.cost_effectiveness import Kind, Measure, judge
from agency.savings.errors import EconomicsError
from agency.savings.present_value import escalated_present_value

ATTIC = Measure(code="attic", material=600.0, installation=350.0, supervision=50.0)
SEALING = Measure(
    code="sealing", material=100.0, installation=250.0, supervision=50.0, repairs=300.0
)
ALARM = Measure(
    code="alarm",
    material=40.0,
    installation=20.0,
    supervision=0.0,
    kind=Kind.HEALTH_AND_SAFETY,
)
money = st.floats(min_value=1.0, max_value=1e5)


def test_ratio_counts_material_installation_and_supervision():
    """By hand: 2500 / (600 + 350 + 50) and 600 / (100 + 250 + 50)."""
    found = judge(
        [ATTIC, SEALING], present_values={"attic": 2500.0, "sealing": 600.0}, required=1.0
    )
    assert found.measures["attic"].sir == 2.5
    assert found.measures["sealing"].sir == 1.5
    assert found.measures["sealing"].npv == 200


def test_repairs_count_in_the_package_and_not_in_the_measure():
    """By hand: 3100 / (1000 + 400 + 300)."""
    found = judge(
        [ATTIC, SEALING], present_values={"attic": 2500.0, "sealing": 600.0}, required=1.0
    )
    assert found.package.sir == pytest.approx(3100 / 1700, rel=1e-15)
    assert found.package.npv == 1400
    assert found.passes


def test_repairs_alone_can_fail_the_package():
    """By hand: 1050 + 450 = 1500 against 1000 + 400 + 300."""
    found = judge(
        [ATTIC, SEALING], present_values={"attic": 1050.0, "sealing": 450.0}, required=1.0
    )
    assert found.failing == ()
    assert not found.package.passes
    assert not found.passes


def test_a_measure_fails_though_the_package_passes():
    """10 CFR 440.21(c) asks it of each individual material and of the package, read."""
    found = judge(
        [ATTIC, SEALING], present_values={"attic": 4000.0, "sealing": 399.99}, required=1.0
    )
    assert found.package.passes
    assert found.failing == ("sealing",)
    assert not found.passes


def test_health_and_safety_is_excepted_and_its_cost_stands_apart():
    """10 CFR 440.21(c), read; by hand 40 + 20."""
    alone = judge([ATTIC], present_values={"attic": 1500.0}, required=1.0)
    found = judge([ATTIC, ALARM], present_values={"attic": 1500.0}, required=1.0)
    assert found.measures == alone.measures
    assert found.package == alone.package
    assert found.excepted_cost == 60


def test_equal_passes_and_a_hair_below_fails_without_rounding():
    """The text says equal or exceed."""
    for value, passes in [
        (1000.0, True),
        (math.nextafter(1000.0, 0), False),
        (999.996, False),
    ]:
        found = judge([ATTIC], present_values={"attic": value}, required=1.0)
        assert found.passes is passes


def test_nothing_spent_has_no_ratio():
    free = Measure(code="setback", material=0.0, installation=0.0, supervision=0.0)
    saves = judge([free], present_values={"setback": 30.0}, required=1.0)
    assert saves.measures["setback"].sir is None
    assert saves.passes
    loses = judge([free], present_values={"setback": -30.0}, required=1.0)
    assert loses.measures["setback"].sir is None
    assert not loses.passes


def test_an_empty_package_has_no_ratio():
    found = judge([ALARM], present_values={}, required=1.0)
    assert found.package.sir is None
    assert dict(found.measures) == {}


@given(
    price=money,
    more=st.floats(min_value=1.001, max_value=10),
    energy=money,
    cost=money,
)
def test_ratio_rises_with_the_energy_price(price, more, energy, cost):
    """Derived: it is proportional to the price."""
    measure = Measure(code="x", material=cost, installation=0.0, supervision=0.0)
    factor = float(escalated_present_value(discount_rate=0.03, escalation=0.01, years=20))

    def sir(dollars):
        value = energy * dollars * factor
        return judge([measure], present_values={"x": value}, required=1.0).measures["x"].sir

    assert sir(price * more) > sir(price)
    assert sir(price * more) == pytest.approx(more * sir(price), rel=1e-12)


@given(values=st.lists(money, min_size=1, max_size=6), costs=st.lists(money, min_size=6))
def test_package_ratio_lies_between_its_measures(values, costs):
    """Derived: a ratio of sums is a weighted mean of the ratios."""
    measures = [
        Measure(code=str(i), material=cost, installation=0.0, supervision=0.0)
        for i, (_, cost) in enumerate(zip(values, costs, strict=False))
    ]
    found = judge(
        measures,
        present_values={str(i): value for i, value in enumerate(values)},
        required=1.0,
    )
    ratios = [verdict.sir for verdict in found.measures.values()]
    dust = 1e-12
    assert min(ratios) * (1 - dust) <= found.package.sir <= max(ratios) * (1 + dust)


def test_a_required_ratio_of_the_rule_book_is_used():
    found = judge([ATTIC], present_values={"attic": 1100.0}, required=1.2)
    assert not found.passes


@pytest.mark.parametrize("field", ["material", "installation", "supervision", "repairs"])
@pytest.mark.parametrize("cost", [-1.0, math.nan, math.inf])
def test_a_cost_that_is_no_amount_is_refused_by_name(field, cost):
    with pytest.raises(EconomicsError, match=f"attic: {field} is"):
        judge([replace(ATTIC, **{field: cost})], present_values={"attic": 1.0}, required=1.0)


def test_a_missing_saving_is_not_taken_for_none():
    with pytest.raises(EconomicsError, match="sealing has no saving"):
        judge([ATTIC, SEALING], present_values={"attic": 1.0}, required=1.0)
    with pytest.raises(EconomicsError, match="finite"):
        judge([ATTIC], present_values={"attic": math.nan}, required=1.0)


def test_the_same_code_twice_is_refused():
    with pytest.raises(EconomicsError, match="attic stands twice"):
        judge([ATTIC, ATTIC], present_values={"attic": 1.0}, required=1.0)
