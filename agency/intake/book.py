"""Numbers of the rule book that intake needs, and which version of them was used."""

import hashlib
import json
from collections.abc import Iterable
from datetime import date
from decimal import Decimal

from agency.errors import ActionRefused
from agency.rulebook.models import Rule
from agency.rulebook.shipped import RuleSet, effective_on
from agency.wording import words


def rules_on(day: date) -> RuleSet:
    """The rules in force on `day`."""
    return effective_on(Rule.objects.effective_on(day).order_by("effective_from"), day)


def setting(rules: RuleSet, code: str, *, on: date) -> Decimal:
    """The number of a rule; a book without it decides nothing."""
    rule = rules.get(code)
    if rule is None or rule.limit is None:
        raise ActionRefused(
            f"The rule book holds no number for {code} on {words.day(on)}. "
            "Ask an administrator to enter it in the records, with where it was read."
        )
    return exact(rule.limit)


def exact(value: float) -> Decimal:
    """A stored limit as the decimal number that was written into the book."""
    return Decimal(repr(value)).normalize() + Decimal(0)


def whole(rules: RuleSet, code: str, *, on: date) -> int:
    """The number of a rule that counts something."""
    return int(setting(rules, code, on=on))


def version_of(rules: RuleSet, *prefixes: str, tables: Iterable[str] = ()) -> str:
    """Hash of the rules that begin so, and of the tables beside them."""
    used = [
        [rule.code, rule.limit, rule.effective_from.isoformat()]
        for rule in rules
        if rule.code.startswith(prefixes)
    ]
    plain = json.dumps([sorted(used), sorted(tables)], separators=(",", ":"))
    return hashlib.sha256(plain.encode()).hexdigest()
