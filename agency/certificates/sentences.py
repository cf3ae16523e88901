"""What a certificate says about the air and the money, in plain words; never more than measured.

The words are those of the language that is active.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from agency.wording import words
from agency.wording.words import THIN_SPACE, percent

UNITS = {
    "therm": gettext_noop("therms"),
    "kWh": gettext_noop("kWh"),
    "gal": gettext_noop("gallons"),
    "cord": gettext_noop("cords"),
}
FUELS = {
    "natural_gas": gettext_noop("natural gas"),
    "propane": gettext_noop("propane"),
    "fuel_oil": gettext_noop("fuel oil"),
    "electricity": gettext_noop("electricity"),
    "kerosene": gettext_noop("kerosene"),
    "wood": gettext_noop("wood"),
}
PARTS = {"heating": gettext_noop("heating"), "cooling": gettext_noop("cooling")}
NOT_SHOWN = {
    "not_comparable": gettext_noop(
        "The two tests were not made in the same way, so they cannot be compared."
    ),
    "no_before": gettext_noop(
        "No usable test was made before the work, so there is nothing to compare with."
    ),
    "no_after": gettext_noop(
        "No usable test was made after the work, so there is nothing to compare with."
    ),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """One headline and the sentence that goes with it."""

    headline: str
    sentence: str


def day(text: str | None) -> str:
    """A day in the long form of the language: "May 12, 2026", "12 de mayo de 2026"."""
    if not text:
        return _("no date")
    # Translators: the form of a date, in the letters of Django's date filter.
    return date_format(date.fromisoformat(text), _("F j, Y"))


def flow(cubic_metres_per_second: float | None) -> str:
    """An air flow in cfm, or that it was not measured."""
    if cubic_metres_per_second is None:
        return _("not measured")
    return words.flow(cubic_metres_per_second)


def air_said(air: Mapping[str, Any]) -> Said:
    """The change of air leakage with its uncertainty, or that it was not measured."""
    reduction, low, high = air["reduction"], air["low"], air["high"]
    if reduction is None:
        return Said(headline=_("Change: not measured"), sentence=_(NOT_SHOWN[air["verdict"]]))
    if not air["is_clear"]:
        told = _("The difference is not larger than the tests' own uncertainty.")
        if low is not None:
            told = f"{told} {_between(low, high)}"
        return Said(headline=_("No change that the tests can tell"), sentence=told)
    headline = (
        _("%(share)s less air leaks through this home")
        if reduction > 0
        else _("%(share)s more air leaks through this home")
    ) % {"share": percent(abs(reduction))}
    if low is None or high is None:
        return Said(headline=headline, sentence=_("How sure this figure is was not worked out."))
    return Said(headline=headline, sentence=_between(low, high))


def change(air: Mapping[str, Any]) -> str:
    """The words between the two figures; no percentage that the tests do not carry."""
    if air["reduction"] is None:
        return _("not measured")
    if not air["is_clear"]:
        return _("too close to tell")
    size = words.flow(abs(air["before"] - air["after"]))
    told = _("%(size)s less") if air["reduction"] > 0 else _("%(size)s more")
    return f"{told % {'size': size}}, {percent(abs(air['reduction']))}"


def savings_said(savings: Mapping[str, Any] | None) -> Said:
    """The estimated saving as a range; already rounded to what an estimate can carry."""
    if savings is None:
        return Said(
            headline=_("Not estimated"),
            sentence=_("The tests do not support an estimate for this home."),
        )
    energy = "; ".join(_energy(part) for part in savings["energy"])
    money = savings["dollars"]
    if money is None:
        return Said(headline=energy, sentence="")
    low, high = money["low"], money["high"]
    if low < 0 < high:
        told = _("Between %(more)s a year more and %(less)s a year less to pay.")
        return Said(
            headline=_("No saving that the estimate can tell"),
            sentence=told % {"more": words.money(-low), "less": words.money(high)},
        )
    if high == 0 and low == 0:
        return Said(headline=_("No saving is expected"), sentence="")
    told = _("%(range)s a year") if high > 0 else _("%(range)s a year more to pay")
    ends = sorted((abs(low), abs(high)))
    return Said(
        headline=told % {"range": _range(words.money(ends[0]), words.money(ends[1]))},
        sentence=f"{energy}.",
    )


def _energy(part: Mapping[str, Any]) -> str:
    amounts = [words.number(part[end], part["decimals"]) for end in ("low", "high")]
    return _("%(amount)s of %(fuel)s for %(part)s") % {
        "amount": f"{_range(*amounts)}{THIN_SPACE}{_(UNITS[part['unit']])}",
        "fuel": _(FUELS[part["fuel"]]),
        "part": _(PARTS[part["part"]]),
    }


def _range(low: str, high: str) -> str:
    """Two ends in words; equal ones are said once."""
    return low if low == high else _("%(low)s to %(high)s") % {"low": low, "high": high}


def _between(low: float, high: float) -> str:
    """Where a reduction lies: "Very likely between 3 % more and 8 % less."."""
    if low * high >= 0:
        ends = sorted((abs(low), abs(high)))
        told = (
            _("Very likely between %(low)s and %(high)s less.")
            if high > 0
            else _("Very likely between %(low)s and %(high)s more.")
        )
        return told % {"low": percent(ends[0]), "high": percent(ends[1])}
    told = _("Very likely between %(more)s more and %(less)s less.")
    return told % {"more": percent(-low), "less": percent(high)}
