"""The chart of a sweep shows every point and the fitted line, on either side of zero."""

import re

import pytest

from agency.charts.curve import CurveLine, CurvePoint, draw_curve
from agency.charts.drawing import NARROW, WIDE
from agency.charts.errors import ChartError

from .reading import SVG, assert_fit_for_the_page, ids, marks, parsed, texts

PLACE = re.compile(r"translate\(([-\d.]+),([-\d.]+)\)")
POINTS = [
    CurvePoint(x=x, y=0.8 * x + 15, error=6, used=x != 20) for x in (-50, -25, -10, 10, 20, 40)
]
LINE = CurveLine(x=[-52, 0, 52], y=[-26.6, 15, 56.6])


def drawn(points=POINTS, line=LINE, width: int = WIDE) -> str:
    return draw_curve(
        points=points,
        line=line,
        title="Sweep",
        x_title="House pressure, Pa",
        y_title="Flow difference, cfm",
        width=width,
    )


def place(mark) -> tuple[float, float]:
    return tuple(map(float, PLACE.search(mark.get("transform")).groups()))


@pytest.mark.parametrize("width", [WIDE, NARROW])
def test_every_point_is_drawn_once(width):
    svg = drawn(width=width)
    assert_fit_for_the_page(svg, title="Sweep")
    root = parsed(svg)
    assert len(marks(root, "used")) == 5
    assert len(marks(root, "excluded")) == len(marks(root, "crosses")) == 1
    assert len(marks(root, "errors")) == 6
    assert len(marks(root, "caps")) == 12
    assert {"House pressure, Pa", "Flow difference, cfm"} <= set(texts(root))
    key = " ".join(texts(root))
    for words in ("Line: fitted.", "Crossed: left out.", "Upright bars: uncertainty."):
        assert words in key


def test_points_on_a_line_lie_on_the_line_drawn():
    """Both axes are linear, so y = 0.8 x + 15 is straight and the fit runs through the points."""
    root = parsed(drawn())
    (line,) = marks(root, "line")
    ends = re.findall(r"[ML]([-\d.]+),([-\d.]+)", line.get("d"))
    (x0, y0), (x1, y1) = ([float(at) for at in ends[rank]] for rank in (0, -1))
    for x, y in map(place, marks(root, "used")):
        assert y == pytest.approx(y0 + (y1 - y0) * (x - x0) / (x1 - x0), abs=0.05)


def test_distances_on_the_page_follow_the_figures():
    places = [place(mark) for mark in marks(parsed(drawn()), "used")]
    first, second, third, fourth, last = (x for x, _ in places)
    assert (second - first) / 25 == pytest.approx((last - first) / 90, rel=1e-3)
    assert (fourth - third) / 20 == pytest.approx((last - first) / 90, rel=1e-3)


def test_zero_is_ruled_on_both_axes_when_it_is_inside():
    root = parsed(drawn())
    assert len(marks(root, "zero_across")) == len(marks(root, "zero_up")) == 1
    one_sided = [CurvePoint(x=10, y=20), CurvePoint(x=20, y=30)]
    root = parsed(drawn(one_sided, None))
    assert not marks(root, "zero_across")
    assert not marks(root, "zero_up")


def test_bare_points_have_no_key():
    root = parsed(drawn([CurvePoint(x=10, y=20), CurvePoint(x=20, y=30)], None))
    assert not any("fitted" in text or "left out" in text for text in texts(root))
    assert not marks(root, "line")


def test_one_point_can_be_drawn():
    assert len(marks(parsed(drawn([CurvePoint(x=5, y=5)], None)), "used")) == 1


def test_the_description_counts_the_points_and_names_the_axes():
    described = parsed(drawn()).find(f"{SVG}desc").text
    assert described.startswith("6 points, 1 left out. House pressure, Pa across")
    assert "(−52, −26.6)" in described


def test_two_charts_on_a_page_share_no_id():
    found = [ids(parsed(svg)) for svg in (drawn(), drawn(width=NARROW), drawn(line=None))]
    assert len(set.union(*found)) == sum(map(len, found))


@pytest.mark.parametrize(
    ("points", "line", "message"),
    [
        ([], None, "no point"),
        ([CurvePoint(x=float("inf"), y=1)], None, "not finite"),
        ([CurvePoint(x=1, y=1, error=-2)], None, "uncertainty of -2"),
        (POINTS, CurveLine(x=[1, 2], y=[1]), "2 places across but 1 up"),
        (POINTS, CurveLine(x=[1], y=[1]), "at least two places"),
        (POINTS, CurveLine(x=[1, 2], y=[1, float("nan")]), "line has a figure"),
    ],
)
def test_what_cannot_be_drawn_is_refused(points, line, message):
    with pytest.raises(ChartError, match=message):
        drawn(points, line)
