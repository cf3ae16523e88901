"""A form definition laid out for pencil: boxes with their units, tables with empty rows."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from agency.diagnostics.form_definitions import REGISTERED
from agency.wording import words

from .readings import UNITS

MOST_COLUMNS = 9
"""Side by side across a page; a wider list is laid out item by item. Own choice, by eye."""
ROWS = {"points": 10, "fans": 2, "registers": 14, "pressures": 12}
"""Empty rows of a list, by its name; the paper has backs for more. Own choice, by eye."""
OTHER_ROWS = 6
ITEMS = 2
"""How often an item too wide for a row is laid out. Own choice."""
MANY = {"texts": "one after another", "numbers": "one after another"}
Field = Mapping[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """One value to be written down. Choices are ticked, anything else is written."""

    label: str
    unit: str = ""
    hint: str = ""
    choices: tuple[str, ...] = ()
    is_wide: bool = False
    """Several values or a text need a whole line."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """Boxes under a heading, or a table of them with empty rows, and what belongs below it."""

    title: str = ""
    boxes: tuple[Box, ...] = ()
    rows: int = 0
    """0: the boxes stand by themselves; else each heads a column."""
    inside: "tuple[Block, ...]" = ()

    @property
    def empty_rows(self) -> range:
        """One number for each row."""
        return range(self.rows)


def block_of(title: str, fields: Sequence[Field], units: Mapping[str, Any]) -> Block:
    """The fields in their order: single ones first, then groups and lists."""
    asked = [one for one in fields if one["path"] not in REGISTERED]
    single = tuple(_box(one, units) for one in asked if "fields" not in one)
    inside = tuple(
        block
        for one in asked
        if "fields" in one
        for block in _blocks(one, units)
        if not _empty(block)
    )
    return Block(title=title, boxes=single, inside=inside)


def _empty(block: Block) -> bool:
    return not block.boxes and not block.inside


def _blocks(field: Field, units: Mapping[str, Any]) -> Iterator[Block]:
    """A group; a list as a table where it fits across, else item by item."""
    if field["type"] == "group":
        yield block_of(field["label"], field["fields"], units)
        return
    columns = tuple(_columns(field["fields"], units))
    if len(columns) <= MOST_COLUMNS:
        most = field["most"] or OTHER_ROWS
        rows = min(most, max(field["fewest"], ROWS.get(field["name"], OTHER_ROWS)))
        yield Block(title=field["label"], boxes=columns, rows=rows)
        return
    for number in range(1, min(field["most"] or ITEMS, max(field["fewest"], ITEMS)) + 1):
        yield block_of(f"{field['label']}, no. {number}", field["fields"], units)


def _columns(fields: Sequence[Field], units: Mapping[str, Any], group: str = "") -> Iterator[Box]:
    """Every value of one item; those of a group carry its name."""
    for one in fields:
        if one["path"] in REGISTERED:
            continue
        if "fields" in one:
            yield from _columns(
                one["fields"], units, one["label"] if one["type"] == "group" else ""
            )
        else:
            yield _box(one, units, group)


def _box(field: Field, units: Mapping[str, Any], group: str = "") -> Box:
    label = f"{group}: {field['label'].lower()}" if group else field["label"]
    choices = field.get("choices") or (("yes", "no") if field["type"] == "flag" else ())
    return Box(
        label=label,
        unit=_unit(field, units),
        hint=field.get("hint") or MANY.get(field["type"], ""),
        choices=tuple(words.coded(one) for one in choices),
        is_wide=field["type"] in MANY or field["name"] == "note",
    )


def _unit(field: Field, units: Mapping[str, Any]) -> str:
    """Every unit the value may be written in."""
    quantity = field.get("quantity") or ""
    if quantity not in units:
        return field.get("unit") or ""
    power = {"floor_area": "²", "volume": "³"}.get(quantity, "")
    names = [one["unit"] for one in units[quantity]["choices"]]
    return " / ".join(f"{UNITS.get(one, one)}{power}" for one in names)
