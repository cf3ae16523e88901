"""The schematic draws each space and each path once, and no words lie over others."""

import pytest

from agency.charts.drawing import NARROW, WIDE
from agency.charts.errors import ChartError
from agency.charts.schema import AirPath, Space, draw_schema

from .reading import (
    SVG,
    assert_fit_for_the_page,
    assert_legible,
    assert_no_line_through_text,
    corners,
    ids,
    marks,
    parsed,
    texts,
)

HOUSE = Space(name="House", pressure="−50.0 Pa", kind="inside")
OUTSIDE = Space(name="Outside", pressure="0 Pa", kind="outside")
ZONES = [
    Space(name=name, pressure=pressure, kind="zone")
    for name, pressure in (
        ("Attic", "−4.0 Pa"),
        ("Attached garage", "−4.9 Pa"),
        ("Vented crawl space", "−12.3 Pa"),
        ("Kneewall space", "−21.0 Pa"),
        ("Attached dwelling", "not measured"),
    )
]


def path(start: str, end: str, label: str, **more) -> AirPath:
    return AirPath(start=start, end=end, label=label, **more)


def house_with(count: int) -> tuple[list[Space], list[AirPath]]:
    """A house with so many zones, each leaking to the house and to the outside."""
    zones = ZONES[:count]
    paths = [path("House", "Outside", "1,400 cfm at 50 Pa", weight=1)]
    for zone in zones:
        paths.append(path("House", zone.name, "292 cfm at 50 Pa", weight=0.2))
        paths.append(path(zone.name, "Outside", "2,540 cfm at 50 Pa", state="undetermined"))
    if count > 1:
        paths.append(path("Attic", zones[-1].name, "12 cfm at 50 Pa", weight=0))
    return [HOUSE, *zones, OUTSIDE], paths


def boxes(root) -> dict[str, tuple[float, float, float, float]]:
    """Left, top, right, bottom of the boxes, in the order drawn."""
    found = []
    for mark in marks(root, "spaces"):
        left, top, width, height = (float(mark.get(at)) for at in ("x", "y", "width", "height"))
        found.append((left, top, left + width, top + height))
    return found


@pytest.mark.parametrize("width", [WIDE, NARROW])
@pytest.mark.parametrize("count", range(6))
def test_two_to_seven_spaces_are_legible(count, width):
    spaces, paths = house_with(count)
    svg = draw_schema(spaces, paths, title="House", width=width)
    assert_fit_for_the_page(svg, title="House")
    root = parsed(svg)
    assert_legible(root)
    assert_no_line_through_text(root, "paths")
    said = " ".join(texts(root))
    for space in spaces:
        assert space.name in said
        assert space.pressure in said
    for one in paths:
        assert said.count(one.label) == sum(other.label == one.label for other in paths)
    assert len(marks(root, "spaces")) == len(spaces) - 1
    assert len(marks(root, "paths")) == len(paths)


@pytest.mark.parametrize("width", [WIDE, NARROW])
def test_paths_touch_the_spaces_they_join(width):
    spaces = [HOUSE, ZONES[0], OUTSIDE]
    paths = [path("House", "Attic", "292 cfm"), path("Attic", "Outside", "110 cfm")]
    root = parsed(draw_schema(spaces, paths, title="House", width=width))
    attic, house = boxes(root)
    up, down = (corners(mark) for mark in marks(root, "paths"))
    _, ground = marks(root, "ground")
    assert [y for _, y in up] == [float(ground.get("y")), attic[1]]
    assert [y for _, y in down] == [attic[3], house[1]]
    for (x, _), box in ((up[0], attic), (down[0], attic), (down[0], house)):
        assert box[0] < x < box[2]


@pytest.mark.parametrize("width", [WIDE, NARROW])
def test_boxes_do_not_overlap(width):
    spaces, paths = house_with(5)
    found = boxes(parsed(draw_schema(spaces, paths, title="House", width=width)))
    for rank, one in enumerate(found):
        for other in found[rank + 1 :]:
            assert (
                one[2] <= other[0] or other[2] <= one[0] or one[3] <= other[1] or other[3] <= one[1]
            )


