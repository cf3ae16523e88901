"""From a chart's specification to an SVG that prints, scales and is read aloud."""

import hashlib
from typing import Any
from xml.etree import ElementTree as ET

import vl_convert

INK = "#221C2B"
MUTED = "#5B5366"
GRID = "#DCD3C6"
PAPER = "#FFFFFF"
DAMSON = "#4A2259"
OCHRE = "#9F7A29"

FONT = "system-ui, -apple-system, Segoe UI, Roboto, Noto Sans, sans-serif"
WIDE = 680
"""Width of a chart on a desk screen or a page of paper. [px]"""
NARROW = 340
"""Width of a chart on a phone. [px]"""

SVG = "http://www.w3.org/2000/svg"
HATCHED = "url(#hatch)"
"""Fill of what was measured before the work; resolved when the drawing is made."""

Spec = dict[str, Any]


def draw(spec: Spec, *, title: str, description: str) -> str:
    """The SVG of a Vega-Lite specification, with its title and description."""
    full = {
        "$schema": "https://vega.github.io/schema/vega-lite/v5.json",
        **spec,
        "config": _config(),
    }
    svg: str = vl_convert.vegalite_to_svg(full, allowed_base_urls=[])
    return finish(svg, title=title, description=description)


def text_size(width: int) -> int:
    """Size of the letters at a given chart width. [px]"""
    return 12 if width <= NARROW else 13


def _config() -> Spec:
    """The look every chart shares."""
    return {
        "aria": False,
        "background": None,
        "padding": {"left": 10, "right": 8, "top": 6, "bottom": 6},
        "font": FONT,
        "view": {"stroke": None},
        "axis": {
            "domainColor": MUTED,
            "gridColor": GRID,
            "tickColor": MUTED,
            "labelColor": INK,
            "titleColor": MUTED,
            "titleFontWeight": 400,
            "labelFontSize": 13,
            "titleFontSize": 13,
            "titlePadding": 8,
            "labelPadding": 6,
        },
        "text": {"color": INK, "fontSize": 13},
    }


def finish(svg: str, *, title: str, description: str) -> str:
    """Name the drawing, drop what only a live chart needs, resolve the hatch.

    Ids come from the content, so that two drawings on one page never share one.
    """
    content = "\n".join([svg, title, description])
    key = hashlib.sha256(content.encode()).hexdigest()[:10]
    ET.register_namespace("", SVG)
    root = ET.fromstring(svg.replace(HATCHED, f"url(#hatch-{key})"))
    for element in root.iter():
        for name in ("aria-hidden", "aria-roledescription", "pointer-events", "role"):
            element.attrib.pop(name, None)
    root.set("class", "drawing")
    root.set("role", "img")
    root.set("aria-labelledby", f"title-{key} desc-{key}")
    named = ET.Element(f"{{{SVG}}}title", {"id": f"title-{key}"})
    named.text = title
    described = ET.Element(f"{{{SVG}}}desc", {"id": f"desc-{key}"})
    described.text = description
    root.insert(0, named)
    root.insert(1, described)
    if HATCHED in svg:
        root.insert(2, _hatch(key))
    return ET.tostring(root, encoding="unicode")


def _hatch(key: str) -> ET.Element:
    """Slanted ochre lines on paper: readable without colour."""
    definitions = ET.Element(f"{{{SVG}}}defs")
    pattern = ET.SubElement(
        definitions,
        f"{{{SVG}}}pattern",
        {"id": f"hatch-{key}", "width": "6", "height": "6", "patternUnits": "userSpaceOnUse"},
    )
    ET.SubElement(pattern, f"{{{SVG}}}rect", {"width": "6", "height": "6", "fill": PAPER})
    ET.SubElement(
        pattern,
        f"{{{SVG}}}path",
        {"d": "M-1.5,1.5l3,-3M0,6l6,-6M4.5,7.5l3,-3", "stroke": OCHRE, "stroke-width": "2.5"},
    )
    return definitions
