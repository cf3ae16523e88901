"""Bills, a measured saving and what a grant realized in the words and rows their pages show."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from agency.charts.change_point import fahrenheit
from agency.estimates.bill_sentences import UNIT_WORDS
from agency.estimates.bill_studies import BillAnalysis, ProgramRealization
from agency.estimates.billing import Bill
from agency.wording import words
from agency.wording.templatetags.wording import day, moment

FAHRENHEIT_STEP = 1.8
"""[°F/K]  Exact."""
UNKNOWN = "cannot be told"
SIDES = ("before", "after")
PARAMETERS = {"base_load": "Base load", "slope": "{} slope", "base": "{} base"}


@dataclass(frozen=True, slots=True, kw_only=True)
class AnalysisWords:
    """One analysis as its page shows it."""

    sentences: Sequence[str]
    before: str
    after: str
    before_note: str
    after_note: str
    difference: str
    rows: Sequence[Sequence[str]]
    refusals: Sequence[str]
    checks: Sequence[Mapping[str, Any]]
    left_out: Sequence[str]
    basis: Sequence[tuple[str, str]]
    has_saving: bool


def analysis_words(analysis: BillAnalysis) -> AnalysisWords:
    """The analysis worded; measured figures carry their range."""
    figures = analysis.figures or {}
    sides = [figures.get(side) for side in SIDES]
    unit = _unit(figures)
    before, after = (_normal_year(side, unit) for side in sides)
    saving = figures.get("saving")
    return AnalysisWords(
        sentences=figures.get("words") or [],
        before=before,
        after=after,
        before_note=_range_note(sides[0], unit),
        after_note=_range_note(sides[1], unit),
        difference=_difference(saving, unit),
        rows=_rows(figures, sides),
        refusals=analysis.refusals,
        checks=analysis.checks,
        left_out=figures.get("left_out") or [],
        basis=_basis(analysis, figures),
        has_saving=saving is not None,
    )


def bill_rows(bills: Sequence[Bill], *, unit: str, joules: float) -> list[list[str]]:
    """Bills as rows of a table."""
    return [
        [
            f"{day(one.start)} to {day(one.end)}",
            words.number(one.days),
            words.quantity(one.energy / joules, UNIT_WORDS[unit], 1),
            words.quantity(one.energy / joules / one.days, f"{UNIT_WORDS[unit]}/day", 2),
            ("estimated" if one.estimated else "read")
            + (", a correction" if one.is_correction else ""),
            one.file.name,
        ]
        for one in bills
    ]


def share_range(figures: Mapping[str, float]) -> str:
    """A realization rate with its range: "71 % (58 to 83 %)"."""
    low, high = figures["low"], figures["high"]
    ends = f"{words.number(100 * low)} to {words.percent(high)}"
    return f"{words.percent(figures['central'])} ({ends})"


def realization_basis(found: ProgramRealization) -> list[tuple[str, str]]:
    """What a rate rests on."""
    figures = found.figures or {}
    return [
        ("Method", f"{found.method}; {found.edition}"),
        ("Confidence of the ranges", words.percent(figures.get("confidence"))),
        ("Trials and seed", f"{figures.get('trials')}, {figures.get('seed')}"),
        ("Maths version", found.maths_version),
        ("Worked out", moment(found.computed_at)),
        ("Input hash", found.input_hash),
    ]


def _unit(figures: Mapping[str, Any]) -> str:
    return UNIT_WORDS[figures["unit"]["name"]] if figures else ""


def _decimals(*values: float) -> int:
    """As many as a rounded figure needs: none from 10 on."""
    return 0 if max(map(abs, values)) >= 10 else 2


def _normal_year(side: Mapping[str, Any] | None, unit: str) -> str:
    """What a side would use in a normal year; told only with its range."""
    told = (side or {}).get("normal_year_range")
    if told is None:
        return "cannot be told"
    shown = told["fuel_units"]["shown"]
    return words.quantity(shown["central"], unit, _decimals(shown["high"]))


def _range_note(side: Mapping[str, Any] | None, unit: str) -> str:
    told = (side or {}).get("normal_year_range")
    if told is None:
        return ""
    shown = told["fuel_units"]["shown"]
    return words.quantity_range(shown["low"], shown["high"], unit, _decimals(shown["high"]))


def _difference(saving: Mapping[str, Any] | None, unit: str) -> str:
    if saving is None:
        return "no difference is told"
    shown = saving["fuel_units"]["shown"]
    central = shown["central"]
    way = "down" if central >= 0 else "up"
    size = words.quantity(abs(central), unit, _decimals(central))
    return f"{way} {size}, {words.percent(abs(saving['share']))}"


def _rows(figures: Mapping[str, Any], sides: Sequence[Mapping[str, Any] | None]) -> list[list[str]]:
    """Each figure before and after the work, with its range."""
    if not any(sides):
        return []
    joules = figures["unit"]["joules"]
    unit = UNIT_WORDS[figures["unit"]["name"]]
    told = [_parameters(side, unit, joules) for side in sides]
    names = list(dict.fromkeys(name for one in told for name in one))
    rows = [[name, *(one.get(name, UNKNOWN) for one in told)] for name in names]
    for name, word in (
        ("Bills", lambda side: words.number(side["bills"])),
        ("Days", lambda side: f"{words.number(side['days'])}, from {side['first_day']}"),
        ("CV(RMSE)", lambda side: _percent(side["cv_rmse"])),
        ("NMBE", lambda side: _percent(side["nmbe"])),
        ("Lag-1 autocorrelation", lambda side: _number(side["autocorrelation"])),
    ):
        rows.append([name, *(UNKNOWN if side is None else word(side) for side in sides)])
    return rows


def _parameters(side: Mapping[str, Any] | None, unit: str, joules: float) -> dict[str, str]:
    if side is None:
        return {}
    told = {}
    for one in side["parameters"]:
        name = PARAMETERS[one["name"]].format(one["side"].capitalize())
        ends = [one["value"], one["low"], one["high"]]
        if one["name"] == "base":
            told[name] = _interval(
                [None if end is None else fahrenheit(end) for end in ends], "°F", 1
            )
        elif one["name"] == "slope":
            scale = joules * FAHRENHEIT_STEP
            told[name] = _interval(
                [None if end is None else end / scale for end in ends], f"{unit}/(°F day)", 3
            )
        else:
            told[name] = _interval(
                [None if end is None else end / joules for end in ends], f"{unit}/day", 2
            )
    return told


def _interval(ends: Sequence[float | None], unit: str, decimals: int) -> str:
    value, low, high = ends
    return words.quantity_interval(
        {"value": value, "low": low, "high": high}, unit=unit, decimals=decimals
    )


def _percent(share: float | None) -> str:
    return UNKNOWN if share is None else words.percent(share, 1)


def _number(value: float | None) -> str:
    return UNKNOWN if value is None else words.number(value, 2)


def _basis(analysis: BillAnalysis, figures: Mapping[str, Any]) -> list[tuple[str, str]]:
    fractional = figures.get("fractional") or {}
    forms = [
        (name, fractional.get(key))
        for name, key in (
            ("simplified form of 2014", "simplified_2014"),
            ("simplified form of 2002", "simplified_2002"),
            ("bootstrap", "bootstrap"),
        )
    ]
    told = "; ".join(f"{words.percent(value)} by {name}" for name, value in forms if value)
    confidence = fractional.get("confidence")
    return [
        ("Method", analysis.method),
        ("Edition", analysis.edition),
        (
            "Fractional uncertainty",
            f"{told}, at {words.percent(confidence)} confidence" if told
            else fractional.get("reason") or UNKNOWN,
        ),
        ("Confidence of the ranges", words.percent(figures.get("confidence"))),
        ("Trials and seed", f"{figures.get('trials')}, {figures.get('seed')}"),
        ("Weather", analysis.weather or "none"),
        ("Maths version", analysis.maths_version),
        ("Worked out", moment(analysis.computed_at)),
        ("Input hash", analysis.input_hash),
    ]  # fmt: skip
