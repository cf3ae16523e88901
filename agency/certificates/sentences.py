"""What a certificate says about the air and the money, in plain words; never more than measured."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from agency.wording import words
from agency.wording.words import percent

UNITS = {"therm": "therms", "kWh": "kWh", "gal": "gallons", "cord": "cords"}
FUELS = {
    "natural_gas": "natural gas",
    "propane": "propane",
    "fuel_oil": "fuel oil",
    "electricity": "electricity",
    "kerosene": "kerosene",
    "wood": "wood",
}
NOT_SHOWN = {
    "not_comparable": "The two tests were not made in the same way, so they cannot be compared.",
    "no_before": "No usable test was made before the work, so there is nothing to compare with.",
    "no_after": "No usable test was made after the work, so there is nothing to compare with.",
}
NO_SAVING = "The tests do not support an estimate for this home."


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """One headline and the sentence that goes with it."""

    headline: str
    sentence: str


def air_said(air: Mapping[str, Any]) -> Said:
    """The change of air leakage with its uncertainty, or that it was not measured."""
    verdict, reduction = air["verdict"], air["reduction"]
    if reduction is None:
        return Said(headline="Change: not measured", sentence=NOT_SHOWN[verdict])
    low, high = air["low"], air["high"]
    if not air["is_clear"]:
        limits = "" if low is None else f" It lies between {_more_or_less(low, high)}."
        return Said(
            headline="No change that the tests can tell",
            sentence=f"The difference is not larger than the tests' own uncertainty.{limits}",
        )
    direction = "less" if reduction > 0 else "more"
    headline = f"{percent(abs(reduction))} {direction} air leaks through this home"
    if low is None or high is None:
        return Said(headline=headline, sentence="How sure this figure is was not worked out.")
    ends = sorted((abs(low), abs(high)))
    if low * high < 0:
        return Said(headline=headline, sentence=f"Very likely between {_more_or_less(low, high)}.")
    return Said(
        headline=headline,
        sentence=f"Very likely between {percent(ends[0])} and {percent(ends[1])} {direction}.",
    )


def savings_said(savings: Mapping[str, Any] | None) -> Said:
    """The estimated saving as a range; already rounded to what an estimate can carry."""
    if savings is None:
        return Said(headline="Not estimated", sentence=NO_SAVING)
    energy = "; ".join(_energy(part) for part in savings["energy"])
    money = savings["dollars"]
    if money is None:
        return Said(headline=energy, sentence="")
    energy = f"{energy}."
    low, high = money["low"], money["high"]
    if high <= 0 and low < 0:
        spent = words.money_range(-high, -low)
        return Said(headline=f"{spent} more to pay", sentence=energy)
    if low < 0:
        return Said(
            headline="No saving that the estimate can tell",
            sentence=(
                f"Between {words.money(-low)} a year more and {words.money(high)} a year less to "
                "pay."
            ),
        )
    if high == 0:
        return Said(headline="No saving is expected", sentence="")
    return Said(headline=words.money_range(low, high), sentence=energy)


def _energy(part: Mapping[str, Any]) -> str:
    decimals = part["decimals"]
    unit = f"{UNITS[part['unit']]} of {FUELS[part['fuel']]} for {part['part']}"
    if part["fuel"] == "electricity":
        unit = f"kWh of electricity for {part['part']}"
    return words.quantity_range(part["low"], part["high"], unit, decimals)


def _more_or_less(low: float, high: float) -> str:
    """Ends of a reduction that may be on either side of nothing: "2 % more and 8 % less"."""
    return f"{_signed(low)} and {_signed(high)}"


def _signed(reduction: float) -> str:
    return f"{percent(abs(reduction))} {'more' if reduction < 0 else 'less'}"
