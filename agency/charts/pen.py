"""A pen for drawings without axes: boxes, lines, and text that is folded to fit its place."""

from collections.abc import Iterable, Sequence
from typing import NamedTuple
from xml.etree import ElementTree as ET

from .drawing import FONT, INK, SVG

SLIM, MIDDLING, BROAD = 0.38, 0.61, 0.94
"""Room a letter takes, as a share of the type size. [-]  Derived from a wide screen face."""
SLIM_LETTERS = frozenset("fijlrtI .,:;'|!()[]/-")
BROAD_LETTERS = frozenset("mwMW%@—")
BOLD = 700
BOLDER = 1.1
"""How much wider bold letters are. [-]  Derived from the same face."""
LEADING = 1.3
"""Distance of two lines of text, as a share of the type size. [-]  Own choice."""


class Box(NamedTuple):
    """An upright rectangle. [px]"""

    left: float
    top: float
    width: float
    height: float

    @property
    def right(self) -> float:
        return self.left + self.width

    @property
    def bottom(self) -> float:
        return self.top + self.height

    @property
    def middle(self) -> tuple[float, float]:
        return self.left + self.width / 2, self.top + self.height / 2


def sheet(width: float, height: float) -> ET.Element:
    """An empty drawing."""
    size = {"width": px(width), "height": px(height), "viewBox": f"0 0 {px(width)} {px(height)}"}
    return ET.Element(f"{{{SVG}}}svg", size)


def layer(parent: ET.Element, name: str) -> ET.Element:
    """A group for the marks of one kind; later layers lie on top."""
    return ET.SubElement(parent, f"{{{SVG}}}g", {"class": f"{name}_marks"})


def rectangle(parent: ET.Element, box: Box, **look: str) -> None:
    """A box; `look` names SVG attributes, with `_` for `-`."""
    place = {"x": box.left, "y": box.top, "width": box.width, "height": box.height}
    _add(parent, "rect", {name: px(at) for name, at in place.items()}, look)


def stroke(parent: ET.Element, points: Iterable[tuple[float, float]], **look: str) -> None:
    """A line through points, or an outline when `fill` is given."""
    d = "M" + "L".join(f"{px(x)},{px(y)}" for x, y in points)
    _add(parent, "path", {"d": d}, {"fill": "none", **look})


def dot(parent: ET.Element, x: float, y: float, *, radius: float, **look: str) -> None:
    """A round end of a line."""
    _add(parent, "circle", {"cx": px(x), "cy": px(y), "r": px(radius)}, look)


def write(
    parent: ET.Element,
    lines: Sequence[str],
    x: float,
    y: float,
    *,
    size: float,
    **look: str,
) -> None:
    """Lines of text, the first with its middle at `y`."""
    for rank, line in enumerate(lines):
        # Not every renderer centres text on a height, so the base line is set from the size.
        base = y + size * (0.35 + LEADING * rank)
        place = {"x": px(x), "y": px(base), "font-family": FONT, "font-size": px(size)}
        _add(parent, "text", place, {"fill": INK, **look}).text = line


def write_centred(
    parent: ET.Element, lines: Sequence[str], box: Box, *, size: float, **look: str
) -> None:
    """Lines of text in the middle of a box."""
    x, y = box.middle
    top = y - size * LEADING * (len(lines) - 1) / 2
    write(parent, lines, x, top, size=size, text_anchor="middle", **look)


def text_width(text: str, *, size: float, weight: int = 400) -> float:
    """Room a line of text needs, rather too much than too little. [px]"""
    em = sum(
        SLIM if letter in SLIM_LETTERS else BROAD if letter in BROAD_LETTERS else MIDDLING
        for letter in text
    )
    return em * size * (BOLDER if weight >= BOLD else 1)


def folded(text: str, room: float, *, size: float, weight: int = 400) -> list[str]:
    """The text in as few lines as `room` allows, evenly filled.

    A word that is too long by itself is cut with a hyphen.
    """
    lines = _folded(text, room, size=size, weight=weight)
    widest = max(text_width(word, size=size, weight=weight) for word in text.split(" "))
    for percent in range(95, 45, -5):
        narrower = room * percent / 100
        tried = _folded(text, narrower, size=size, weight=weight)
        if narrower < widest or len(tried) > len(lines):
            break
        lines = tried
    return lines


def _folded(text: str, room: float, *, size: float, weight: int) -> list[str]:
    """The text in lines no wider than `room`, each as full as it goes."""

    def fits(line: str) -> bool:
        return text_width(line, size=size, weight=weight) <= room

    lines: list[str] = []
    for word in text.split(" "):
        rest = word
        if lines and fits(f"{lines[-1]} {rest}"):
            lines[-1] += f" {rest}"
            continue
        while not fits(rest) and len(rest) > 2:
            cut = next((at for at in range(len(rest) - 1, 1, -1) if fits(rest[:at] + "-")), 2)
            lines.append(rest[:cut] + "-")
            rest = rest[cut:]
        lines.append(rest)
    return lines


def px(length: float) -> str:
    """A length as SVG writes it, to a tenth of a pixel."""
    return f"{length:z.1f}".removesuffix(".0")


def _add(parent: ET.Element, tag: str, place: dict[str, str], look: dict[str, str]) -> ET.Element:
    attributes = {name.replace("_", "-"): value for name, value in look.items()}
    return ET.SubElement(parent, f"{{{SVG}}}{tag}", place | attributes)
