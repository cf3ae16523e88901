"""Rules of the rule book held against the two bill models, in words."""

from collections.abc import Mapping
from dataclasses import dataclass
from math import isfinite
from typing import Any

from agency.estimates.bill_inputs import BillInputs

DAYS_A_MONTH = 365.25 / 12
MONTHS_A_YEAR = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What the checks look at of one side."""

    bills: Any
    cv_rmse: Any


def bill_checks(
    inputs: BillInputs,
    sides: Mapping[str, Told],
    *,
    days: Mapping[str, int],
    fractional: Mapping[str, Any] | None,
) -> list[dict[str, Any]]:
    """Each rule once a side, then the uncertainty of the saving, which forbids nothing."""
    # Twelve monthly bills are twelve months, whether they come to 363 days or to 367.
    months = round(days["after"] / DAYS_A_MONTH)
    reported = "long" if months >= MONTHS_A_YEAR else "short"
    checks = []
    for side, told in sides.items():
        for code, measured in (
            ("bills.fewest_bills", float(told.bills)),
            ("bills.fewest_days", float(days[side])),
            (f"bills.cv_rmse_{reported}", float(told.cv_rmse)),
        ):
            checks.append(_check(inputs, code, measured, f"{side.capitalize()} the work"))
    if fractional is not None:
        for form, name in (
            ("simplified_2014", "Simplified form"),
            ("bootstrap", "By bootstrap"),
        ):
            checks.append(_check(inputs, "bills.fsu_level", fractional[form], name))
    return checks


def _check(inputs: BillInputs, code: str, measured: float | None, where: str) -> dict[str, Any]:
    rule, limit = inputs.rules[code], inputs.setting(code)
    told = measured if measured is not None and isfinite(measured) else None
    met = told is not None and (told >= limit if rule.operator == ">=" else told <= limit)
    status = "pass" if met else "not_verifiable"
    if told is not None and not met:
        status = "reject" if rule.severity == "reject" else "advisory"
    way = "at least" if rule.operator == ">=" else "at most"
    found = "cannot be told" if told is None else _words(told, rule.unit)
    return {
        "code": code,
        "standard": rule.standard,
        "edition": rule.edition,
        "clause": rule.clause,
        "provenance": rule.provenance,
        "status": status,
        "measured": told,
        "limit": limit,
        "unit": rule.unit,
        "message": f"{where}: {rule.quantity}: {found}; {way} {_words(limit, rule.unit)}."
        + ("" if met else f" {rule.next_step}"),
    }


def _words(value: float, unit: str) -> str:
    return f"{100 * value:.1f} %" if unit == "-" else f"{value:,.0f} {unit}"
