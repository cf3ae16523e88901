"""A stored document laid out for reading, whatever its kind."""

from collections.abc import Iterable, Mapping
from typing import Any

from agency.diagnostics.documents import parse_json
from agency.diagnostics.forms.envelope import EnvelopeDocument
from agency.errors import DocumentRefused

from .bench_readings import bench_readings
from .readings import Readings, envelope_readings


def read(text: str, checks: Iterable[Mapping[str, Any]]) -> Readings | None:
    """The readings in a stored document; None when this version cannot read it any more."""
    try:
        document = parse_json(text)
    except DocumentRefused:
        return None
    remarks = [
        (str(check.get("field") or ""), _remark(check))
        for check in checks
        if check.get("status") != "pass"
    ]
    if isinstance(document, EnvelopeDocument):
        return envelope_readings(document, remarks)
    return bench_readings(document, remarks)


def _remark(check: Mapping[str, Any]) -> str:
    return " ".join(str(check[part]) for part in ("message", "next_step") if check.get(part))
