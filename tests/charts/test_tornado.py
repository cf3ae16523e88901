"""The sensitivity chart: what is drawn, said and refused."""

import pytest

from agency.charts.errors import ChartError
from agency.charts.tornado import Swing, draw_tornado

PRICE = Swing(
    name="Energy prices",
    at_low=-1200.0,
    at_high=5200.0,
    low_words="25 % lower",
    high_words="25 % higher",
)
RATE = Swing(name="Discount rate", at_low=4100.0, at_high=300.0, low_words="1 %", high_words="7 %")


def drawn(swings, base=2000.0, **kwargs):
    return draw_tornado(swings, base=base, title="What moves it", measure="Value", **kwargs)


@pytest.mark.parametrize("width", [680, 340])
def test_every_assumption_is_named_with_both_ends(width):
    svg = drawn([PRICE, RATE], width=width)
    for words in ("Energy prices", "25 % lower", "25 % higher", "1 %", "7 %", "What moves it"):
        assert words in svg
    assert "url(#hatch-" in svg


def test_a_listener_hears_every_result():
    svg = drawn([PRICE, RATE])
    assert "As assumed: $2,000." in svg
    assert "Energy prices: −$1,200 at 25 % lower, $5,200 at 25 % higher." in svg
    assert "Discount rate: $4,100 at 1 %, $300 at 7 %." in svg


def test_no_swing_at_all_is_still_a_chart():
    still = Swing(name="Nothing", at_low=5.0, at_high=5.0, low_words="low", high_words="high")
    assert "Nothing: $5 at low, $5 at high." in drawn([still], base=5.0)


@pytest.mark.parametrize(
    ("swings", "base"),
    [
        ([], 1.0),
        ([PRICE], float("nan")),
        ([Swing(name="x", at_low=float("inf"), at_high=1, low_words="", high_words="")], 1.0),
    ],
)
def test_what_cannot_be_drawn_is_refused(swings, base):
    with pytest.raises(ChartError):
        drawn(swings, base=base)
