"""JSON text to plain data, refusing what JSON readers disagree about."""

import json
import math
from typing import Any, NoReturn

from agency.errors import DocumentRefused, FieldReason

LARGEST_TEXT = 2_000_000
"""Most characters of a document; a long test with all baseline samples has about 100 000."""
DEEPEST = 10
MOST_VALUES = 60_000
LONGEST_NUMBER = 40


def refuse(
    *, code: str, message: str, next_step: str, field: str = "", value: Any = None
) -> NoReturn:
    """Refuse the document for one reason."""
    raise DocumentRefused(
        [FieldReason(field=field, code=code, message=message, value=value, next_step=next_step)]
    )


def read_json(text: str | bytes) -> object:
    """Plain data of JSON `text`, or DocumentRefused."""
    if len(text) > LARGEST_TEXT:
        refuse(
            code="too_large",
            message=f"The document has {len(text)} characters; the limit is {LARGEST_TEXT}.",
            next_step="Send one test at a time.",
        )
    if isinstance(text, bytes):
        text = _decoded(text)
    if text.startswith("\ufeff"):
        refuse(
            code="byte_order_mark",
            message="The text begins with a byte order mark.",
            next_step="Save it as UTF-8 without a mark.",
        )
    try:
        return json.loads(
            text,
            object_pairs_hook=_object,
            parse_constant=float,
            parse_int=_whole_number,
        )
    except RecursionError:
        _too_deep("")
    except json.JSONDecodeError as error:
        refuse(
            code="not_json",
            message=f"This is not JSON: line {error.lineno}, column {error.colno}: {error.msg}.",
            next_step="Send the document as JSON text.",
        )


def check_plain_data(data: object) -> None:
    """Refuse data nested too deep, too large, or with text a database cannot keep."""
    waiting: list[tuple[str, object, int]] = [("", data, 0)]
    seen = 0
    while waiting:
        path, value, depth = waiting.pop()
        seen += 1
        if depth > DEEPEST:
            _too_deep(path)
        if seen > MOST_VALUES:
            refuse(
                code="too_large",
                message=f"The document holds more than {MOST_VALUES} values.",
                next_step="Send one test at a time.",
            )
        if isinstance(value, str):
            _check_text(path, value)
        elif isinstance(value, float) and not math.isfinite(value):
            _not_finite(path, str(value))
        elif isinstance(value, dict):
            for key, inner in value.items():
                _check_text(path, str(key))
                waiting.append((f"{path}.{key}".lstrip("."), inner, depth + 1))
        elif isinstance(value, list):
            waiting.extend((f"{path}[{i}]", inner, depth + 1) for i, inner in enumerate(value))


def _decoded(text: bytes) -> str:
    try:
        return text.decode("utf-8")
    except UnicodeDecodeError as error:
        refuse(
            code="not_utf8",
            message=f"Byte {error.start} is not UTF-8.",
            next_step="Send the text encoded as UTF-8.",
        )


def _check_text(path: str, text: str) -> None:
    if "\x00" in text or any("\ud800" <= letter <= "\udfff" for letter in text):
        refuse(
            field=path if path.isprintable() and path.isascii() else "",
            code="unreadable_text",
            message="The text holds a character that stands for nothing.",
            next_step="Type the text again.",
        )


def _too_deep(path: str) -> NoReturn:
    refuse(
        field=path[:80],
        code="too_deep",
        message=f"The document is nested more than {DEEPEST} levels deep.",
        next_step="Send the test-run document as it is described.",
    )


def _object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    plain = dict(pairs)
    if len(plain) < len(pairs):
        names = [name for name, _ in pairs]
        twice = next(name for name in names if names.count(name) > 1)
        refuse(
            field=twice[:80],
            code="name_twice",
            message=f"The name {twice[:80]!r} stands twice in one object.",
            next_step="Keep one of the two values; which one was meant cannot be told.",
        )
    return plain


def _not_finite(path: str, name: str) -> NoReturn:
    refuse(
        field=path[:80],
        code="not_finite",
        message=f"{name} is not a reading.",
        value=name,
        next_step="Put null where nothing was measured, or read it again.",
    )


def _whole_number(digits: str) -> int:
    if len(digits) > LONGEST_NUMBER:
        _not_finite("", f"{digits[:12]}...")
    return int(digits)
