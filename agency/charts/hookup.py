"""A hook-up card: what each side of each channel of a two-channel gauge is led to."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import combinations, permutations
from typing import NamedTuple
from xml.etree import ElementTree as ET

from .drawing import DAMSON, GRID, INK, MUTED, NARROW, PAPER, WIDE, finish, text_size
from .errors import ChartError
from .pen import LEADING, Box, dot, folded, layer, rectangle, sheet, stroke, write

CHANNELS = 2
"""Channels of the gauge. [-]"""
OPEN = "left open"
"""How a place begins when the side has no hose end anywhere but in the room."""
REGIONS = {
    "outdoors": ("outside", "outdoors"),
    "roof": ("attic",),
    "beneath": ("crawl", "basement", "garage", "zone", "dwelling"),
    "indoors": ("",),
}
"""Where a place is drawn, by a word in its name; the first that fits."""
TOP_TO_BOTTOM = ("outdoors", "roof", "indoors", "beneath")
LOOKS = {
    "input": {"stroke": DAMSON, "stroke_width": "3"},
    "reference": {"stroke": INK, "stroke_width": "1.5", "stroke_dasharray": "5 3"},
}
"""Thick and solid, thin and dashed: told apart without colour."""
NAME = 34
"""Width of the column of channel names. [px]"""
PAD = 10
"""Between a rule and what stands inside it. [px]"""
GABLE = 34
"""Height of a roof that holds no attic. [px]"""
APART = 5
"""Hoses nearer than this seem to touch. [px]"""
STEEP = 0.5
"""Share of a roof's height above its words, where it is too narrow for them. [-]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelHookup:
    """One channel: reading = input side less reference side. No sides = not used."""

    name: str
    input: str | None = None
    reference: str | None = None
    expected: str | None = None

    @property
    def used(self) -> bool:
        return self.input is not None


@dataclass(frozen=True, slots=True, kw_only=True)
class HookupCard:
    """The card of one test and direction."""

    title: str
    channels: Sequence[ChannelHookup]


class _Frame(NamedTuple):
    """Where the ledger, the section and the hoses between them stand."""

    width: float
    ledger: float
    section: Box
    lanes: tuple[float, ...]
    toward: int
    size: int

    @property
    def line(self) -> float:
        return self.size * LEADING


class _Hose(NamedTuple):
    """One side of one channel, where it leaves the ledger."""

    channel: str
    side: str
    place: str
    x: float
    y: float


class _Band(NamedTuple):
    """One place in the section: its name in lines and the heights it spans."""

    place: str
    region: str
    lines: list[str]
    top: float
    bottom: float


Ports = dict[tuple[str, str], tuple[float, float]]


def draw_hookup(card: HookupCard, *, width: int = WIDE) -> str:
    """The SVG of the card: a ruled ledger of both channels, and hoses led to a section of a house.

    Refused: no channel or more than two, two of one name, none in use, and a channel that lacks
    one of its sides or the sign to expect.
    """
    _refuse_what_cannot_be_drawn(card)
    size = text_size(width)
    narrow = width <= NARROW
    ledger = width - 48.0 if narrow else 370.0
    root = sheet(width, 0)
    ground, lines, words = (layer(root, name) for name in ("ground", "hoses", "labels"))
    hoses, foot = _ledger(card, ground, words, ledger, size)
    step = 10 if narrow else 13
    lanes = tuple(ledger + step * (rank + 1) for rank in range(len(hoses)))
    section = Box(0.5, foot + 14, ledger - 0.5, 0) if narrow else Box(440, 0.5, width - 440.5, 0)
    frame = _Frame(width, ledger, section, lanes, -1 if narrow else 1, size)
    bands, bottom = _bands(frame, hoses)
    _section(frame, ground, bands, bottom)
    ports = _labels(frame, words, bands, hoses)
    _lead(frame, lines, hoses, ports)
    height = max(foot, bottom) + 1
    root.set("height", f"{height:.0f}")
    root.set("viewBox", f"0 0 {width} {height:.0f}")
    svg = ET.tostring(root, encoding="unicode")
    return finish(svg, title=card.title, description=_description(card))


