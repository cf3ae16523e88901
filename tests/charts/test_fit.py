"""The chart of a fan test shows every reading it was given, and refuses what it cannot show."""

import re

import pytest

from agency.charts.drawing import NARROW, WIDE
from agency.charts.errors import ChartError
from agency.charts.fit import (
    BandPoint,
    FitPoint,
    FitSeries,
    draw_fit,
    series_from_figures,
)
from agency.charts.ticks import log_ticks

from .reading import assert_fit_for_the_page, marks, parsed, texts

PLACE = re.compile(r"translate\(([-\d.]+),([-\d.]+)\)")


def one_direction(direction: str = "depressurization", sign: int = -1) -> FitSeries:
    pressures = [10.0, 20.0, 30.0, 40.0, 60.0]
    return FitSeries(
        direction=direction,
        points=[
            FitPoint(pressure=sign * pressure, flow_cfm=100 * pressure**0.65, used=pressure != 40)
            for pressure in pressures
        ],
        band=[
            BandPoint(
                pressure=pressure,
                flow_cfm=100 * pressure**0.65,
                low_cfm=97 * pressure**0.65,
                high_cfm=103 * pressure**0.65,
            )
            for pressure in pressures
        ],
    )


@pytest.mark.parametrize("width", [WIDE, NARROW])
def test_every_reading_is_drawn_once(width):
    series = [one_direction(), one_direction("pressurization", 1)]
    svg = draw_fit(series, title="Fan test", width=width)
    assert_fit_for_the_page(svg, title="Fan test")
    root = parsed(svg)
    for one in series:
        used = sum(point.used for point in one.points)
        assert len(marks(root, f"used_{one.direction}")) == used
        assert len(marks(root, f"excluded_{one.direction}")) == len(one.points) - used
        assert len(marks(root, f"crosses_{one.direction}")) == len(one.points) - used
    assert {"Depressurization", "Pressurization", "Crossed: excluded"} <= set(texts(root))


def test_a_power_law_is_a_straight_line():
    """On logarithmic axes Q = C p^n has one slope between any two readings."""
    root = parsed(draw_fit([one_direction()], title="Fan test"))
    places = [
        tuple(map(float, PLACE.search(mark.get("transform")).groups()))
        for mark in marks(root, "used_depressurization")
    ]
    (x0, y0), (x1, y1) = places[0], places[-1]
    for x, y in places:
        assert y == pytest.approx(y0 + (y1 - y0) * (x - x0) / (x1 - x0), abs=0.05)


def test_the_directions_have_marks_of_different_shape():
    root = parsed(draw_fit([one_direction(), one_direction("pressurization", 1)], title="Fan test"))
    shapes = {
        direction: marks(root, f"used_{direction}")[0].get("d")
        for direction in ("depressurization", "pressurization")
    }
    assert shapes["depressurization"] != shapes["pressurization"]


def test_readings_without_a_line_can_be_drawn():
    bare = FitSeries(direction="pressurization", points=[FitPoint(pressure=50, flow_cfm=900)])
    root = parsed(draw_fit([bare], title="One pressure"))
    assert len(marks(root, "used_pressurization")) == 1
    assert "Crossed: excluded" not in texts(root)


def test_stored_figures_are_turned_to_cfm():
    """1 ft³/min = 4.719 474 E-04 m³/s: NIST SP 811 (2008), appendix B.8, from memory."""
    figures = {
        "series": [
            {
                "direction": "depressurization",
                "points": [
                    {"pressure": -50.0, "flow": 0.4719474, "used": True, "excluded": None},
                ],
                "band": None,
            }
        ]
    }
    (one,) = series_from_figures(figures)
    assert one.points[0].flow_cfm == pytest.approx(1000, abs=0.5e-3)
    assert one.band == []


@pytest.mark.parametrize(
    ("series", "message"),
    [
        ([], "no reading"),
        ([FitSeries(direction="pressurization", points=[])], "no reading"),
        (
            [FitSeries(direction="pressurization", points=[FitPoint(pressure=0, flow_cfm=9)])],
            "0 Pa and 9 cfm",
        ),
        (
            [FitSeries(direction="pressurization", points=[FitPoint(pressure=9, flow_cfm=0)])],
            "9 Pa and 0 cfm",
        ),
        (
            [FitSeries(direction="sideways", points=[FitPoint(pressure=9, flow_cfm=9)])],
            "sideways",
        ),
    ],
)
def test_what_cannot_be_drawn_is_refused(series, message):
    with pytest.raises(ChartError, match=message):
        draw_fit(series, title="Fan test")


@pytest.mark.parametrize(
    ("low", "high"), [(9, 67), (45, 56), (0.9, 1100), (700, 3000), (12, 13.9), (1e-4, 2e-4)]
)
def test_log_ticks_are_inside_ascending_and_enough(low, high):
    found = log_ticks(low, high)
    assert found == sorted(set(found))
    assert all(low <= tick <= high for tick in found)
    assert len(found) >= 2
