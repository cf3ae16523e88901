"""The histogram counts every home once and writes the count on its bar."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agency.charts.distribution import NAMES, bins_of, draw_distribution
from agency.charts.drawing import NARROW, WIDE
from agency.charts.errors import ChartError

from .reading import assert_fit_for_the_page, marks, parsed, texts


@given(st.lists(st.floats(min_value=-5, max_value=1), max_size=60))
def test_every_home_is_counted_once(reductions):
    assert sum(one.homes for one in bins_of(reductions)) == len(reductions)


@pytest.mark.parametrize(
    ("reduction", "name"),
    [
        (-0.0001, "below 0"),
        (0.0, "0 to 10"),
        (0.0999, "0 to 10"),
        (0.1, "10 to 20"),
        (0.3, "30 to 40"),
        (0.6, "60 and up"),
        (1.0, "60 and up"),
    ],
)
def test_an_edge_belongs_to_the_bin_above(reduction, name):
    assert [one.name for one in bins_of([reduction]) if one.homes] == [name]


@pytest.mark.parametrize("width", [WIDE, NARROW])
def test_counts_are_written_on_the_bars(width):
    reductions = [-0.1] * 3 + [0.25] * 7 + [0.7] * 11
    svg = draw_distribution(reductions, title="Reductions", measure="Reduction", width=width)
    assert_fit_for_the_page(svg, title="Reductions")
    root = parsed(svg)
    assert len(marks(root, "worse")) + len(marks(root, "better")) == len(NAMES)
    counts = [mark.text for mark in marks(root, "counts")]
    assert counts == ["3", "0", "0", "7", "0", "0", "0", "11"]
    assert "below 0" in " ".join(texts(root))


def test_no_home_is_refused():
    with pytest.raises(ChartError, match="no reduction"):
        draw_distribution([], title="Reductions", measure="Reduction")
