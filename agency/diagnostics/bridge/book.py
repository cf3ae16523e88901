"""The rule book as one evaluation uses it, keeping account of the rules it rested on."""

from collections.abc import Iterable
from dataclasses import fields
from datetime import date
from typing import Any

from agency.leakage.validity import Criterion, Status, Verdict, judge
from agency.rulebook.shipped import RuleEntry, RuleLike, RuleSet, effective_on

from ..evaluation import Check

RULE_FIELDS = tuple(one.name for one in fields(RuleEntry))


class Book:
    """Rules in force on the day of a test, and the questions someone has answered."""

    def __init__(
        self, rules: Iterable[RuleLike], day: date, *, confirmed: frozenset[str] = frozenset()
    ) -> None:
        self._rules: RuleSet = effective_on(rules, day)
        self._confirmed = confirmed
        self._used: dict[str, RuleLike] = {}

    def rule(self, code: str) -> RuleLike | None:
        """The rule in force, noted as used; None where the book holds none."""
        found = self._rules.get(code)
        if found is not None:
            self._used[code] = found
        return found

    def setting(self, code: str) -> float:
        """The number of a setting, noted as used."""
        value = self._rules.setting(code)
        self.rule(code)
        return value

    def limit_of(self, code: str) -> float | None:
        """The limit of a rule, noted as used; None where the book holds none."""
        found = self.rule(code)
        return None if found is None else found.limit

    def beginning(self, prefix: str) -> list[RuleLike]:
        """Every rule in force whose code begins so, in order, noted as used."""
        codes = sorted(one.code for one in self._rules if one.code.startswith(prefix))
        return [found for code in codes if (found := self.rule(code)) is not None]

    def holds(self, code: str, measured: float) -> bool:
        """True when `measured` keeps to the rule, or the book holds no such rule."""
        rule = self.rule(code)
        return rule is None or judge(measured, criterion_of(rule)).status is Status.PASS

    def is_confirmed(self, code: str) -> bool:
        """Someone has answered this question: the value stands as it was sent."""
        return code in self._confirmed

    def check(
        self, code: str, measured: float | None, *, field: str = "", message: str = ""
    ) -> list[Check]:
        """The rule held against `measured`, or nothing where the book holds no such rule.

        `message` replaces the usual sentence where the rule is missed or cannot be verified.
        """
        rule = self.rule(code)
        if rule is None:
            return []
        status = judge(measured, criterion_of(rule)).status
        usual = _sentence(rule, measured)
        passed = status is Status.PASS
        text = usual if passed else (message or usual)
        return [self._filled(rule, status, measured, field=field, message=text)]

    def suspicion(
        self, code: str, measured: float, *, field: str = "", message: str = ""
    ) -> list[Check]:
        """A rule whose range is the suspicious one: `measured` within it is the question."""
        rule = self.rule(code)
        if rule is None or judge(measured, criterion_of(rule)).status is not Status.PASS:
            return []
        return [self._filled(rule, Status.ADVISORY, measured, field=field, message=message)]

    def complaint(
        self, code: str, measured: float | None, *, field: str = "", message: str = ""
    ) -> list[Check]:
        """As `check`, but silent where the rule is kept."""
        return [
            one
            for one in self.check(code, measured, field=field, message=message)
            if one.status != Status.PASS
        ]

    def judged(self, verdict: Verdict, *, field: str, message: str) -> Check:
        """What the formulas judged by one of the rules used, as a check."""
        rule = self._used[verdict.criterion.code]
        return self._filled(rule, verdict.status, verdict.measured, field=field, message=message)

    def _filled(
        self, rule: RuleLike, status: Status, measured: float | None, *, field: str, message: str
    ) -> Check:
        return Check(
            code=rule.code,
            standard=rule.standard,
            edition=rule.edition,
            clause=rule.clause,
            status=str(status),
            severity=rule.severity,
            measured=measured,
            limit=limit_words(rule),
            unit=rule.unit,
            message=message,
            next_step="" if status is Status.PASS else rule.next_step,
            provenance=rule.provenance,
            source=rule.source,
            field=field,
            confirmed=self.is_confirmed(rule.code),
        )

    def plain(self) -> list[dict[str, Any]]:
        """The rules used, as plain data."""
        return [
            {name: getattr(rule, name) for name in RULE_FIELDS}
            for _, rule in sorted(self._used.items())
        ]


def criterion_of(rule: RuleLike) -> Criterion:
    """The limit of a rule, for judging."""
    return Criterion(
        code=rule.code,
        operator=rule.operator,
        limit=rule.limit,
        low=rule.low,
        high=rule.high,
        unit=rule.unit,
        rejects=rule.severity == "reject",
    )


def limit_words(rule: RuleLike) -> str:
    """The limit without its unit: ">= 5", or "10 to 60"."""
    if rule.operator == "between":
        return f"{rule.low:g} to {rule.high:g}"
    return f"{rule.operator} {rule.limit:g}"


def _sentence(rule: RuleLike, measured: float | None) -> str:
    name = f"{rule.quantity[:1].upper()}{rule.quantity[1:]}"
    if measured is None:
        return f"{name}: not recorded, so it cannot be verified."
    unit = f" {rule.unit}" if rule.unit else ""
    return f"{name}: {measured:.4g}{unit}; the limit is {limit_words(rule)}{unit}."
