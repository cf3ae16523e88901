"""The hook-up card leads every side of a channel to its place and says what sign to expect."""

import pytest

from agency.charts.drawing import NARROW, WIDE
from agency.charts.errors import ChartError
from agency.charts.hookup import ChannelHookup, HookupCard, draw_hookup

from .reading import (
    SVG,
    assert_fit_for_the_page,
    assert_legible,
    assert_no_line_through_text,
    corners,
    extents,
    ids,
    marks,
    parsed,
    texts,
)

UNUSED = ChannelHookup(name="B")


def channel(name: str, place: str, reference: str, expected: str = "below zero") -> ChannelHookup:
    return ChannelHookup(name=name, input=place, reference=reference, expected=expected)


CARDS = {
    "envelope": (
        channel("A", "house", "outside"),
        channel("B", "fan flow tap", "air the fan draws in, the house", "as the certificate says"),
    ),
    "zone": (channel("A", "house", "outside"), channel("B", "attic", "outside", "near zero")),
    "pan": (channel("A", "duct", "left open to the room", "above zero"), UNUSED),
    "zones": (
        channel("A", "crawl space", "house"),
        channel("B", "attic", "left open to the room", "near zero"),
    ),
    "same": (channel("A", "attic", "house"), channel("B", "attic", "attached garage")),
}


def drawn(channels, width: int = WIDE) -> str:
    return draw_hookup(HookupCard(title="Hook-up", channels=channels), width=width)


@pytest.mark.parametrize("width", [WIDE, NARROW])
@pytest.mark.parametrize("name", CARDS)
def test_cards_are_legible(name, width):
    svg = drawn(CARDS[name], width)
    assert_fit_for_the_page(svg, title="Hook-up")
    root = parsed(svg)
    assert float(root.get("width")) == width
    assert_legible(root)
    assert_no_line_through_text(root, "hoses")


@pytest.mark.parametrize("width", [WIDE, NARROW])
@pytest.mark.parametrize("name", CARDS)
def test_each_hose_ends_beside_its_own_name(name, width):
    root = parsed(drawn(CARDS[name], width))
    hoses = [corners(mark) for mark in marks(root, "hoses") if mark.tag == f"{SVG}path"]
    sides = [
        f"{one.name} {side}" for one in CARDS[name] if one.used for side in ("input", "reference")
    ]
    assert len(hoses) == len(sides)
    for hose, side in zip(hoses, sides, strict=True):
        x, y = hose[-1]
        (beside,) = (one for one in extents(root) if one.text == side)
        assert beside.top < y < beside.bottom
        assert min(abs(beside.left - x), abs(beside.right - x)) < 20


@pytest.mark.parametrize("width", [WIDE, NARROW])
def test_both_rows_say_their_places_and_the_sign(width):
    root = parsed(drawn(CARDS["zone"], width))
    written = texts(root)
    assert {"A", "B", "Input side", "Reference side"} <= set(written)
    assert "Expect: below zero" in written
    assert "Expect: near zero" in written
    # Outside stands in both rows and once in the section, the attic in one row and the section.
    assert (written.count("outside"), written.count("attic")) == (3, 2)


def test_input_and_reference_differ_without_colour():
    root = parsed(drawn(CARDS["zone"]))
    hoses = [mark for mark in marks(root, "hoses") if mark.tag == f"{SVG}path"]
    dashes = [mark.get("stroke-dasharray") is None for mark in hoses]
    assert dashes == [True, False, True, False]


def test_a_channel_without_sides_is_not_used():
    root = parsed(drawn(CARDS["pan"]))
    assert "not used" in texts(root)
    assert sum(mark.tag == f"{SVG}path" for mark in marks(root, "hoses")) == 2


def test_a_side_left_open_ends_hollow():
    root = parsed(drawn(CARDS["pan"]))
    fills = [mark.get("fill") for mark in marks(root, "hoses") if mark.tag == f"{SVG}circle"]
    assert fills.count("#FFFFFF") == 1


def test_places_stand_where_they_are_in_a_house():
    """Outside above the roof, the attic under it, the house below, the crawl space lowest."""
    root = parsed(drawn((channel("A", "crawl space", "outside"), channel("B", "attic", "house"))))
    heights = {}
    for one in extents(root):
        if one.left > WIDE / 2:
            heights[one.text] = one.top
    order = sorted(("crawl space", "house", "attic", "outside"), key=heights.get)
    assert order == ["outside", "attic", "house", "crawl space"]


def test_the_description_says_both_channels():
    described = parsed(drawn(CARDS["pan"])).find(f"{SVG}desc").text
    assert described == (
        "Channel A: input side to duct, reference side to left open to the room; "
        "expect above zero. Channel B: not used."
    )


def test_two_cards_on_a_page_share_no_id():
    found = [
        ids(parsed(drawn(CARDS[name], width)))
        for name in ("zone", "pan")
        for width in (WIDE, NARROW)
    ]
    assert len(set.union(*found)) == sum(map(len, found))


@pytest.mark.parametrize(
    ("channels", "message"),
    [
        ((), "0 channels"),
        ((UNUSED, UNUSED, UNUSED), "3 channels"),
        ((UNUSED, channel("B", "house", "outside")), "Both channels are called B"),
        ((UNUSED,), "No channel is used"),
        ((ChannelHookup(name="A", input="house", expected="near zero"),), "A has no reference"),
        ((ChannelHookup(name="A", input="house", reference="outside"),), "A has no expected"),
    ],
)
def test_what_cannot_be_drawn_is_refused(channels, message):
    with pytest.raises(ChartError, match=message):
        drawn(channels)
