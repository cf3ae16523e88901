"""Helpers that read a drawing back: its text and its marks by layer."""

from itertools import combinations, pairwise
from typing import NamedTuple
from xml.etree import ElementTree as ET

SVG = "{http://www.w3.org/2000/svg}"


def parsed(svg: str) -> ET.Element:
    """The drawing as a tree; it fails when the drawing is not well formed."""
    return ET.fromstring(svg)


def marks(root: ET.Element, layer: str) -> list[ET.Element]:
    """The marks drawn by the layer of that name."""
    groups = [g for g in root.iter(f"{SVG}g") if f"{layer}_marks" in g.get("class", "").split()]
    return [mark for group in groups for mark in group]


def texts(root: ET.Element) -> list[str]:
    """Every line of text in the drawing."""
    return [line for element in root.iter(f"{SVG}text") for line in element.itertext()]


def assert_fit_for_the_page(svg: str, *, title: str) -> None:
    """What every chart owes: a name, a description, no style attribute, nothing from outside."""
    root = parsed(svg)
    assert root.get("role") == "img"
    named, described = root.get("aria-labelledby", "").split()
    assert root.find(f"{SVG}title[@id='{named}']").text == title
    assert root.find(f"{SVG}desc[@id='{described}']").text
    ids = [element.get("id") for element in root.iter() if element.get("id")]
    assert len(ids) == len(set(ids))
    for element in root.iter():
        assert element.tag.removeprefix(SVG) not in {"style", "script", "image", "foreignObject"}
        assert "style" not in element.attrib
        assert not any(name.endswith("href") for name in element.attrib)
        fill = element.get("fill", "")
        assert not fill.startswith("url(") or fill[5:-1] in ids


class Extent(NamedTuple):
    """Where a line of text stands, by estimate. [px]"""

    text: str
    left: float
    right: float
    top: float
    bottom: float


def extents(root: ET.Element) -> list[Extent]:
    """Every line of text of a drawing without axes.

    A letter of a common screen face is 0.55 of the type size wide on average, and reaches from
    0.75 above the base line to 0.22 below it: common practice, no source.
    """
    found = []
    for element in root.iter(f"{SVG}text"):
        x, base, size = (float(element.get(name)) for name in ("x", "y", "font-size"))
        width = 0.55 * size * len(element.text)
        left = (
            x - width * {"start": 0, "middle": 0.5, "end": 1}[element.get("text-anchor", "start")]
        )
        found.append(
            Extent(element.text, left, left + width, base - 0.75 * size, base + 0.22 * size)
        )
    return found


def assert_legible(root: ET.Element) -> None:
    """No line of text leaves the page, or lies over another one."""
    width, height = float(root.get("width")), float(root.get("height"))
    found = extents(root)
    for one in found:
        assert one.left >= 0, one
        assert one.right <= width, one
        assert one.top >= 0, one
        assert one.bottom <= height, one
    for one, other in combinations(found, 2):
        apart = (
            one.right <= other.left
            or other.right <= one.left
            or one.bottom <= other.top
            or other.bottom <= one.top
        )
        assert apart, (one, other)


def assert_no_line_through_text(root: ET.Element, layer: str) -> None:
    """No straight run of a line of that layer passes through a line of text."""
    for mark in marks(root, layer):
        if mark.tag != f"{SVG}path":
            continue
        for (x0, y0), (x1, y1) in pairwise(corners(mark)):
            for one in extents(root):
                across = max(x0, x1) > one.left and min(x0, x1) < one.right
                up = max(y0, y1) > one.top and min(y0, y1) < one.bottom
                assert not (across and up), (one, (x0, y0), (x1, y1))


def corners(mark: ET.Element) -> list[tuple[float, float]]:
    """The points a straight-edged path runs through."""
    pairs = mark.get("d").removeprefix("M").split("L")
    return [tuple(map(float, pair.split(","))) for pair in pairs]


def ids(root: ET.Element) -> set[str]:
    """Every id of the drawing."""
    return {element.get("id") for element in root.iter() if element.get("id")}
