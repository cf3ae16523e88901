"""The chart of paired homes has two bars a home, each as long as its figure, from zero."""

import re

import pytest

from agency.charts.drawing import NARROW, WIDE
from agency.charts.errors import ChartError
from agency.charts.pairs import PairedHome, draw_pairs

from .reading import assert_fit_for_the_page, marks, parsed, texts

HOMES = [
    PairedHome(label="QM-1042", before=2310, after=1898),
    PairedHome(label="QM-1043", before=3105, after=1743),
    PairedHome(label='O\'K \\ "<&>"', before=1412, after=1437),
    PairedHome(label="QM-1046", before=1880, after=0),
]
BAR = re.compile(r"M([-\d.]+),[-\d.]+h([-\d.]+)")


def drawn(width: int = WIDE) -> str:
    return draw_pairs(HOMES, title="Homes", measure="Air flow at 50 Pa", unit="cfm", width=width)


@pytest.mark.parametrize("width", [WIDE, NARROW])
def test_two_bars_a_home_and_every_figure_written(width):
    svg = drawn(width)
    assert_fit_for_the_page(svg, title="Homes")
    root = parsed(svg)
    assert len(marks(root, "before")) == len(marks(root, "after")) == len(HOMES)
    written = texts(root)
    assert "2,310 cfm before" in written
    assert "1,898 cfm after" in written
    assert {"3,105", "1,743", "1,412", "1,437", "1,880", "0"} <= set(written)
    assert {home.label for home in HOMES} <= set(written)


def test_bars_start_at_zero_and_keep_proportion():
    root = parsed(drawn())
    scale = []
    for side in ("before", "after"):
        for home, bar in zip(HOMES, marks(root, side), strict=True):
            left, length = map(float, BAR.match(bar.get("d")).groups())
            assert left == 0
            if getattr(home, side):
                scale.append(length / getattr(home, side))
    assert max(scale) == pytest.approx(min(scale), rel=1e-3)


def test_before_is_hatched_and_after_is_solid():
    root = parsed(drawn())
    assert all(bar.get("fill").startswith("url(#hatch-") for bar in marks(root, "before"))
    assert {bar.get("fill") for bar in marks(root, "after")} == {"#4A2259"}


def test_two_charts_on_a_page_share_no_id():
    ids = [
        {element.get("id") for element in parsed(drawn(width)).iter() if element.get("id")}
        for width in (WIDE, NARROW)
    ]
    assert not ids[0] & ids[1]


@pytest.mark.parametrize(
    ("homes", "message"),
    [
        ([], "no paired home"),
        ([PairedHome(label="QM-1", before=-1, after=2)], "QM-1 has a figure below 0 cfm"),
        ([PairedHome(label="QM-1", before=0, after=0)], "no bar"),
    ],
)
def test_what_cannot_be_drawn_is_refused(homes, message):
    with pytest.raises(ChartError, match=message):
        draw_pairs(homes, title="Homes", measure="Air flow", unit="cfm")