def _refuse_what_cannot_be_drawn(card: HookupCard) -> None:
    count = len(card.channels)
    if not 1 <= count <= CHANNELS:
        raise ChartError(f"The card has {count} channels; a gauge has 1 to {CHANNELS}.")
    if len({channel.name for channel in card.channels}) < count:
        raise ChartError(f"Both channels are called {card.channels[0].name}; name them apart.")
    if not any(channel.used for channel in card.channels):
        raise ChartError("No channel is used; there is nothing to hook up.")
    for channel in card.channels:
        given = {
            "input": channel.input,
            "reference": channel.reference,
            "expected": channel.expected,
        }
        missing = [name for name, words in given.items() if not words]
        if missing and len(missing) < len(given):
            raise ChartError(
                f"Channel {channel.name} has no {missing[0]}; name it, or give none of "
                f"{', '.join(given)} for a channel that is not used."
            )


def _ledger(
    card: HookupCard, ground: ET.Element, words: ET.Element, width: float, size: int
) -> tuple[list[_Hose], float]:
    """The ruled rows of the card; gives where each hose leaves them, and the ledger's foot."""
    line = size * LEADING
    columns = {"input": NAME + PAD, "reference": NAME + (width - NAME) / 2 + PAD}
    hoses: list[_Hose] = []
    top = line + PAD
    for side, x in columns.items():
        write(words, [f"{side.capitalize()} side"], x, top / 2, size=size, fill=MUTED)
    rules = [top]
    for channel in card.channels:
        first = top + PAD + line / 2
        write(
            words,
            [channel.name],
            NAME / 2,
            first,
            size=size + 4,
            font_weight="700",
            text_anchor="middle",
        )
        if channel.used:
            found, top = _row(channel, words, columns, first, width=width, size=size)
            hoses += found
        else:
            write(words, ["not used"], columns["input"], first, size=size, fill=MUTED)
            top = first + line / 2 + PAD
        rules.append(top)
    rectangle(ground, Box(0.5, 0.5, width - 0.5, top), fill=PAPER, stroke=INK)
    for y in rules[:-1]:
        stroke(ground, [(0.5, y), (width, y)], stroke=MUTED)
    stroke(ground, [(NAME, 0.5), (NAME, top)], stroke=MUTED)
    return hoses, top


def _row(
    channel: ChannelHookup,
    words: ET.Element,
    columns: dict[str, float],
    first: float,
    *,
    width: float,
    size: int,
) -> tuple[list[_Hose], float]:
    """One channel in use: its two places, its two hoses below them, and the sign to expect."""
    line = size * LEADING
    room = (width - NAME) / 2 - 2 * PAD
    places = {"input": channel.input or "", "reference": channel.reference or ""}
    texts = {side: folded(place, room, size=size, weight=700) for side, place in places.items()}
    for side, lines in texts.items():
        write(words, lines, columns[side], first, size=size, font_weight="700")
    y = first + line * (max(map(len, texts.values())) - 0.5) + 8
    # The input's hose runs below the reference's, so that it passes clear of its words.
    heights = {"input": y + 12, "reference": y}
    hoses = [
        _Hose(channel.name, side, places[side], columns[side] + 4, heights[side]) for side in places
    ]
    expected = folded(f"Expect: {channel.expected}", width - NAME - 2 * PAD, size=size)
    y = heights["input"] + 8 + line / 2
    write(words, expected, columns["input"], y, size=size)
    return hoses, y + line * (len(expected) - 0.5) + PAD


def _region(place: str) -> str:
    return next(
        region for region, marks in REGIONS.items() if any(mark in place.lower() for mark in marks)
    )


def _bands(frame: _Frame, hoses: Sequence[_Hose]) -> tuple[list[_Band], float]:
    """The places from top to bottom, house and outside always among them; and the foot of all."""
    places = list(dict.fromkeys(hose.place for hose in hoses))
    if "house" not in places:
        places.insert(0, "house")
    if not any(_region(place) == "outdoors" for place in places):
        places.insert(0, "outside")
    places.sort(key=lambda place: (TOP_TO_BOTTOM.index(_region(place)), place != "house"))
    roofed = any(_region(place) == "roof" for place in places)
    bands: list[_Band] = []
    y = frame.section.top
    for place in places:
        region = _region(place)
        lines = folded(place, frame.section.width - 90, size=frame.size, weight=700)
        ends = sum(hose.place == place for hose in hoses)
        height = (len(lines) + ends) * frame.line + PAD
        if region == "roof" and bands[-1].region != "roof":
            y += height * STEEP / (1 - STEEP)
        if place == "house" and not roofed:
            y += GABLE
        bands.append(_Band(place, region, lines, y, y + height))
        y += height + (0 if region in ("outdoors", "roof") else 6)
    return bands, y + 8


