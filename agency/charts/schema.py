"""Schematic of a house as boxes: spaces with their pressures, and the air paths between them."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise, permutations
from typing import NamedTuple
from xml.etree import ElementTree as ET

from .drawing import DAMSON, GRID, INK, MUTED, NARROW, OCHRE, PAPER, WIDE, finish, text_size
from .errors import ChartError
from .pen import (
    LEADING,
    Box,
    folded,
    layer,
    rectangle,
    sheet,
    stroke,
    text_width,
    write,
    write_centred,
)

KINDS = ("inside", "zone", "outside")
STATES = ("determined", "undetermined")
FEWEST, MOST = 2, 7
"""Spaces one drawing can hold. [-]"""
ABREAST = 3
"""Zones side by side. [-]"""
EDGE = 12
"""Width of the outside at the sides and below. [px]"""
SKY = 34
"""Height of the outside above, where it is named. [px]"""
AISLE = 16
"""Between two zones side by side. [px]"""
CLEAR = 6
"""Between a line and its words. [px]"""
THINNEST, THICKEST = 1.5, 8.0
"""Width of a path's line from weight 0 to 1. [px]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Space:
    """A space by its own name; `pressure` is already in words."""

    name: str
    pressure: str
    kind: str


@dataclass(frozen=True, slots=True, kw_only=True)
class AirPath:
    """A leak between two named spaces; `weight` from 0 to 1 sets the thickness of its line."""

    start: str
    end: str
    label: str
    weight: float = 0.5
    state: str = "determined"

    @property
    def ends(self) -> frozenset[str]:
        return frozenset((self.start, self.end))


Row = tuple[Space, ...]
Paths = dict[frozenset[str], AirPath]


class _Page(NamedTuple):
    """The layers drawn on, from back to front, and the measures they share."""

    lines: ET.Element
    spaces: ET.Element
    words: ET.Element
    width: float
    size: int

    @property
    def line(self) -> float:
        return self.size * LEADING


class _Column(NamedTuple):
    """The room of one zone: its box, the lane of its paths, and where the next zone begins."""

    zone: Space
    left: float
    width: float
    lane: float
    end: float


def draw_schema(
    spaces: Sequence[Space], paths: Sequence[AirPath], *, title: str, width: int = WIDE
) -> str:
    """The SVG: the house in the middle, zones above and below it, outside all around.

    A path that cannot be drawn straight, such as a second one between the same two spaces, is
    listed below the drawing. An undetermined path is dashed and has one thickness only, for its
    size is not known. Refused: fewer than two or more than seven spaces, and names, kinds, states
    and weights that make no sense.
    """
    _refuse_what_cannot_be_drawn(spaces, paths)
    (inside,) = (one for one in spaces if one.kind == "inside")
    (outside,) = (one for one in spaces if one.kind == "outside")
    zones = tuple(one for one in spaces if one.kind == "zone")
    above, below = _rows(zones, paths)
    drawn = _drawable(inside, outside, (above, below), paths)
    listed = [path for path in paths if drawn.get(path.ends) is not path]
    root = sheet(width, 0)
    ground, lines, boxes, words = (
        layer(root, name) for name in ("ground", "paths", "spaces", "labels")
    )
    page = _Page(lines, boxes, words, width, text_size(width))
    y = _row(page, above, drawn, SKY, over=outside, under=inside)
    y = _house(page, inside, outside, drawn, y)
    y = _row(page, below, drawn, y, over=inside, under=outside)
    _outside(page, ground, outside, y)
    height = _notes(page, listed, paths, y + EDGE)
    root.set("height", f"{height:.0f}")
    root.set("viewBox", f"0 0 {width} {height:.0f}")
    svg = ET.tostring(root, encoding="unicode")
    return finish(svg, title=title, description=_description(spaces, paths))


def _refuse_what_cannot_be_drawn(spaces: Sequence[Space], paths: Sequence[AirPath]) -> None:
    if not FEWEST <= len(spaces) <= MOST:
        raise ChartError(f"There are {len(spaces)} spaces; a schematic holds {FEWEST} to {MOST}.")
    names = [one.name for one in spaces]
    for one in spaces:
        if names.count(one.name) > 1:
            raise ChartError(f"Two spaces are called {one.name}; give each its own name.")
        if one.kind not in KINDS:
            raise ChartError(f"{one.name} is {one.kind}; it must be one of {[*KINDS]}.")
    for kind in ("inside", "outside"):
        count = sum(one.kind == kind for one in spaces)
        if count != 1:
            raise ChartError(f"{count} spaces are {kind}; a schematic needs exactly one.")
    for path in paths:
        _refuse_a_path_to_nowhere(path, names)


