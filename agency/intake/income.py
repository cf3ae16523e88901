"""What a household's receipts come to in a year, and which of them are not counted."""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from typing import Protocol

from agency.errors import ActionRefused
from agency.wording import words

NOT_COUNTED = {"child_support", "capital_gain", "gift", "loan", "inheritance"}
"""Income definition of the yearly federal notice (WPN 25-3), second-hand; from memory."""
NOT_OF_MINORS = {"wages", "self_employment", "unemployment"}
"""Not counted when someone under 18 or a full-time high-school student earns it; same source."""
MINORS = {"under_18", "student"}
YEAR = 12
CENT = Decimal("0.01")


class Receipt(Protocol):
    """One income, as far as the sum needs it."""

    @property
    def kind(self) -> str: ...
    @property
    def earner(self) -> str: ...
    @property
    def amount(self) -> Decimal: ...
    def get_kind_display(self) -> str: ...


@dataclass(frozen=True, slots=True, kw_only=True)
class YearlyIncome:
    """The sum and how it came about."""

    amount: Decimal
    """[$ a year]"""
    lines: tuple[str, ...]


def yearly_income(receipts: Iterable[Receipt], *, months: int) -> YearlyIncome:
    """Receipts of `months` months counted up to twelve; what the definition leaves out is named."""
    if not 1 <= months <= YEAR:
        raise ActionRefused(
            f"Receipts of {months} months cannot stand for a year. "
            f"The rule book must hold a number from 1 to {YEAR}."
        )
    lines, total = [], Decimal(0)
    for receipt in receipts:
        name, amount = receipt.get_kind_display(), words.money(receipt.amount, 2)
        why = _left_out(receipt)
        if why:
            lines.append(f"{name}: {amount}, not counted: {why}")
        else:
            total += receipt.amount
            lines.append(f"{name}: {amount}")
    yearly = (total * YEAR / months).quantize(CENT, ROUND_HALF_UP)
    if months == YEAR:
        lines.append(f"Sum of 12 months: {words.money(yearly, 2)}")
    else:
        lines.append(
            f"Sum of {words.count(months, 'month')} {words.money(total, 2)}, "
            f"× {YEAR} ÷ {months}: {words.money(yearly, 2)} a year"
        )
    return YearlyIncome(amount=yearly, lines=tuple(lines))


def _left_out(receipt: Receipt) -> str:
    if receipt.kind in NOT_COUNTED:
        return "the definition of income excludes it"
    if receipt.kind in NOT_OF_MINORS and receipt.earner in MINORS:
        return "earned by someone under 18 or a full-time high-school student"
    return ""
