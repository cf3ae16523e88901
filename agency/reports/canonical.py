"""Reports and their evidence as text that comes out the same wherever it is made, and back."""

import hashlib
import json
from functools import cache
from typing import Any, TypeVar

from pydantic import TypeAdapter
from pydantic_core import to_jsonable_python

DIGITS = 12
"""Significant digits of a figure in the canonical text. Own choice: processors that add up in
another order differ from about the 15th on, and no reading is good to the 6th."""

Kind = TypeVar("Kind")


def exact_text(data: object) -> str:
    """Plain data as JSON with sorted names and every digit, to be read back with `revived`."""
    return _text(to_jsonable_python(data))


def canonical_text(data: object) -> str:
    """The same with figures cut to `DIGITS` significant digits."""
    return _text(_cut(to_jsonable_python(data)))


def sha256(text: str) -> str:
    """SHA-256 of a text in UTF-8, as 64 hexadecimal digits."""
    return hashlib.sha256(text.encode()).hexdigest()


def digest(data: object) -> str:
    """SHA-256 of the canonical text."""
    return sha256(canonical_text(data))


def revived(kind: type[Kind], text: str) -> Kind:
    """The data that `exact_text` wrote."""
    # Building a reader takes longer than reading; the checker doubts that types can be kept.
    kept: Any = kind
    read: Kind = _reader_of(kept).validate_json(text)
    return read


@cache
def _reader_of(kind: Any) -> TypeAdapter[Any]:
    return TypeAdapter(kind)


def _text(plain: Any) -> str:
    return json.dumps(
        plain, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False
    )


def _cut(plain: Any) -> Any:
    if isinstance(plain, float):
        # Minus zero is zero.
        return float(f"{plain:.{DIGITS}g}") + 0.0
    if isinstance(plain, dict):
        return {name: _cut(value) for name, value in plain.items()}
    if isinstance(plain, list):
        return [_cut(value) for value in plain]
    return plain
