"""Delivery effectiveness against a hand sum, its limits and its laws."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agency.savings.conduction import RESISTANCE_PER_R
from agency.savings.ducts import (
    DuctRun,
    delivery_effectiveness,
    leak_share,
    saving_from_better_ducts,
    with_regain,
)
from agency.savings.errors import SavingsError
from agency.savings.fuels import BTU
from agency.savings.infiltration_energy import STANDARD_AIR_DENSITY

CFM = 0.3048**3 / 60
SQUARE_FOOT = 0.3048**2
SUPPLY = DuctRun(
    area=200 * SQUARE_FOOT, resistance=6 * RESISTANCE_PER_R, leak_share=0.10, surroundings=30 / 1.8
)
RETURN = DuctRun(
    area=50 * SQUARE_FOOT, resistance=6 * RESISTANCE_PER_R, leak_share=0.05, surroundings=30 / 1.8
)

parts = st.floats(min_value=0.0, max_value=0.4)


def delivery(supply=SUPPLY, returns=RETURN, **changes):
    case = {
        "fan_flow": 1000 * CFM, "capacity": 40_000 * BTU / 3600, "density": STANDARD_AIR_DENSITY,
    }  # fmt: skip
    return float(delivery_effectiveness(supply=supply, returns=returns, **{**case, **changes}))


def test_an_attic_system_by_hand():
    """200 and 50 ft² of R-6, 10 and 5 % leaks, 1,000 cfm, 40,000 Btu/h, 30 °F colder around.

    By hand in the trade's units, 1,080 Btu/(h °F): 0.80999. Formula from memory; a check of
    typing, no published value.
    """
    assert delivery() == pytest.approx(0.80999, abs=0.0001)


def test_tight_ducts_without_surface_deliver_everything():
    perfect = {"area": 0.0, "leak_share": 0.0}
    assert delivery(replace(SUPPLY, **perfect), replace(RETURN, **perfect)) == 1


def test_leaks_alone_take_their_share():
    """Derived: no surface, and air drawn in as warm as indoors; 0.9 of the air arrives."""
    leaks_only = {"surroundings": 0.0, "area": 0.0}
    found = delivery(replace(SUPPLY, **leaks_only), replace(RETURN, **leaks_only))
    assert found == pytest.approx(0.9)


@given(leak=parts, more=parts)
def test_more_leakage_never_delivers_more(leak, more):
    tight = delivery(replace(SUPPLY, leak_share=leak))
    assert delivery(replace(SUPPLY, leak_share=leak + more)) <= tight + 1e-12
    tight = delivery(returns=replace(RETURN, leak_share=leak))
    assert delivery(returns=replace(RETURN, leak_share=leak + more)) <= tight + 1e-12


def test_regain_by_hand():
    """0.8 with half of the loss coming back is 0.9; all of it back is 1."""
    assert float(with_regain(delivery=0.8, regain=0.5)) == pytest.approx(0.9)
    assert float(with_regain(delivery=0.8, regain=1.0)) == 1
    assert float(with_regain(delivery=0.8, regain=0.0)) == 0.8


def test_better_ducts_by_hand():
    """60 to 80 %: a quarter of the energy."""
    assert float(saving_from_better_ducts(energy=8e10, before=0.6, after=0.8)) == pytest.approx(
        2e10
    )
    assert float(saving_from_better_ducts(energy=8e10, before=0.6, after=0.6)) == 0


def test_leakage_at_operating_pressure_over_fan_flow():
    assert float(leak_share(leakage_flow=0.05, fan_flow=0.5)) == pytest.approx(0.1)


@pytest.mark.parametrize(
    ("work", "message"),
    [
        (lambda: leak_share(leakage_flow=0.6, fan_flow=0.5), "Duct leakage over fan flow"),
        (lambda: delivery(fan_flow=0.0), "Fan flow is 0 m³/s"),
        (lambda: delivery(replace(SUPPLY, leak_share=10.0)), "Leak share of the supply"),
        (lambda: delivery(replace(SUPPLY, resistance=0.0)), "Resistance of the supply"),
        (lambda: delivery(capacity=100.0), "delivery effectiveness would be"),
        (lambda: with_regain(delivery=0.8, regain=50.0), "Thermal regain"),
        (lambda: saving_from_better_ducts(energy=1.0, before=0.0, after=0.8), "before is 0"),
    ],
)
def test_impossible_ducts_are_refused(work, message):
    with pytest.raises(SavingsError, match=message):
        work()
