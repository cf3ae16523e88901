"""The rule book as it is shipped, read without a database."""

import tomllib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from functools import cache
from pathlib import Path
from typing import Protocol

from agency.errors import AgencyError

FILES = sorted(Path(__file__).parent.glob("*.toml"))


class RuleLike(Protocol):
    """What a rule must say, whether it comes from the file or from the database."""

    @property
    def code(self) -> str: ...
    @property
    def standard(self) -> str: ...
    @property
    def edition(self) -> str: ...
    @property
    def clause(self) -> str: ...
    @property
    def quantity(self) -> str: ...
    @property
    def operator(self) -> str: ...
    @property
    def limit(self) -> float | None: ...
    @property
    def low(self) -> float | None: ...
    @property
    def high(self) -> float | None: ...
    @property
    def unit(self) -> str: ...
    @property
    def severity(self) -> str: ...
    @property
    def provenance(self) -> str: ...
    @property
    def source(self) -> str: ...
    @property
    def effective_from(self) -> date: ...
    @property
    def effective_to(self) -> date | None: ...
    @property
    def next_step(self) -> str: ...


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleEntry:
    """One criterion of the file."""

    code: str
    standard: str
    edition: str
    clause: str
    quantity: str
    operator: str
    limit: float | None = None
    low: float | None = None
    high: float | None = None
    unit: str
    severity: str
    provenance: str
    source: str
    effective_from: date
    effective_to: date | None = None
    next_step: str


@cache
def shipped_rules() -> tuple[RuleEntry, ...]:
    """Every rule of the shipped files, of all dates."""
    return tuple(
        RuleEntry(**entry)
        for file in FILES
        for entry in tomllib.loads(file.read_text(encoding="utf-8"))["rule"]
    )


def effective_on(rules: Iterable[RuleLike], day: date) -> "RuleSet":
    """The rules in force on `day`."""
    return RuleSet(
        {
            rule.code: rule
            for rule in rules
            if rule.effective_from <= day
            and (rule.effective_to is None or day <= rule.effective_to)
        }
    )


class RuleSet:
    """Rules in force on one day, by code."""

    def __init__(self, by_code: Mapping[str, RuleLike]) -> None:
        self._by_code = dict(by_code)

    def __iter__(self) -> Iterator[RuleLike]:
        return iter(self._by_code.values())

    def __len__(self) -> int:
        return len(self._by_code)

    def get(self, code: str) -> RuleLike | None:
        """The rule, or None where none is in force."""
        return self._by_code.get(code)

    def setting(self, code: str) -> float:
        """The number of a setting; a book without it cannot be used."""
        rule = self._by_code.get(code)
        if rule is None or rule.limit is None:
            raise MissingRule(code)
        return rule.limit


class MissingRule(AgencyError):
    """The formulas need a number the rule book does not hold on that day."""

    def __init__(self, code: str) -> None:
        super().__init__(f"The rule book holds no number for {code} on the day of the test.")
