"""A determination: facts and tables of a day become one frozen row."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from agency.accounts.models import User
from agency.errors import ActionRefused
from agency.rulebook.shipped import RuleSet
from agency.wording import words

from .book import version_of, whole
from .checklist import Gate, checklist, missing_for
from .days import months_after
from .dwelling_check import Bar, bar_on
from .income import YEAR, yearly_income
from .limits import IncomeLimit, income_limit
from .models import Application, Determination

PREFIXES = ("eligibility.", "income.", "poverty.", "state_median.", "reweatherization.")
BENEFIT_BASIS = "A benefit stands for the income test"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Income:
    """The year's income as determined, or the benefit that stands for it."""

    amount: Decimal | None
    lines: tuple[str, ...]
    limit: IncomeLimit | None

    @property
    def is_over(self) -> bool:
        """The comparison is inclusive. 10 CFR 440.22(a)(1), from memory."""
        return (
            self.amount is not None and self.limit is not None and self.amount > self.limit.amount
        )


def determination_of(
    application: Application, *, by: User, on: date, rules: RuleSet
) -> Determination:
    """The row to be stored; refused while a paper it rests on is missing."""
    missing = missing_for(Gate.DETERMINATION, checklist(application, on=on, rules=rules))
    if missing:
        said = " ".join(f"{piece.name}: {piece.detail}" for piece in missing)
        raise ActionRefused(f"{application} cannot be determined yet. {said}")
    income = _income(application, on=on, rules=rules)
    bar = _bar(application, on=on, rules=rules)
    outcome = _outcome(income, bar)
    valid = whole(rules, "eligibility.valid_months", on=on)
    table = income.limit.table if income.limit else ""
    return Determination(
        application=application,
        made_on=on,
        made_by=by,
        outcome=outcome,
        method=application.income_method,
        household_size=application.household.size,
        annual_income=income.amount,
        limit=income.limit.amount if income.limit else None,
        basis=income.limit.basis if income.limit else BENEFIT_BASIS,
        table_version=table,
        rules_version=version_of(rules, *PREFIXES, tables=[table]),
        expires_on=months_after(on, valid),
        inputs=_inputs(application),
        lines=[*income.lines, *_last_lines(income, bar, application)],
    )


def _income(application: Application, *, on: date, rules: RuleSet) -> _Income:
    methods = Application.IncomeMethod
    if application.income_method == methods.BENEFIT:
        lines = tuple(
            f"{one.program}, last paid {words.day(one.last_paid_on)}: counts within "
            f"{one.program.window_months} months"
            for one in application.benefits.all()
            if one.proof_seen_on is not None
        )
        return _Income(amount=None, lines=lines, limit=None)
    limit = income_limit(application.program, size=application.household.size, on=on, rules=rules)
    if application.income_method == methods.NONE:
        lines = ("No income, by signed statement: $0 a year",)
        return _Income(amount=Decimal(0), lines=(*lines, *limit.lines), limit=limit)
    short = application.income_method == methods.SHORT
    months = whole(rules, "income.short_months", on=on) if short else YEAR
    yearly = yearly_income(application.incomes.all(), months=months)
    return _Income(amount=yearly.amount, lines=(*yearly.lines, *limit.lines), limit=limit)


def _bar(application: Application, *, on: date, rules: RuleSet) -> Bar | None:
    if application.disaster_reason:
        return None
    years = whole(rules, "reweatherization.years", on=on)
    return bar_on(application.house, on=on, years=years)


def _outcome(income: _Income, bar: Bar | None) -> Determination.Outcome:
    if bar is not None:
        return Determination.Outcome.DWELLING_BARRED
    if income.is_over:
        return Determination.Outcome.OVER_LIMIT
    return Determination.Outcome.ELIGIBLE


def _last_lines(income: _Income, bar: Bar | None, application: Application) -> list[str]:
    lines = []
    if income.limit is not None:
        side = "is over" if income.is_over else "is not over"
        earned, limit = words.money(income.amount, 2), words.money(income.limit.amount, 2)
        lines.append(f"{earned} {side} the limit of {limit}")
    if bar is not None:
        lines.append(f"{bar.completion.words()}: barred until {words.day(bar.ends_on)}")
    if income.is_over and application.income_method == Application.IncomeMethod.SHORT:
        lines.append("The household may bring papers of 12 months and be determined again")
    return lines


def _inputs(application: Application) -> dict[str, Any]:
    """Everything of the file the determination rests on, as plain data."""
    household = application.household
    return {
        "program": str(application.program),
        "house": application.house.one_line,
        "bands": {band: getattr(household, band) for band in household.BANDS},
        "incomes": [
            {
                "kind": item.kind,
                "earner": item.earner,
                "amount": str(item.amount),
                "proof": item.proof,
                "proof_seen_on": _iso(item.proof_seen_on),
            }
            for item in application.incomes.all()
        ],
        "benefits": [
            {
                "program": str(benefit.program),
                "last_paid_on": _iso(benefit.last_paid_on),
                "proof_seen_on": _iso(benefit.proof_seen_on),
            }
            for benefit in application.benefits.all()
        ],
        "papers": [
            {"kind": paper.kind, "seen_on": _iso(paper.seen_on)}
            for paper in application.papers.all()
        ],
        "disaster_reason": application.disaster_reason,
    }


def _iso(day: date | None) -> str | None:
    return None if day is None else day.isoformat()
