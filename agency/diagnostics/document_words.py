"""What is said when a field of a document cannot be read."""

import math
import re
from collections.abc import Iterable
from datetime import datetime
from typing import Any
from uuid import UUID

from pydantic import ValidationError
from pydantic_core import PydanticCustomError

from agency.errors import FieldReason

CHECK_FORM = "Send the field as the test-run document describes it."
MOMENT = re.compile(r"\d{4}-\d{2}-\d{2}T\d{2}:\d{2}(:\d{2}(\.\d{1,6})?)?(Z|[+-]\d{2}:\d{2})?", re.A)
SEPARATED = re.compile(r"\s*[+-]?\d{1,3}([.,]\d{3})+\s*", re.A)
FIRST_YEAR, LAST_YEAR = 1990, 2100
LONGEST_VALUE = 80

WORDS = {
    "missing": ("missing", "This field is missing.", "", "Add it; null where it may be unknown."),
    "extra_forbidden": (
        "unknown_field",
        "This field is not known.",
        "",
        "Check its spelling, or remove it.",
    ),
    "literal_error": (
        "not_a_choice",
        "This is none of the choices.",
        "{expected}",
        "Send one of the choices.",
    ),
    "greater_than_equal": ("out_of_range", "This is too small.", ">= {ge}", "Read it again."),
    "less_than_equal": (
        "out_of_range",
        "This is too large.",
        "<= {le}",
        "Read it again; a share of 50 % is sent as 0.5.",
    ),
    "too_long": ("too_long", "This list is too long.", "at most {max_length}", "Shorten it."),
    "string_too_long": ("too_long", "This is too long.", "at most {max_length}", "Shorten it."),
    "too_short": ("too_short", "This list is empty.", "at least {min_length}", "Fill it in."),
    "string_too_short": ("too_short", "This is empty.", "at least {min_length}", "Fill it in."),
}
"""Code, message, limit and next step by pydantic's error type."""

TYPES = {
    "string_type": "text",
    "bool_type": "true or false",
    "list_type": "a list",
    "dict_type": "an object",
    "model_type": "an object",
}


def refusal(code: str, message: str, *, next_step: str, limit: str = "") -> PydanticCustomError:
    """An error whose words are kept as they are."""
    context = {"message": message, "next_step": next_step, "limit": limit}
    return PydanticCustomError(code, "{message}", context)


def choices_words(choices: Iterable[str]) -> str:
    """The choices as they are listed in a message."""
    return ", ".join(choices) or "none"


def finite_number(value: Any) -> float:
    """`value` as float; only true, finite numbers pass."""
    if isinstance(value, str):
        raise _text_for_number(value)
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise refusal(
            "not_a_number",
            f"This is a {_kind_word(value)}, not a number.",
            next_step="Send the reading as a number, or null where nothing was measured.",
        )
    try:
        number = float(value)
    except OverflowError:
        number = math.inf
    if not math.isfinite(number):
        raise refusal(
            "not_finite",
            "This number is not finite.",
            next_step="Put null where the gauge showed no reading.",
        )
    return number


def positive_number(value: Any) -> float:
    """`value` as float above zero."""
    number = finite_number(value)
    if number <= 0:
        raise refusal(
            "not_positive",
            f"{number:g} is not above zero.",
            limit="> 0",
            next_step="Enter the measured value, or null where it is not known.",
        )
    return number


def uuid_text(value: Any) -> UUID:
    """A UUID from its usual text."""
    if isinstance(value, UUID):
        return value
    if isinstance(value, str) and len(value) == 36:
        try:
            return UUID(value)
        except ValueError:
            pass
    raise refusal(
        "not_a_uuid",
        "This is not a UUID.",
        limit="8-4-4-4-12 hexadecimal digits",
        next_step="Send the identifier as it was issued.",
    )


def aware_time(value: Any) -> datetime:
    """A moment with its distance from UTC."""
    moment = value
    if isinstance(value, str) and MOMENT.fullmatch(value):
        try:
            moment = datetime.fromisoformat(value)
        except ValueError:
            moment = None
    if not isinstance(moment, datetime) or not FIRST_YEAR <= moment.year <= LAST_YEAR:
        raise refusal(
            "not_a_time",
            "This is not a date with a time of day.",
            limit=f"years {FIRST_YEAR} to {LAST_YEAR}",
            next_step="Write it like 2026-11-20T14:05:00-06:00.",
        )
    if moment.utcoffset() is None:
        raise refusal(
            "no_time_zone",
            "The time does not say how far it is from UTC.",
            next_step="Write it like 2026-11-20T14:05:00-06:00; no time zone is assumed.",
        )
    return moment


def path_of(location: Iterable[int | str]) -> str:
    """series[0].points[2] from its steps."""
    path = ""
    for step in location:
        path += f"[{step}]" if isinstance(step, int) else f".{str(step)[:LONGEST_VALUE]}"
    return path.removeprefix(".").removesuffix(".[key]")


def reasons_from(error: ValidationError) -> list[FieldReason]:
    """Every error of pydantic in our words."""
    return [_reason(one) for one in error.errors(include_url=False)]


def _reason(error: Any) -> FieldReason:
    context = error.get("ctx", {})
    if "next_step" in context:
        code, message = error["type"], context["message"]
        limit, next_step = context["limit"] or None, context["next_step"]
    else:
        code, message, limit, next_step = _worded(error["type"], context)
    return FieldReason(
        field=path_of(error["loc"]),
        code=code,
        message=message,
        value=None if error["type"] == "missing" else _shown(error["input"]),
        limit=limit,
        next_step=next_step,
    )


def _worded(kind: str, context: dict[str, Any]) -> tuple[str, str, str | None, str]:
    """Code, message, limit and next step for one of pydantic's own error types."""
    if kind not in WORDS:
        wanted = TYPES.get(kind)
        message = f"This is not {wanted}." if wanted else "This cannot be read."
        return "wrong_type", message, wanted, CHECK_FORM
    code, message, limit, next_step = WORDS[kind]
    plain = {name: str(value).replace("'", "") for name, value in context.items()}
    return code, message, limit.format(**plain) or None, next_step


def _text_for_number(text: str) -> PydanticCustomError:
    if SEPARATED.fullmatch(text):
        plain = text.strip().lstrip("+-")
        whole, small = re.sub(r"[.,]", "", plain), plain.replace(",", ".")
        return refusal(
            "ambiguous_number",
            f"{text.strip()!r} can be read as {whole} or, with a decimal mark, as {small}.",
            limit="a number without quotes and without thousands marks",
            next_step="Type the number again without a thousands mark.",
        )
    if re.fullmatch(r"\s*[+-]?\d+([.,]\d*)?\s*", text, re.A):
        return refusal(
            "text_for_number",
            f"{text.strip()[:20]!r} is text, not a number.",
            limit="a number without quotes",
            next_step="Send the number itself, with a point as decimal mark.",
        )
    return refusal(
        "no_reading",
        f"{text.strip()[:20]!r} is not a reading.",
        limit="a number, or null",
        next_step="Put null where the gauge showed no reading, or read it again.",
    )


def _kind_word(value: Any) -> str:
    if value is None:
        return "null"
    names = {bool: "true/false answer", list: "list", dict: "group of fields"}
    return names.get(type(value), type(value).__name__)


def _shown(value: Any) -> Any:
    """`value` short enough to repeat, and always possible to write as JSON."""
    if isinstance(value, bool | None) or (isinstance(value, int | float) and abs(value) < 1e15):
        return value
    if isinstance(value, dict | list):
        return None
    return str(value)[:LONGEST_VALUE]
