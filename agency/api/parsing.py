"""Reading request bodies: JSON, of which no two readers disagree, and forms of bounded size."""

from typing import IO, Any

from django.core.exceptions import (
    RequestDataTooBig,
    TooManyFieldsSent,
    TooManyFilesSent,
)
from rest_framework.exceptions import APIException, ParseError
from rest_framework.parsers import BaseParser, DataAndFiles, MultiPartParser

from agency.diagnostics.document_json import DEEPEST, read_json
from agency.errors import DocumentRefused

ENVELOPE_LEVELS = 2
"""A batch wraps its records in one object and one list."""
LARGEST_FORM = 12_000_000
"""Of a photo with what is said of it. Own choice: the largest JPEG a phone's camera makes. [B]"""


class TooLarge(APIException):
    """More bytes than are read."""

    status_code = 413
    default_code = "too_large"
    default_detail = (
        f"The photo has more than {LARGEST_FORM // 1_000_000} MB. Take it again with a smaller "
        "picture size."
    )


class StrictJSONParser(BaseParser):
    """UTF-8 JSON without duplicate names or bottomless nesting."""

    media_type = "application/json"

    def parse(
        self, stream: IO[bytes], media_type: str | None = None, parser_context: Any = None
    ) -> Any:
        """The body as plain Python values."""
        try:
            data = read_json(stream.read())
        except DocumentRefused as refusal:
            raise ParseError(str(refusal)) from refusal
        if _is_deeper_than(data, DEEPEST + ENVELOPE_LEVELS):
            raise ParseError(
                f"The body is nested more than {DEEPEST + ENVELOPE_LEVELS} levels deep. "
                "Send test-run documents as they are described."
            )
        return data


def _is_deeper_than(data: object, levels: int) -> bool:
    layer = [data]
    for _ in range(levels + 1):
        layer = [
            inner
            for value in layer
            if isinstance(value, dict | list)
            for inner in (value.values() if isinstance(value, dict) else value)
        ]
    return bool(layer)


class BoundedFormParser(MultiPartParser):
    """A form with a file, refused unread when it is too large."""

    def parse(
        self, stream: IO[bytes], media_type: str | None = None, parser_context: Any = None
    ) -> DataAndFiles:
        """Fields and files; Django's own limits of their number are told like all the others."""
        said = parser_context["request"].META.get("CONTENT_LENGTH") or "0"
        if not said.isdecimal():
            raise ParseError(f"The length {said[:20]!r} is not a number of bytes.")
        if int(said) > LARGEST_FORM:
            raise TooLarge
        try:
            return super().parse(stream, media_type, parser_context)
        except (RequestDataTooBig, TooManyFieldsSent, TooManyFilesSent) as refusal:
            raise ParseError(
                "The form has too many or too large fields. Send one photo."
            ) from refusal
