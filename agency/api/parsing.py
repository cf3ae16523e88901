"""Reading request bodies: JSON only, and only numbers that are numbers."""

from typing import IO, Any

from rest_framework.exceptions import ParseError
from rest_framework.parsers import BaseParser

from agency.diagnostics.documents import parse_text
from agency.errors import DocumentRefused


class StrictJSONParser(BaseParser):
    """UTF-8 JSON without NaN, Infinity, duplicate keys or bottomless nesting."""

    media_type = "application/json"

    def parse(
        self, stream: IO[bytes], media_type: str | None = None, parser_context: Any = None
    ) -> Any:
        """The body as plain Python values."""
        try:
            return parse_text(stream.read())
        except DocumentRefused as refusal:
            raise ParseError(refusal.reasons[0].message) from refusal
