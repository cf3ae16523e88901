"""Refusals the doors can answer: each says what was refused, why, and what to do next."""

from collections.abc import Iterable
from dataclasses import asdict, dataclass
from typing import Any


class AgencyError(Exception):
    """Someone can put this right; the doors answer it with its text."""


class ActionRefused(AgencyError):
    """A step that several records together do not allow now."""


class TransitionRefused(AgencyError):
    """A record in its present status cannot become what was asked for."""

    def __init__(self, record: Any, wanted: str, because: str = "") -> None:
        self.record = record
        self.wanted = wanted
        status = getattr(record, "get_status_display", lambda: getattr(record, "status", ""))()
        present = f" is {str(status).lower()}; it" if status else ""
        reason = f": {because}" if because else ""
        super().__init__(f"{record}{present} cannot be {wanted}{reason}.")


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldReason:
    """Why one field was refused."""

    field: str
    """Dotted path: series[0].points[2].fans[0].fan_pressure; empty for the document as a whole."""
    code: str
    message: str
    value: Any = None
    limit: str | None = None
    next_step: str

    def as_dict(self) -> dict[str, Any]:
        """The same as plain data, for an answer or for storing."""
        return asdict(self)

    def __str__(self) -> str:
        where = f"{self.field}: " if self.field else ""
        return f"{where}{self.message} {self.next_step}"


class DocumentRefused(AgencyError):
    """A document could not be read as a test run; every reason is listed."""

    def __init__(self, reasons: Iterable[FieldReason]) -> None:
        self.reasons = list(reasons)
        super().__init__("\n".join(str(reason) for reason in self.reasons))
