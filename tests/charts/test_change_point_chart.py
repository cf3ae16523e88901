"""Charts of bills and of realized savings: every mark drawn, sides told apart, refusals."""

import pytest

from agency.charts.change_point import (
    UseAt,
    UseSide,
    draw_change_point,
    fahrenheit,
    sides_from_figures,
)
from agency.charts.drawing import NARROW, WIDE
from agency.charts.errors import ChartError
from agency.charts.realization import SavingMark, draw_realization

from .reading import assert_fit_for_the_page, marks, parsed, texts

SIDES = [
    UseSide(
        side=side,
        points=[UseAt(temperature=t, use=load + slope * max(0, 60 - t)) for t in (10, 30, 50, 70)],
        line=[UseAt(temperature=t, use=load + slope * max(0, 60 - t)) for t in (8, 60, 72)],
    )
    for side, load, slope in (("before", 1.0, 0.12), ("after", 0.9, 0.08))
]
HOMES = [
    SavingMark(predicted=20, measured=15, low=11, high=19),
    SavingMark(predicted=10, measured=10, low=6, high=14),
    SavingMark(predicted=5, measured=-1, low=-4, high=2),
]


@pytest.mark.parametrize("width", [WIDE, NARROW])
def test_every_bill_is_a_mark_and_each_side_has_its_name(width):
    svg = draw_change_point(SIDES, title="Use", unit="therms", width=width)
    assert_fit_for_the_page(svg, title="Use")
    root = parsed(svg)
    assert len(marks(root, "bills_before")) == len(marks(root, "bills_after")) == 4
    written = texts(root)
    assert {"Before the work", "After the work", "Use, therms a day"} <= set(written)


def test_sides_differ_in_shape_colour_and_stroke():
    root = parsed(draw_change_point(SIDES, title="Use", unit="therms"))
    looks = [
        {(mark.get("fill"), mark.get("d")[:12]) for mark in marks(root, f"bills_{side}")}
        for side in ("before", "after")
    ]
    assert not looks[0] & looks[1]
    strokes = [marks(root, f"line_{side}")[0].get("stroke-dasharray") for side in
               ("before", "after")]  # fmt: skip
    assert strokes[0] != strokes[1]


def test_stored_figures_are_drawn_in_the_unit_of_the_fuel():
    """0 °C is 32 °F; 2 MJ a day of a 1 MJ unit are 2 a day."""
    at = {"temperature": 0.0, "rate": 2e6}
    figures = {"unit": {"joules": 1e6}, "before": {"points": [at], "line": [at]}, "after": None}
    (side,) = sides_from_figures(figures)
    assert (side.side, side.points[0]) == ("before", UseAt(temperature=32.0, use=2.0))
    assert fahrenheit(-40.0) == pytest.approx(-40.0)


def test_no_bill_is_refused():
    with pytest.raises(ChartError, match="no bill"):
        draw_change_point([UseSide(side="before", points=(), line=())], title="Use", unit="kWh")


def test_unknown_side_is_refused():
    with pytest.raises(ChartError, match="sideways"):
        draw_change_point(
            [UseSide(side="sideways", points=SIDES[0].points, line=())], title="U", unit="kWh"
        )


@pytest.mark.parametrize("width", [WIDE, NARROW])
def test_every_home_is_a_mark_with_its_range_and_the_equal_line_is_named(width):
    svg = draw_realization(HOMES, title="Savings", unit="MMBtu", width=width)
    assert_fit_for_the_page(svg, title="Savings")
    root = parsed(svg)
    assert len(marks(root, "homes")) == len(marks(root, "ranges")) == 3
    assert "as predicted" in texts(root)
    assert "3 homes, 1 on or above the line" in svg


def test_one_home_alone_and_a_home_that_saved_nothing_can_be_drawn():
    draw_realization([SavingMark(predicted=5, measured=0, low=0, high=0)], title="S", unit="MMBtu")


def test_no_home_is_refused():
    with pytest.raises(ChartError, match="no home"):
        draw_realization([], title="Savings", unit="MMBtu")