def _refuse_a_path_to_nowhere(path: AirPath, names: Sequence[str]) -> None:
    unknown = path.ends - set(names)
    if unknown:
        raise ChartError(f"A path leads to {min(unknown)}, which is none of the spaces.")
    if path.start == path.end:
        raise ChartError(f"A path leads from {path.start} to itself; name two spaces.")
    if not 0 <= path.weight <= 1:
        raise ChartError(f"A path has the weight {path.weight:g}; it must be from 0 to 1.")
    if path.state not in STATES:
        raise ChartError(f"A path is {path.state}; it must be one of {[*STATES]}.")


def _rows(zones: Row, paths: Sequence[AirPath]) -> tuple[Row, Row]:
    """The zones above and below the house, so that zones that share a leak stand side by side.

    Among equally good arrangements the most even one in the order given is taken.
    """
    links = {path.ends for path in paths}
    splits = [
        (order[:cut], order[cut:])
        for order in permutations(zones)
        for cut in range(len(zones) + 1)
        if max(cut, len(zones) - cut) <= ABREAST
    ]

    def quality(rows: tuple[Row, Row]) -> tuple[int, int]:
        side_by_side = sum(ends in links for row in rows for ends in _neighbours(row))
        return side_by_side, -abs(2 * len(rows[0]) - len(zones) - len(zones) % 2)

    return max(splits, key=quality)


def _neighbours(row: Row) -> list[frozenset[str]]:
    return [frozenset((left.name, right.name)) for left, right in pairwise(row)]


def _drawable(
    inside: Space, outside: Space, rows: Iterable[Row], paths: Sequence[AirPath]
) -> Paths:
    """The first path of each pair of spaces that a straight line can join."""
    joined = {frozenset((inside.name, outside.name))}
    for row in rows:
        joined.update(_neighbours(row))
        joined.update(frozenset((zone.name, at.name)) for zone in row for at in (inside, outside))
    return {path.ends: path for path in reversed(paths) if path.ends in joined}


def _columns(page: _Page, row: Row) -> list[_Column]:
    room = (page.width - 2 * EDGE) / max(len(row), 1)
    width = min(room - AISLE, 210)
    columns = []
    for rank, zone in enumerate(row):
        start = EDGE + rank * room
        left = start + (room - width) / 2
        lane = left + max(12, 0.15 * width)
        columns.append(_Column(zone, left, width, lane, start + room))
    return columns


def _row(page: _Page, row: Row, drawn: Paths, y: float, *, over: Space, under: Space) -> float:
    """One row of zones and its paths up and down; gives the height reached."""
    columns = _columns(page, row)
    y = _gap(page, columns, drawn, y, other=over)
    names = [_named(page, one.zone, one.width - 10) for one in columns]
    height = max(map(len, names), default=0) * page.line + 18 if row else 0
    for column, lines in zip(columns, names, strict=True):
        _space(page, Box(column.left, y, column.width, height), lines)
    foot = y + height
    y = _links(page, columns, drawn, foot)
    return _gap(page, columns, drawn, y, other=under, start=foot) if row else y


def _gap(
    page: _Page,
    columns: Sequence[_Column],
    drawn: Paths,
    y: float,
    *,
    other: Space,
    start: float | None = None,
) -> float:
    """The paths between a row and what lies above or below it, each with its words beside it.

    A line may start above the words, where the words of a link come in between.
    """
    found = []
    for column in columns:
        path = drawn.get(frozenset((column.zone.name, other.name)))
        if path:
            left = column.lane + THICKEST / 2 + CLEAR
            found.append(
                (path, column, left, folded(path.label, column.end - left, size=page.size))
            )
    height = max((len(lines) for *_, lines in found), default=0) * page.line + 24
    for path, column, left, lines in found:
        _path(page, path, (column.lane, y if start is None else start), (column.lane, y + height))
        top = y + (height - (len(lines) - 1) * page.line) / 2
        write(page.words, lines, left, top, size=page.size)
    return y + height


def _links(page: _Page, columns: Sequence[_Column], drawn: Paths, y: float) -> float:
    """The paths between neighbours, with their words in a strip below the boxes."""
    deepest = 0
    for left, right in pairwise(columns):
        path = drawn.get(frozenset((left.zone.name, right.zone.name)))
        if path is None:
            continue
        start, end = left.left + left.width, right.left
        _path(page, path, (start, y - 12), (end, y - 12))
        room = right.lane - left.lane - 2 * (THICKEST / 2 + CLEAR)
        lines = folded(path.label, room, size=page.size)
        half = max(text_width(line, size=page.size) for line in lines) / 2
        centre = min((start + end) / 2, right.lane - THICKEST / 2 - CLEAR - half)
        top = y + page.line / 2 + 4
        write(page.words, lines, centre, top, size=page.size, text_anchor="middle")
        deepest = max(deepest, len(lines))
    return y + (deepest * page.line + 4 if deepest else 0)