def test_linked_zones_stand_side_by_side():
    spaces = [HOUSE, *ZONES[:4], OUTSIDE]
    root = parsed(draw_schema(spaces, [path("Attic", "Kneewall space", "88 cfm")], title="House"))
    ((start, end),) = (corners(mark) for mark in marks(root, "paths"))
    assert start[1] == end[1]
    found = boxes(root)
    assert any(box[2] == pytest.approx(start[0], abs=0.2) for box in found)
    assert any(box[0] == pytest.approx(end[0], abs=0.2) for box in found)


def test_a_second_path_between_two_spaces_is_listed():
    paths = [path("House", "Outside", "1,400 cfm"), path("Outside", "House", "40 cfm, flue")]
    written = texts(parsed(draw_schema([HOUSE, OUTSIDE], paths, title="House")))
    assert "1,400 cfm" in written
    assert "Outside to House: 40 cfm, flue" in written


def test_weight_is_thickness_and_undetermined_is_dashed_whatever_its_weight():
    paths = [
        path("House", "Attic", "1", weight=0.1),
        path("Attic", "Outside", "2", weight=0.9),
        path("House", "Outside", "3", weight=1, state="undetermined"),
    ]
    root = parsed(draw_schema([HOUSE, ZONES[0], OUTSIDE], paths, title="House"))
    solid = [m for m in marks(root, "paths") if not m.get("stroke-dasharray")]
    (dashed,) = (m for m in marks(root, "paths") if m.get("stroke-dasharray"))
    thick, thin = (float(mark.get("stroke-width")) for mark in solid)
    assert thick > thin
    assert float(dashed.get("stroke-width")) < thick
    assert "Dashed: not determined by these readings." in texts(root)


def test_the_description_names_every_space_and_path():
    spaces, paths = house_with(1)
    described = parsed(draw_schema(spaces, paths, title="House")).find(f"{SVG}desc").text
    assert "House: −50.0 Pa." in described
    assert "House to Attic: 292 cfm at 50 Pa." in described
    assert "Attic to Outside: 2,540 cfm at 50 Pa, not determined." in described


def test_two_drawings_on_a_page_share_no_id():
    spaces, paths = house_with(2)
    found = [
        ids(parsed(draw_schema(spaces, some, title="House", width=width)))
        for some in (paths, paths[:1])
        for width in (WIDE, NARROW)
    ]
    assert len(set.union(*found)) == sum(map(len, found))


@pytest.mark.parametrize(
    ("spaces", "paths", "message"),
    [
        ([], [], "0 spaces"),
        ([HOUSE], [], "1 spaces"),
        ([HOUSE, OUTSIDE, *ZONES, Space(name="Shed", pressure="", kind="zone")], [], "8 spaces"),
        ([HOUSE, HOUSE], [], "Two spaces are called House"),
        ([HOUSE, Space(name="Den", pressure="", kind="room")], [], "Den is room"),
        ([HOUSE, ZONES[0]], [], "0 spaces are outside"),
        ([ZONES[0], OUTSIDE], [], "0 spaces are inside"),
        ([HOUSE, OUTSIDE], [path("House", "Moon", "1 cfm")], "leads to Moon"),
        ([HOUSE, OUTSIDE], [path("House", "House", "1 cfm")], "from House to itself"),
        ([HOUSE, OUTSIDE], [path("House", "Outside", "1", weight=1.5)], "weight 1.5"),
        ([HOUSE, OUTSIDE], [path("House", "Outside", "1", state="guessed")], "path is guessed"),
    ],
)
def test_what_cannot_be_drawn_is_refused(spaces, paths, message):
    with pytest.raises(ChartError, match=message):
        draw_schema(spaces, paths, title="House")
