"""The histogram counts every home once and writes the count on its bar."""

import pytest

from agency.charts.distribution import Bar, draw_distribution
from agency.charts.drawing import NARROW, WIDE
from agency.charts.errors import ChartError

from .reading import assert_fit_for_the_page, marks, parsed, texts

BARS = [
    Bar(name="below 0 %", homes=3, worse=True),
    Bar(name="0 to 20 %", homes=0),
    Bar(name="20 to 40 %", homes=7),
    Bar(name="40 % or more", homes=11),
]


@pytest.mark.parametrize("width", [WIDE, NARROW])
def test_counts_are_written_on_the_bars(width):
    svg = draw_distribution(BARS, title="Reductions", measure="Reduction", width=width)
    assert_fit_for_the_page(svg, title="Reductions")
    root = parsed(svg)
    assert (len(marks(root, "worse")), len(marks(root, "better"))) == (1, 3)
    assert [mark.text for mark in marks(root, "counts")] == ["3", "0", "7", "11"]
    assert "below 0 %" in " ".join(texts(root))


def test_no_home_is_refused():
    for bars in ([], [Bar(name="0 to 20 %", homes=0)]):
        with pytest.raises(ChartError, match="no reduction"):
            draw_distribution(bars, title="Reductions", measure="Reduction")