def _house(page: _Page, inside: Space, outside: Space, drawn: Paths, y: float) -> float:
    """The house across the page, with room at its right for the path straight to the outside."""
    path = drawn.get(frozenset((inside.name, outside.name)))
    beside = 0.0 if path is None else 76 if page.width <= NARROW else 160
    lines = folded(path.label, beside - 8, size=page.size) if path else []
    names = _named(page, inside, page.width - 2 * EDGE - AISLE - beside - 10)
    height = max(len(names) * page.line + 30, 2 * (len(lines) * page.line + 14))
    left = EDGE + AISLE / 2
    right = page.width - EDGE - (beside or AISLE / 2)
    _space(page, Box(left, y, right - left, height), names, stroke=DAMSON, stroke_width="3")
    if path:
        middle = y + height / 2
        _path(page, path, (right, middle), (page.width - EDGE, middle))
        top = middle - THICKEST / 2 - 4 - page.line * (len(lines) - 0.5)
        centre = right + beside / 2
        write(page.words, lines, centre, top, size=page.size, text_anchor="middle")
    return y + height


def _outside(page: _Page, ground: ET.Element, outside: Space, y: float) -> None:
    """The outside as a tinted frame around everything, named along the top."""
    frame = Box(0.5, 0.5, page.width - 1, y + EDGE - 1)
    rectangle(ground, frame, fill=GRID, stroke=MUTED)
    within = Box(EDGE, SKY, page.width - 2 * EDGE, y - SKY)
    rectangle(ground, within, fill=PAPER, stroke=MUTED)
    name_width = text_width(outside.name, size=page.size, weight=700)
    write(page.words, [outside.name], EDGE, SKY / 2, size=page.size, font_weight="700")
    write(page.words, [outside.pressure], EDGE + name_width + 10, SKY / 2, size=page.size)


def _named(page: _Page, space: Space, room: float) -> list[tuple[str, str]]:
    """The lines of a space, each with its weight: the name bold, then the pressure."""
    name = folded(space.name, room, size=page.size, weight=700)
    pressure = folded(space.pressure, room, size=page.size) if space.pressure else []
    return [(line, "700") for line in name] + [(line, "400") for line in pressure]


def _space(page: _Page, box: Box, lines: Sequence[tuple[str, str]], **look: str) -> None:
    rectangle(page.spaces, box, **{"fill": PAPER, "stroke": INK, "stroke_width": "1.5", **look})
    for rank, (line, weight) in enumerate(lines):
        shift = (2 * rank - len(lines) + 1) * page.line
        place = Box(box.left, box.top + shift / 2, box.width, box.height)
        write_centred(page.words, [line], place, size=page.size, font_weight=weight)


def _path(page: _Page, path: AirPath, start: tuple[float, float], end: tuple[float, float]) -> None:
    if path.state == "undetermined":
        stroke(page.lines, [start, end], stroke=OCHRE, stroke_width="2.5", stroke_dasharray="6 4")
    else:
        thickness = THINNEST + path.weight * (THICKEST - THINNEST)
        stroke(page.lines, [start, end], stroke=DAMSON, stroke_width=f"{thickness:.1f}")


def _notes(page: _Page, listed: Sequence[AirPath], paths: Sequence[AirPath], y: float) -> float:
    """Below the drawing: the paths it could not show, and what a dashed line means."""
    y += page.line
    sample = 36.0
    notes: list[tuple[AirPath | None, str]] = [
        (path, f"{path.start} to {path.end}: {path.label}") for path in listed
    ]
    if any(path.state == "undetermined" for path in paths):
        notes.append((None, "Dashed: not determined by these readings."))
    for path, text in notes:
        left = 0.0
        if path:
            _path(page, path, (0, y), (sample - CLEAR, y))
            left = sample
        lines = folded(text, page.width - left, size=page.size)
        write(page.words, lines, left, y, size=page.size, fill=INK if path else MUTED)
        y += len(lines) * page.line + 4
    return y if notes else y - page.line + 1


def _description(spaces: Sequence[Space], paths: Sequence[AirPath]) -> str:
    """Every space and every path in words, for a listener."""
    parts = [f"{one.name}: {one.pressure or 'no pressure given'}." for one in spaces]
    for path in paths:
        known = "" if path.state == "determined" else ", not determined"
        parts.append(f"{path.start} to {path.end}: {path.label}{known}.")
    return " ".join(parts)
