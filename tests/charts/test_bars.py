"""The chart of limits shows each reading as a bar from zero, with its limit and its verdict."""

import re

import pytest

from agency.charts.bars import Measure, draw_bars
from agency.charts.drawing import NARROW, WIDE
from agency.charts.errors import ChartError

from .reading import assert_fit_for_the_page, ids, marks, parsed, texts

PLACE = re.compile(r"translate\(([-\d.]+),([-\d.]+)\)")
CORNER = re.compile(r"M([-\d.]+),([-\d.]+)h([-\d.]+)")
ROOMS = [
    Measure(label="Primary bedroom", value=3.8, low=-3, high=3, state="missed"),
    Measure(label="Bedroom 2", value=-1.2, low=-3, high=3, state="met"),
    Measure(label="Nursery", value=-3.4, low=-3, high=3, state="missed"),
    Measure(label="Den", value=None, low=-3, high=3),
    Measure(label="Hall", value=0.5),
]


def drawn(bars, width: int = WIDE) -> str:
    return draw_bars(bars, title="Rooms", measure="Room to hall", unit="Pa", width=width)


def span(mark) -> tuple[float, float]:
    """Left and right end of a bar or a tick."""
    left, _, length = map(float, CORNER.match(mark.get("d")).groups())
    return min(left, left + length), max(left, left + length)


def middle(mark) -> float:
    return sum(span(mark)) / 2


def place(mark) -> tuple[float, float]:
    return tuple(map(float, PLACE.search(mark.get("transform")).groups()))


@pytest.mark.parametrize("width", [WIDE, NARROW])
def test_every_item_is_named_and_says_its_reading_and_verdict(width):
    svg = drawn(ROOMS, width)
    assert_fit_for_the_page(svg, title="Rooms")
    root = parsed(svg)
    assert float(root.get("width")) == width
    assert {"Primary bedroom", "Bedroom 2", "Nursery", "Den", "Hall"} <= set(texts(root))
    assert [mark.text for mark in marks(root, "figures")] == ["3.8 Pa, missed", "0.5"]
    assert [mark.text for mark in marks(root, "figures_below_zero")] == [
        "−1.2, met",
        "−3.4, missed",
    ]
    assert [mark.text for mark in marks(root, "not_measured")] == ["not measured"]


@pytest.mark.parametrize("width", [WIDE, NARROW])
def test_bars_start_at_zero_and_limits_stand_on_the_same_scale(width):
    root = parsed(drawn(ROOMS, width))
    zeros = [middle(mark) for mark in marks(root, "zeros")]
    assert len(zeros) == len(ROOMS)
    zero = zeros[0]
    above, below = (span(mark) for mark in marks(root, "missed"))
    assert above[0] == pytest.approx(zero)
    assert below[1] == pytest.approx(zero)
    per_pascal = (above[1] - zero) / 3.8
    assert (zero - below[0]) / 3.4 == pytest.approx(per_pascal)
    limits = [middle(mark) for mark in marks(root, "limits")]
    assert len(limits) == 8
    assert sorted({round((x - zero) / per_pascal, 3) for x in limits}) == [-3, 3]


@pytest.mark.parametrize("width", [WIDE, NARROW])
def test_items_keep_the_order_given(width):
    bars = [Measure(label=f"Register {n}", value=9.0 - n) for n in range(5)]
    ends = [place(mark) for mark in marks(parsed(drawn(bars, width)), "figures")]
    heights = [y for _, y in ends]
    assert heights == sorted(heights)
    assert [x for x, _ in ends] == sorted((x for x, _ in ends), reverse=True)


def test_a_verdict_is_told_by_pattern_and_by_word():
    root = parsed(drawn(ROOMS))
    fills = {
        state: {mark.get("fill") for mark in marks(root, state)} for state in ("met", "missed")
    }
    assert fills["met"] == {"#4A2259"}
    assert all(fill.startswith("url(#hatch-") for fill in fills["missed"])
    assert {mark.get("stroke") for mark in marks(root, "missed")} == {"#9F7A29"}
    assert len(marks(root, "unjudged")) == 1


def test_a_kind_of_limit_is_spelled_out_where_it_changes():
    bars = [
        Measure(label="Hood", value=112, low=100),
        Measure(label="Bath", value=31, low=50),
        Measure(label="Leak", value=2, high=3),
        Measure(label="Hall", value=0, low=-3, high=3),
    ]
    words = [mark.text for mark in marks(parsed(drawn(bars)), "limit_words")]
    assert words == ["at least 100", "50", "at most 3", "between −3 and 3"]


def test_a_figure_is_never_rounded_onto_the_limit_it_misses():
    bars = [Measure(label="Bath", value=99.6, low=100, state="missed")]
    assert "99.6 Pa, missed" in texts(parsed(drawn(bars)))
    bars = [Measure(label="Register", value=1.04, high=1, state="missed")]
    assert "1.04 Pa, missed" in texts(parsed(drawn(bars)))


def test_what_a_change_of_units_leaves_behind_is_not_written():
    """50 cfm to m³/s and back need not give exactly 50."""
    bars = [Measure(label="Bath", value=50 + 7e-15, low=50 - 7e-15, state="met")]
    assert {"50 Pa, met", "at least 50"} <= set(texts(parsed(drawn(bars))))


@pytest.mark.parametrize("width", [WIDE, NARROW])
def test_a_figure_stands_clear_of_its_limit(width):
    """The limit just beyond a bar would run through the words at the bar's end."""
    bars = [
        Measure(label="Register", value=0.9, high=1, state="met"),
        Measure(label="Bath", value=6, high=1, state="missed"),
    ]
    root = parsed(drawn(bars, width))
    assert place(marks(root, "figures")[0])[0] > max(span(marks(root, "limits")[0]))


def test_zero_is_a_reading():
    root = parsed(drawn([Measure(label="Register", value=0, state="met")]))
    assert "0 Pa, met" in texts(root)
    assert not marks(root, "not_measured")


def test_the_description_says_everything():
    described = parsed(drawn(ROOMS)).find("{http://www.w3.org/2000/svg}desc").text
    assert "Primary bedroom: 3.8 Pa, between −3 and 3, missed." in described
    assert "Den: not measured, between −3 and 3." in described


def test_two_charts_on_a_page_share_no_id():
    other = [Measure(label="Register", value=2, high=1, state="missed")]
    found = [ids(parsed(svg)) for svg in (drawn(ROOMS), drawn(ROOMS, NARROW), drawn(other))]
    assert len(set.union(*found)) == sum(map(len, found))


@pytest.mark.parametrize(
    ("bars", "message"),
    [
        ([], "no item"),
        ([Measure(label="Den", value=None)], "Nothing was measured"),
        ([Measure(label="Den", value=1, state="fine")], "Den is fine"),
        ([Measure(label="Den", value=None, state="met")], "Den is met without a value"),
        ([Measure(label="Den", value=1, low=3, high=-3)], "at least 3 and at most -3"),
        ([Measure(label="Den", value=float("nan"))], "Den has a figure that is not a finite"),
    ],
)
def test_what_cannot_be_drawn_is_refused(bars, message):
    with pytest.raises(ChartError, match=message):
        drawn(bars)
