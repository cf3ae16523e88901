"""An estimate of measures in the rows and words its page shows."""

from collections.abc import Mapping, Sequence
from math import floor
from typing import Any

from agency.estimates.models import MeasuresEstimate, PackageRun
from agency.programs.models import Fuel
from agency.wording import words
from agency.wording.templatetags.wording import moment

from .tornado_drawing import NAMES

FUELS = dict(Fuel.choices)
AIR_LINES = (
    ("year", "Whole year"),
    ("heating_season", "Hours below the heating set point"),
    ("cooling_season", "Hours above the cooling set point"),
)
HOUR_LINES = (("calm", "1 hour in 20 is below"), ("middle", "Half of the hours are below"),
              ("windy", "1 hour in 20 is above"))  # fmt: skip


def measures_words(estimate: MeasuresEstimate | None) -> dict[str, Any]:
    """What the page of the job says of its measures; nothing while nothing is estimated."""
    if estimate is None or not estimate.figures:
        return {}
    air = estimate.figures["natural_air"]
    variant = f", {air['variant']}" if air["variant"] else ""
    return {
        "sentences": estimate.figures["words"][:2],
        "model": f"{air['method'][:1].lower()}{air['method'][1:]}{variant}",
    }


def refusal_words(refusals: Sequence[Mapping[str, str]]) -> list[str]:
    """Each refusal with its next step."""
    return [f"{one['reason']} {one['next_step']}" for one in refusals]


def step_rows(estimate: MeasuresEstimate) -> list[dict[str, Any]]:
    """One row a measure in the order of installation."""
    verdicts = estimate.figures["measures"] or {}
    return [_step_row(step, verdicts.get(step["measure"])) for step in estimate.figures["steps"]]


def _step_row(step: Mapping[str, Any], verdict: Mapping[str, Any] | None) -> dict[str, Any]:
    row: dict[str, Any] = {
        "name": step["name"],
        "saving": saving_words(step),
        "energy": [use_words(use) for use in step["uses"]],
        "alone": None if step["alone_dollars"] is None else _tens(step["alone_dollars"]),
        "balance": words.temperature(step["balance_temperature"]),
    }
    if verdict is None:
        return row
    return row | {
        "cost": words.money(verdict["cost"]),
        "lifetime": words.count(verdict["lifetime"], "year"),
        "sir": ratio_words(verdict["sir"]),
        "sir_range": ratio_range(verdict["sir_range"]),
        "npv": _tens(verdict["npv"]),
        "payback": _years(verdict["payback"]),
        "state": "met" if verdict["passes"] else "missed",
        "word": "Pays for itself" if verdict["passes"] else "Does not pay",
    }


def saving_words(saved: Mapping[str, Any]) -> str:
    """A first-year saving as a range: dollars, or million Btu without prices."""
    dollars = saved["dollars"]
    if dollars is None:
        shown = saved["mmbtu"]["shown"]
        return words.quantity_range(shown["low"], shown["high"], "million Btu", 1)
    return words.money_range(dollars["shown"]["low"], dollars["shown"]["high"])


def use_words(use: Mapping[str, Any]) -> str:
    """ "Heating: 110 to 190 therms"."""
    shown = use["shown"]
    decimals = 0 if abs(shown["high"]) >= 10 else 1
    text = words.quantity_range(shown["low"], shown["high"], use["unit"], decimals)
    return f"{use['end_use'].capitalize()}: {text}"


def package_rows(
    package: Mapping[str, Any] | None, names: Mapping[str, str]
) -> dict[str, Any] | None:
    """The package's verdict."""
    if package is None:
        return None
    failing = [names[one] for one in package["failing"]]
    return {
        "state": "met" if package["passes_with_each"] else "missed",
        "word": "Pays for itself" if package["passes_with_each"] else "Does not pass",
        "sentence": _package_sentence(package),
        "failing": failing,
        "rows": [
            ("Cost with incidental repairs", words.money(package["cost"])),
            ("Lifetime saving in today's money", _tens(package["present_value"])),
            (
                "Savings-to-investment ratio",
                ratio_words(package["sir"]),
                f"9 in 10 trials: {ratio_range(package['sir_range'])}; "
                f"asked for: {package['required']:g}",
            ),
            (
                "Net present value",
                _tens(package["npv"]),
                f"9 in 10 trials: {_tens(package['npv_range']['low'])} to "
                f"{_tens(package['npv_range']['high'])}",
            ),
            (
                "Health and safety, beside the test",
                words.money(package["excepted_cost"]),
                "10 CFR 440.21(c) excepts it",
            ),
        ],
    }


def _package_sentence(package: Mapping[str, Any]) -> str:
    if package["passes_with_each"]:
        return "Each measure and the package pay for themselves."
    if package["passes"]:
        return "The package pays for itself, but not each measure."
    return "The package does not pay for itself."


def package_words(run: PackageRun, names: Mapping[str, str]) -> dict[str, Any]:
    """What one budget buys."""
    figures = run.figures or {}
    found: dict[str, Any] = {
        "budget": words.money(run.budget),
        "asked": f"Asked by {run.asked_by}, {moment(run.asked_at)}",
        "is_waiting": run.computed_at is None,
        "refusals": refusal_words(run.refusals),
    }
    if not figures:
        return found
    return found | {
        "chosen": [names[one] for one in figures["chosen"]],
        "left_out": [(names[one["measure"]], one["why"]) for one in figures["left_out"]],
        "rows": [
            ("Spent", words.money(figures["package"]["cost"])),
            ("Left", words.money(figures["left_of_budget"])),
            ("Savings-to-investment ratio", ratio_words(figures["package"]["sir"])),
            ("Net present value", _tens(figures["package"]["npv"])),
        ],
    }


