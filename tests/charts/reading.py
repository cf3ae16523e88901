"""Helpers that read a drawing back: its text and its marks by layer."""

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
    """Every piece of text in the drawing."""
    return [element.text or "" for element in root.iter(f"{SVG}text")]


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
