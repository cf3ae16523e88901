"""A form definition as fields to type into, and what was typed as a document."""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from agency.diagnostics.form_definitions import REGISTERED, UNIT_CHOICES
from agency.wording import words

from .readings import UNITS

SPARE_ROWS = 1
"""Empty rows a list starts with at least."""
YES_NO = (("yes", "Yes"), ("no", "No"))
PLAIN_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)")


@dataclass(slots=True, kw_only=True)
class TypedField:
    """One field, group or list as it is shown; a list holds one group a row."""

    name: str
    """The path in what is typed, rows counted from 0."""
    label: str
    type: str
    hint: str = ""
    unit: str = ""
    quantity: str = ""
    value: str = ""
    choices: Sequence[tuple[str, str]] = ()
    need: str = ""
    errors: list[str] = field(default_factory=list)
    inside: "list[TypedField]" = field(default_factory=list)
    may_grow: bool = False

    @property
    def anchor(self) -> str:
        """An id for the page."""
        return re.sub(r"[^a-z0-9_]+", "-", self.name.lower()).strip("-")

    @property
    def is_pressure(self) -> bool:
        """Shown in both units of pressure."""
        return self.quantity == "pressure"


Typed = Mapping[str, str]


def fields_of(definition: Mapping[str, Any], typed: Typed) -> list[TypedField]:
    """Every field of the form, with what was typed so far."""
    named = {quantity: one["named_by"] for quantity, one in definition["units"].items()}
    return [
        built
        for one in definition["fields"]
        if (built := _build(one, "", typed, named)) is not None
    ]


def document_of(fields: Sequence[TypedField]) -> tuple[dict[str, Any], dict[str, str]]:
    """What was typed as a document, and where each of its paths was typed.

    A field left empty is left out, which the document reads as not measured; so is a row or a
    group with nothing in it.
    """
    places: dict[str, str] = {}
    return _values(fields, "", places), places


def with_errors(
    fields: Sequence[TypedField], errors: Mapping[str, Sequence[str]], places: Mapping[str, str]
) -> list[tuple[str, str]]:
    """Put each message at its field, or at the closest part around it; (anchor, message) pairs."""
    by_name = {one.name: one for one in walk(fields)}
    told = []
    for path, messages in errors.items():
        place = places.get(path, path)
        while place and place not in by_name:
            place = re.sub(r"(\.[^.\[]+|\[\d+\]|^[^.\[]+)$", "", place)
        for message in messages:
            if place:
                by_name[place].errors.append(message)
            told.append((by_name[place].anchor if place else "typed", message))
    return told


def walk(fields: Sequence[TypedField]) -> Iterator[TypedField]:
    """Every field, group and row."""
    for one in fields:
        yield one
        yield from walk(one.inside)


def _build(
    one: Mapping[str, Any], within: str, typed: Typed, named: Mapping[str, str]
) -> TypedField | None:
    name = f"{within}.{one['name']}".removeprefix(".")
    if one["path"] in REGISTERED:
        return None
    if one["type"] == "list":
        return _list(one, name, typed, named)
    if one["type"] == "group":
        inside = [built for sub in one["fields"] if (built := _build(sub, name, typed, named))]
        return TypedField(
            name=name,
            label=one["label"],
            type="group",
            need="" if one["required"] else "optional",
            inside=inside,
        )
    unit_name = named.get(one.get("quantity") or "", "")
    unit = typed.get(f"units.{unit_name}") or _first_unit(unit_name)
    power = {"floor_area": "²", "volume": "³"}.get(one.get("quantity") or "", "")
    choices = YES_NO if one["type"] == "flag" else [
        (code, words.coded(code)) for code in one.get("choices", ())
    ]  # fmt: skip
    return TypedField(
        name=name,
        label=one["label"],
        type="choice" if choices else one["type"],
        hint=one.get("hint") or "",
        unit=f"{UNITS.get(unit, unit)}{power}" if unit else one.get("unit") or "",
        quantity=one.get("quantity") or "",
        value=typed.get(name, ""),
        choices=choices,
        need="" if one["required"] else _need(one),
    )


def _need(one: Mapping[str, Any]) -> str:
    if one.get("needed_by"):
        return "needed for " + ", ".join(words.coded(way).lower() for way in one["needed_by"])
    return "optional"


def _first_unit(unit_name: str) -> str:
    return UNIT_CHOICES[unit_name][0] if unit_name else ""


def _list(one: Mapping[str, Any], name: str, typed: Typed, named: Mapping[str, str]) -> TypedField:
    row_of = re.compile(rf"{re.escape(name)}\[(\d+)\]")
    there = [int(found[1]) for key in typed if (found := row_of.match(key))]
    rows = max(max(there, default=-1) + 1, one["fewest"] or 0, SPARE_ROWS)
    if typed.get("add") == name:
        rows += 1
    rows = min(rows, one["most"] or rows)
    inside = []
    for number in range(rows):
        row = f"{name}[{number}]"
        group = [built for sub in one["fields"] if (built := _build(sub, row, typed, named))]
        inside.append(
            TypedField(name=row, label=f"{one['label']} {number + 1}", type="group", inside=group)
        )
    may_grow = rows < (one["most"] or rows + 1)
    return TypedField(name=name, label=one["label"], type="list", inside=inside, may_grow=may_grow)


def _values(fields: Sequence[TypedField], path: str, places: dict[str, str]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for one in fields:
        key = one.name.rsplit(".", 1)[-1]
        here = f"{path}.{key}".removeprefix(".")
        places[here] = one.name
        value = _value(one, here, places)
        # A part that must be there is sent empty, so that the document says what it lacks.
        if value not in (None, {}, []) or (value == {} and not one.need):
            found[key] = value
    return found


def _value(one: TypedField, here: str, places: dict[str, str]) -> Any:
    if one.type == "group":
        return _values(one.inside, here, places)
    if one.type == "list":
        rows: list[Any] = []
        for row in one.inside:
            at = f"{here}[{len(rows)}]"
            value = _values(row.inside, at, places)
            if any(inner.value.strip() for inner in walk(row.inside)):
                places[at] = row.name
                rows.append(value)
        return rows
    text = one.value.strip()
    if not text:
        return None
    return _read(one, text)


def _read(one: TypedField, text: str) -> Any:
    """A plain number as a number; anything else stays text, for the document to refuse in words."""
    if one.choices == YES_NO:
        return {"yes": True, "no": False}.get(text, text)
    if one.type == "number":
        return _number(text)
    if one.type in {"numbers", "texts"}:
        pieces = [piece for piece in re.split(r"[\s;]+", text) if piece]
        return [_number(piece) for piece in pieces] if one.type == "numbers" else pieces
    return text


def _number(text: str) -> Any:
    plain = text.strip().replace("−", "-")
    return float(plain) if PLAIN_NUMBER.fullmatch(plain) else text
