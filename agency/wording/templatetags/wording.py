"""Template filters: `{% load wording %}` gives pages the words of `agency.wording.words`."""

from collections.abc import Callable, Mapping
from datetime import date, datetime
from typing import Any
from xml.etree import ElementTree as ET

from django import template
from django.core.paginator import Paginator
from django.utils import timezone
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe

from agency.wording import words

register = template.Library()

PLAIN: dict[str, Callable[..., str]] = {
    "number": words.number,
    "quantity": words.quantity,
    "percent": words.percent,
    "flow": words.flow,
    "flow_interval": words.flow_interval,
    "flow_difference": words.flow_difference,
    "pressure": words.pressure,
    "pressure_both": words.pressure_both,
    "leakage_area": words.leakage_area,
    "floor_area": words.floor_area,
    "volume": words.volume,
    "air_changes": words.air_changes,
    "temperature": words.temperature,
    "money": words.money,
    "money_range": words.money_range,
    "coded": words.coded,
    "hazard": words.hazard,
}
for name, function in PLAIN.items():
    register.filter(name, function)


@register.filter
def cfm(value: words.Number | None) -> str:
    """A flow already stored in cfm."""
    return words.quantity(value, "cfm")


@register.filter
def sqft(value: words.Number | None) -> str:
    """An area already stored in square feet."""
    return words.quantity(value, "ft²")


@register.filter
def cuft(value: words.Number | None) -> str:
    """A volume already stored in cubic feet."""
    return words.quantity(value, "ft³")


@register.filter
def feet(value: words.Number | None) -> str:
    """A length already stored in feet."""
    return words.quantity(value, "ft", 1)


@register.filter
def cfm_difference(before: words.Number | None, after: words.Number | None) -> str:
    """The change between two flows already in cfm."""
    return words.difference(before, after, unit="cfm")


@register.filter
def headline(told: Mapping[str, Any] | None) -> str:
    """The figure a result is remembered by."""
    if told is None:
        return words.NOT_MEASURED
    return words.figure(told["quantity"], {"value": told["value"]})


@register.filter
def counted(value: int, nouns: str) -> str:
    """`{{ 3|counted:"test" }}`; an irregular plural follows a comma: "house,houses"."""
    one, _, many = nouns.partition(",")
    return words.count(value, one, many or None)


@register.filter
def state_word(code: str) -> str:
    """The word of a state."""
    return words.state(code).word


@register.filter
def state_class(code: str) -> str:
    """The classes of a state's tab: its colour and its edge pattern."""
    shown = words.state(code)
    return f"tab--{shown.tone} tab--{shown.edge}"


@register.filter
def state_tone(code: str) -> str:
    """The colour name of a state: done, attention, stop, note or plain."""
    return words.state(code).tone


@register.filter
def day(on: date | None) -> str:
    """A date in words; a time is first turned to the office's zone."""
    return words.day(_in_office(on))


@register.filter
def clock(at: datetime | None) -> str:
    """The office's time of day in words."""
    return words.clock(at, timezone.get_current_timezone())


@register.filter
def moment(at: datetime | None) -> str:
    """The office's date and time in words."""
    return words.moment(at, timezone.get_current_timezone())


@register.filter
def iso(at: date | datetime | None) -> str:
    """The machine's form, for `<time datetime>`."""
    return words.iso(at, timezone.get_current_timezone())


@register.filter
def day_tag(on: date | None) -> str:
    """A date as a `<time>` element."""
    return _time_tag(on, day(on))


@register.filter
def clock_tag(at: datetime | None) -> str:
    """A time of day as a `<time>` element."""
    return _time_tag(at, clock(at))


@register.filter
def moment_tag(at: datetime | None) -> str:
    """A date and time as a `<time>` element."""
    return _time_tag(at, moment(at))


@register.filter
def page_numbers(paginator: "Paginator[Any]", current: int) -> list[int | None]:
    """The page numbers to link, with None where some are left out."""
    elided = paginator.get_elided_page_range(current, on_each_side=1, on_ends=1)
    return [shown if isinstance(shown, int) else None for shown in elided]


@register.filter
def drawing(svg: str) -> SafeString:
    """Let one of our own charts through unescaped; anything that could run is refused."""
    root = ET.fromstring(svg)
    if root.tag != "{http://www.w3.org/2000/svg}svg":
        raise ValueError("Only an SVG drawing can be shown here.")
    for element in root.iter():
        kind = element.tag.rsplit("}", 1)[-1]
        if kind in {"script", "foreignObject", "style", "a", "image"}:
            raise ValueError(f"A drawing must not hold the element {kind}.")
        if any(attribute.startswith("on") or attribute == "style" for attribute in element.attrib):
            raise ValueError("A drawing must hold neither style nor event attributes.")
    return mark_safe(svg)


def _in_office(on: date | None) -> date | None:
    if isinstance(on, datetime):
        return timezone.localdate(on)
    return on


def _time_tag(at: date | datetime | None, text: str) -> str:
    if at is None:
        return text
    return format_html('<time datetime="{}">{}</time>', iso(at), text)
