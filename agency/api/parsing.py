"""Reading request bodies: JSON only, and nothing that readers of JSON disagree about."""

from typing import IO, Any

from rest_framework.exceptions import ParseError
from rest_framework.parsers import BaseParser

from agency.diagnostics.document_json import DEEPEST, read_json
from agency.errors import DocumentRefused

ENVELOPE_LEVELS = 2
"""A batch wraps its records in one object and one list."""


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
