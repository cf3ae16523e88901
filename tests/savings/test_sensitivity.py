"""One assumption at a time, on a saving simple enough to vary by hand."""

import pytest

from agency.savings.cost_effectiveness import Verdict
from agency.savings.errors import EconomicsError
from agency.savings.present_value import uniform_present_value
from agency.savings.sensitivity import tornado
from agency.savings.showing import Range

ASSUMED = {
    "rate": Range(low=0.0, central=0.25, high=1.0),
    "leakage": Range(low=0.5, central=1.0, high=1.5),
    "price": Range(low=0.9, central=1.0, high=1.2),
}


def evaluate(assumed):
    """100 units a year at a price, for two years, against a cost of 120."""
    factor = float(uniform_present_value(discount_rate=assumed["rate"], years=2))
    value = 100 * assumed["price"] * assumed["leakage"] * factor
    return Verdict(present_value=value, cost=120.0, required=1.0)


def test_bars_by_hand_with_the_widest_first():
    """By hand: UPV of two years is 2, 1.44 and 0.75 at 0, 25 and 100 %."""
    found = tornado(ASSUMED, evaluate=evaluate)
    assert found.base.npv == pytest.approx(24)
    ends = {bar.name: (bar.at_low.npv, bar.at_high.npv) for bar in found.bars}
    assert ends["leakage"] == pytest.approx((-48, 96))
    assert ends["rate"] == pytest.approx((80, -45))
    assert ends["price"] == pytest.approx((9.6, 52.8))
    assert [bar.name for bar in found.bars] == ["leakage", "rate", "price"]
    assert [bar.swing for bar in found.bars] == pytest.approx([144, 125, 43.2])
    assert found.bars[1].at_low.sir == pytest.approx(200 / 120)


def test_assumptions_that_turn_the_verdict_are_named():
    """By hand, from the bars: only the price leaves the sign of 24 alone."""
    assert tornado(ASSUMED, evaluate=evaluate).turning == ("leakage", "rate")


def test_an_assumption_without_width_moves_nothing():
    fixed = ASSUMED | {"price": Range(low=1.0, central=1.0, high=1.0)}
    assert tornado(fixed, evaluate=evaluate).bars[-1].swing == 0


def test_an_assumption_out_of_order_is_refused():
    wrong = ASSUMED | {"price": Range(low=1.1, central=1.0, high=1.2)}
    with pytest.raises(EconomicsError, match=r"price is 1\.1, 1, 1\.2"):
        tornado(wrong, evaluate=evaluate)
    with pytest.raises(EconomicsError, match="no assumption"):
        tornado({}, evaluate=evaluate)
