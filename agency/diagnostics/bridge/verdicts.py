"""What the checks of a test add up to."""

from collections.abc import Iterable

from agency.leakage.validity import Status

from ..evaluation import Check

NOT_USED = {"client_key", "job", "visit", "operator", "note"}
"""Fields of a document that no figure rests on."""


def verdict_of(checks: Iterable[Check]) -> str:
    """The verdict the checks of a computed test add up to."""
    known = list(checks)
    if rejected(known):
        return "rejected"
    if any(one.holds_back for one in known):
        return "provisional"
    if any(_leaves_doubt(one) for one in known):
        return "advisory"
    return "valid"


def _leaves_doubt(check: Check) -> bool:
    """Advice, or a limit that decides and could not be verified."""
    if check.status == Status.NOT_VERIFIABLE:
        return check.severity in {"reject", "question"}
    return check.status == Status.ADVISORY and not check.confirmed


def rejected(checks: Iterable[Check]) -> bool:
    """Whether one of the checks makes the test invalid."""
    return any(one.status == Status.REJECT for one in checks)