def turning_words(figures: Mapping[str, Any] | None) -> str:
    """Which assumption alone turns the verdict."""
    if not figures:
        return ""
    named = [NAMES[one].lower() for one in figures["turning"]]
    if not named:
        return "No single assumption in its range turns the verdict of the package."
    return f"Alone in its range, this turns the verdict of the package: {', '.join(named)}."


def energy_rows(figures: Mapping[str, Any]) -> list[list[str]]:
    """Energy bought before and after, by end use and fuel."""
    after = {(one["end_use"], one["fuel"]): one["value"] for one in figures["after"]}
    before = {(one["end_use"], one["fuel"]): one["value"] for one in figures["before"]}
    units = {(one["end_use"], one["fuel"]): one["unit"]
             for one in [*figures["before"], *figures["after"]]}  # fmt: skip
    return [
        [
            f"{key[0].capitalize()}, {FUELS[key[1]].lower()}",
            _energy(before.get(key, 0.0), unit),
            _energy(after.get(key, 0.0), unit),
        ]
        for key, unit in units.items()
    ]


def _energy(value: float, unit: str) -> str:
    return words.quantity(value, unit, 0 if abs(value) >= 10 else 1)


def calibration_rows(figures: Mapping[str, Any]) -> list[list[str]]:
    """Billed over modelled energy where a bill is known."""
    return [
        [
            one["end_use"].capitalize(),
            words.number(one["ratio"], 2),
            f"{one['lowest']:g} to {one['highest']:g}",
        ]
        for one in figures["calibration"]
    ]


def air_rows(air: Mapping[str, Any]) -> list[list[str]]:
    """Natural air flow before and after by season, hour and with fans."""
    before, after = air["before"], air["after"]
    rows = [[name, words.flow(before[key]), words.flow(after[key])] for key, name in AIR_LINES]
    rows += [
        [name, words.flow(before["hours"][key]), words.flow(after["hours"][key])]
        for key, name in HOUR_LINES
    ]
    if air["fans"]:
        rows.append(["Year, with the fans that run all day", words.flow(before["with_fans"]),
                     words.flow(after["with_fans"])])  # fmt: skip
    changes = [one["effective_air_changes"] for one in (before, after)]
    if None not in changes:
        texts = [words.quantity(one, "1/h", 2) for one in changes]
        rows.append(["Air changes, effective for a steady pollutant", *texts])
    return rows


def month_rows(air: Mapping[str, Any]) -> list[list[str]]:
    """Mean flow of each month; empty for a year with gaps."""
    if air["before"]["months"] is None:
        return []
    months = zip(words.MONTHS, air["before"]["months"], air["after"]["months"], strict=True)
    return [[name, words.flow(before), words.flow(after)] for name, before, after in months]


def model_rows(air: Mapping[str, Any]) -> list[tuple[str, ...]]:
    """Which model gave the air flow, and the quick estimate under its own name."""
    rows: list[tuple[str, ...]] = [("Model", air["method"]), ("Edition", air["edition"])]
    if air["variant"]:
        rows.append(("Variant", air["variant"]))
    quick = air["quick"]
    if quick is not None:
        rows.append(
            (
                f"Quick estimate: {quick['method']}",
                words.flow(quick["before"]),
                f"Divided by {quick['divisor']:.1f}, {quick['provenance']}. Before the work; a "
                "first guess that no figure above rests on and that is no credit for ventilation.",
            )
        )
    return rows


def assumption_rows(inputs: Mapping[str, Any]) -> list[list[str]]:
    """Figures nobody measured at this house, lifetimes included, with their provenance."""
    lifetimes = [
        [
            f"Lifetime of {one['name']}",
            words.count(one["lifetime"], "year"),
            one["lifetime_source"],
        ]
        for one in inputs["measures"]
        if one["category"] == "energy"
    ]
    return lifetimes + [
        [one["name"], one["value"], f"{one['source']} ({one['provenance']})"]
        for one in inputs["assumptions"]
    ]


def basis_rows(estimate: MeasuresEstimate) -> list[tuple[str, str]]:
    """Method, edition, weather, version and hash."""
    leaks = (estimate.inputs or {}).get("leaks") or {}
    rows = [
        ("Method", estimate.method),
        ("Edition", estimate.edition or "none"),
        ("Leakage", leaks.get("basis") or "none"),
        ("Weather", estimate.weather or "none"),
        ("Maths version", estimate.maths_version or "none"),
        ("Worked out", moment(estimate.computed_at)),
        ("Input hash", estimate.input_hash),
    ]
    return [*rows, *_price_rows((estimate.inputs or {}).get("prices") or [])]


def _price_rows(prices: Sequence[Mapping[str, Any]]) -> list[tuple[str, str]]:
    return [
        (
            f"Price of {FUELS[one['fuel']].lower()}",
            f"${one['price']:g} a {one['unit']} from {one['effective_from']}, {one['source']}",
        )
        for one in prices
    ]


def ratio_words(ratio: float | None) -> str:
    """Rounded down, so that what falls short never reads as what is asked for."""
    return "nothing is spent" if ratio is None else words.number(floor(ratio * 100) / 100, 2)


def ratio_range(found: Mapping[str, float] | None) -> str:
    """Both ends, rounded down alike."""
    if found is None:
        return "no range"
    return f"{ratio_words(found['low'])} to {ratio_words(found['high'])}"


def _years(payback: float | None) -> str:
    return "never" if payback is None else words.quantity(payback, "years", 1)


def _tens(dollars: float) -> str:
    """Modelled money to whole tens."""
    return words.money(round(dollars / 10) * 10)
