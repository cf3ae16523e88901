"""Form definitions as plain data: what a phone or a desk needs to ask for one kind of test."""

import types
from collections.abc import Iterable
from typing import Any, Literal, Union, get_args, get_origin

from pydantic.fields import FieldInfo

from agency.rulebook.shipped import RuleLike

from .bridge.si import CONVERSIONS
from .cautions import CAUTIONS, DEFER
from .document_parts import UNIT_OF, Part, TestDocument, Units, asked_of
from .documents import KINDS

FIXED_UNITS = {"seconds": "s", "minutes": "min", "percent": "%", "ppm": "ppm", "share": "of 1"}
HEAD = {"kind", "client_key", "job", "visit", "method", "taken_at", "operator", "app", "units",
        "setup", "cautions", "swaps"}  # fmt: skip
"""Fields of a document that the sender fills in by itself, or that have a part of their own."""
REGISTERED = {"fans[].equations"}
"""Comes from the register of certificates, and is not typed."""
FIRST, LAST = ("gauge", "fans"), ("conditions", "house", "note")


def definition_of(kind: str, rules: Iterable[RuleLike]) -> dict[str, Any]:
    """The form of one kind of test.

    Parameters
    ----------
    kind : str
        A key of `documents.KINDS`.
    rules : iterable of RuleLike
        Rules in force, for the values a field instrument can meet.

    Returns
    -------
    dict
        `kind`, `title`, `purpose`, `methods`, `cautions` (empty where no fan moves air), `defer`,
        `hookups`, `units` (name and factor to SI of each unit, by quantity) and `fields`.
    """
    document = KINDS[kind]
    known = {one.code: one for one in rules}
    fields = [
        described
        for name in _in_order(document)
        if (described := _field(name, name, document.model_fields[name], known)) is not None
    ]
    used = set(_quantities(fields))
    return {
        "kind": kind,
        "title": document.form.title,
        "purpose": document.form.purpose,
        "methods": list(_choices(document.model_fields["method"].annotation)),
        "defer": DEFER,
        "cautions": _cautions(document),
        "hookups": [
            {
                "title": card.title,
                "channels": [
                    {
                        "name": one.name,
                        "input": one.input,
                        "reference": one.reference,
                        "expected": one.expected,
                    }
                    for one in card.channels
                ],
            }
            for card in document.form.hookups
        ],
        "units": {
            quantity: {
                "named_by": UNIT_OF[quantity],
                "choices": [
                    {"unit": name, "factor": unit.factor, "offset": unit.offset}
                    for name, unit in CONVERSIONS[quantity].items()
                ],
            }
            for quantity in CONVERSIONS
            if quantity in used
        },
        "fields": fields,
    }


def _in_order(document: type[TestDocument]) -> list[str]:
    """Instruments first, then what the kind asks for, then air, house and note."""
    asked = [name for name in document.model_fields if name not in HEAD]
    own = [name for name in asked if name not in {*FIRST, *LAST}]
    return [*(name for name in FIRST if name in asked), *own, *LAST]


def _cautions(document: type[TestDocument]) -> list[dict[str, str]]:
    if not document.form.moves_air:
        return []
    return [
        {"code": one.code, "look_for": one.look_for, "act": one.act, "weight": one.weight}
        for one in CAUTIONS
    ]


def _field(
    name: str, path: str, field: FieldInfo, rules: dict[str, RuleLike]
) -> dict[str, Any] | None:
    """One field or group of fields; None for what nobody is asked."""
    annotation, asked = _bare(field.annotation), asked_of(field)
    inner = _part_in(annotation)
    if inner is not None:
        return _group(name, path, field, inner, rules)
    if asked is None:
        return {"name": name, "path": path, "type": "text", "label": _spelled(name),
                "required": field.is_required()} if annotation is str else None  # fmt: skip
    rule = rules.get(asked.plausible)
    return {
        "name": name,
        "path": path,
        "type": _type(annotation),
        "label": asked.label,
        "hint": asked.hint,
        "quantity": asked.quantity,
        "unit": FIXED_UNITS.get(asked.quantity, ""),
        "channel": asked.channel,
        "needed_by": list(asked.needed_by),
        "required": field.is_required(),
        "choices": list(_choices(annotation)),
        "plausible": None
        if rule is None
        else {
            "low": rule.low if rule.low is not None else _bound(rule, ">"),
            "high": rule.high if rule.high is not None else _bound(rule, "<"),
            "next_step": rule.next_step,
        },
    }


def _group(
    name: str, path: str, field: FieldInfo, part: type[Part], rules: dict[str, RuleLike]
) -> dict[str, Any]:
    many = get_origin(_bare(field.annotation)) is list
    inside = [
        described
        for inner, one in part.model_fields.items()
        if (described := _field(inner, f"{path}{'[]' if many else ''}.{inner}", one, rules))
    ]
    limits = {type(one).__name__: one for one in field.metadata}
    return {
        "name": name,
        "path": path,
        "type": "list" if many else "group",
        "label": field.title or _spelled(name),
        "required": field.is_required(),
        "fewest": getattr(limits.get("MinLen"), "min_length", 0) if many else None,
        "most": getattr(limits.get("MaxLen"), "max_length", None) if many else None,
        "fields": inside,
    }


def _bare(annotation: Any) -> Any:
    """The annotation without "or null" and without its metadata."""
    if get_origin(annotation) in {Union, types.UnionType}:
        inner = [one for one in get_args(annotation) if one is not type(None)]
        return _bare(inner[0])
    if hasattr(annotation, "__metadata__"):
        return _bare(get_args(annotation)[0])
    return annotation


def _part_in(annotation: Any) -> type[Part] | None:
    inside = get_args(annotation)[0] if get_origin(annotation) is list else annotation
    inside = _bare(inside)
    return inside if isinstance(inside, type) and issubclass(inside, Part) else None


def _type(annotation: Any) -> str:
    if get_origin(annotation) is Literal:
        return "choice"
    if get_origin(annotation) is list:
        # Names of places or samples of one reading, each on its own line.
        return "numbers" if _bare(get_args(annotation)[0]) is float else "texts"
    return {bool: "flag", float: "number", int: "number"}.get(annotation, "text")


def _choices(annotation: Any) -> Iterable[str]:
    bare = _bare(annotation)
    return get_args(bare) if get_origin(bare) is Literal else ()


def _bound(rule: RuleLike, way: str) -> float | None:
    return rule.limit if rule.operator.startswith(way) else None


def _quantities(fields: Iterable[dict[str, Any]]) -> Iterable[str]:
    for one in fields:
        if "fields" in one:
            yield from _quantities(one["fields"])
        elif one.get("quantity"):
            yield one["quantity"]


def _spelled(name: str) -> str:
    phrase = name.replace("_", " ")
    return phrase[:1].upper() + phrase[1:]


UNIT_CHOICES = {
    name: list(_choices(field.annotation)) for name, field in Units.model_fields.items()
}
"""Units a document may name, by field of `Units`."""