def _section(frame: _Frame, ground: ET.Element, bands: Sequence[_Band], bottom: float) -> None:
    """The house cut open: roof, body, boxes, and the outside as a tint around it."""
    section = frame.section
    left, right = section.left + 26, section.right - 26
    rectangle(
        ground,
        Box(section.left, section.top, section.width, bottom - section.top),
        fill=GRID,
        stroke=MUTED,
    )
    body = [band for band in bands if band.region == "indoors"]
    eaves, floor = body[0].top, body[-1].bottom + 4
    apex = max(band.bottom for band in bands if band.region == "outdoors") + 2
    roof = [(left - 10, eaves), ((left + right) / 2, apex), (right + 10, eaves), (left - 10, eaves)]
    look = {"fill": PAPER, "stroke": INK, "stroke_width": "2", "stroke_linejoin": "round"}
    stroke(ground, roof, **look)
    rectangle(ground, Box(left, eaves, right - left, floor - eaves), **look)
    for band in bands:
        boxed = band.region == "beneath" or (band.region == "indoors" and band is not body[0])
        if boxed and not band.place.startswith(OPEN):
            inset = 0 if band.region == "beneath" else 8
            box = Box(left + inset, band.top, right - left - 2 * inset, band.bottom - band.top)
            rectangle(ground, box, fill=PAPER, stroke=INK)


def _labels(
    frame: _Frame, words: ET.Element, bands: Sequence[_Band], hoses: Sequence[_Hose]
) -> Ports:
    """Each place's name and, below it, the hoses that end there; gives where they end."""
    section, toward = frame.section, frame.toward
    near = section.left if toward > 0 else section.right
    insets = {"outdoors": 14.0, "roof": 26 + (section.width - 52) * 0.32}
    anchor = "start" if toward > 0 else "end"
    ports: Ports = {}
    for band in bands:
        x = near + toward * insets.get(band.region, 46.0)
        y = band.top + PAD / 2 + frame.line / 2
        write(
            words,
            band.lines,
            x - toward * 5,
            y,
            size=frame.size,
            font_weight="700",
            text_anchor=anchor,
        )
        y += len(band.lines) * frame.line
        for hose in hoses:
            if hose.place == band.place:
                ports[hose.channel, hose.side] = (x, y)
                text = f"{hose.channel} {hose.side}"
                write(words, [text], x + toward * 10, y, size=frame.size, text_anchor=anchor)
                y += frame.line
    return ports


def _lead(frame: _Frame, lines: ET.Element, hoses: Sequence[_Hose], ports: Ports) -> None:
    """Every hose from its cell along its own lane to its place."""
    lanes = _untangled(frame, hoses, ports)
    for hose, lane in zip(hoses, lanes, strict=True):
        x, y = ports[hose.channel, hose.side]
        look = LOOKS[hose.side]
        points = [(hose.x, hose.y), (lane, hose.y), (lane, y), (x, y)]
        stroke(lines, points, stroke_linejoin="round", **look)
        colour = look["stroke"]
        dot(lines, hose.x, hose.y, radius=4, fill=colour)
        hollow = hose.place.startswith(OPEN)
        end = {"fill": PAPER if hollow else colour, "stroke": colour, "stroke_width": "1.5"}
        dot(lines, x, y, radius=4, **end)


def _untangled(frame: _Frame, hoses: Sequence[_Hose], ports: Ports) -> Iterable[float]:
    """The lanes in the order in which the fewest hoses cross."""

    def tangles(lanes: Sequence[float]) -> int:
        runs = [
            (lane, hose.y, ports[hose.channel, hose.side][1])
            for lane, hose in zip(lanes, hoses, strict=True)
        ]
        return sum(_crossings(one, other, frame.toward) for one, other in combinations(runs, 2))

    return min(permutations(frame.lanes), key=tangles)


def _crossings(
    one: tuple[float, float, float], other: tuple[float, float, float], toward: int
) -> int:
    """How often two hoses meet; each is its lane and the heights where it starts and ends."""
    near, far = sorted((one, other))
    # Leaving the ledger, the farther hose passes the nearer lane. Then the nearer one passes the
    # farther lane, or, where the house stands on the ledger's side, the farther one comes back.
    passing = [(near, far[1]), (far, near[2]) if toward > 0 else (near, far[2])]
    return sum(min(run[1:]) - APART <= y <= max(run[1:]) + APART for run, y in passing)


def _description(card: HookupCard) -> str:
    """Both channels in words, for a listener."""
    parts = []
    for channel in card.channels:
        if channel.used:
            parts.append(
                f"Channel {channel.name}: input side to {channel.input}, reference side to "
                f"{channel.reference}; expect {channel.expected}."
            )
        else:
            parts.append(f"Channel {channel.name}: not used.")
    return " ".join(parts)
