"""What a budget buys and what a changed figure does, as plain data."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from agency.leakage.errors import LeakageError
from agency.leakage.version import MATHS_VERSION
from agency.savings.errors import SavingsError
from agency.savings.fuels import MMBTU
from agency.savings.showing import Range, shown_energy, shown_money

from ..evaluate import as_json
from ..measures_inputs import MeasuresInputs
from ..weather_year import WeatherYear
from .economics import Case, bought_by, judged, verdict_figures
from .measures import refused
from .money import money_of, prices_of

METHOD = "Ranked by the ratio alone, taken while they fit, valued together, worst struck off"


@dataclass(frozen=True, slots=True, kw_only=True)
class PackageOutcome:
    """What a budget buys, ready to be stored."""

    maths_version: str
    figures: dict[str, Any]
    refusals: list[dict[str, str]]


def package_of(inputs: MeasuresInputs, weather: WeatherYear, *, budget: float) -> PackageOutcome:
    """Choose the measures a budget buys; what a person can put right comes back as a refusal."""
    try:
        found = bought_by(Case(inputs, weather), budget)
    except (LeakageError, SavingsError) as error:
        told = [refused("package", error).as_dict()]
        return PackageOutcome(maths_version=MATHS_VERSION, figures={}, refusals=told)
    figures = {
        "method": METHOD,
        "budget": budget,
        "chosen": list(found.chosen),
        "ranking": list(found.ranking),
        "left_out": [{"measure": one.code, "why": one.why} for one in found.left_out],
        "left_of_budget": found.left_of_budget,
        "package": verdict_figures(found.verdict.package),
        "measures": {code: verdict_figures(one) for code, one in found.verdict.measures.items()},
    }
    return PackageOutcome(maths_version=MATHS_VERSION, figures=figures, refusals=[])


@dataclass(frozen=True, slots=True, kw_only=True)
class WhatIf:
    """Figures turned at the desk; each replaces what the estimate assumed."""

    heating_setpoint: float
    """[°C]"""
    heating_efficiency: float
    leakage_saved: float
    """Over what the tests or the plan say. [-]"""
    price: float
    """Over today's. [-]"""
    discount_rate: float
    without: frozenset[str] = frozenset()
    """Measures left out."""


def assumed(inputs: MeasuresInputs) -> WhatIf:
    """Where the sliders stand: at what the estimate itself assumed."""
    return WhatIf(
        heating_setpoint=inputs.house.heating_setpoint,
        heating_efficiency=inputs.house.heating_efficiency,
        leakage_saved=1.0,
        price=1.0,
        discount_rate=inputs.economics.discount_rate,
    )


def what_if(inputs: MeasuresInputs, weather: WeatherYear, turned: WhatIf) -> dict[str, Any]:
    """The central figures with the sliders as turned; no ranges, nothing is stored.

    Raises
    ------
    SavingsError, LeakageError
        As of the formulas: the caller shows the text.
    """
    changed = _turned(inputs, turned)
    case = Case(changed, weather)
    savings = case.stepped()
    per_joule = prices_of(changed)
    verdict = judged(case, savings)
    return {
        "dollars": _central(float(money_of(savings.saved, per_joule)[0]), shown_money),
        "mmbtu": _central(
            float(sum(energy[0] for energy in savings.saved.values())) / MMBTU, shown_energy
        ),
        "package": verdict_figures(verdict.package),
        "measures": {
            step.name: {
                "dollars": _central(float(money_of(step.saved, per_joule)[0]), shown_money),
                **verdict_figures(verdict.measures[step.name]),
            }
            for step in savings.steps
        },
    }


def _central(value: float, shown: Any) -> dict[str, Any]:
    return as_json(Range(low=value, central=value, high=value), shown)["shown"]["central"]


def _turned(inputs: MeasuresInputs, turned: WhatIf) -> MeasuresInputs:
    leaks, house = inputs.leaks, inputs.house
    after = leaks.before - turned.leakage_saved * (leaks.before - leaks.after)
    updates: Mapping[str, Any] = {
        "house": house.model_copy(
            update={
                "heating_setpoint": turned.heating_setpoint,
                "heating_efficiency": turned.heating_efficiency,
            }
        ),
        "leaks": leaks.model_copy(update={"after": after}),
        "measures": [one for one in inputs.measures if one.id not in turned.without],
        "prices": [
            one.model_copy(update={"price": one.price * turned.price}) for one in inputs.prices
        ],
        "economics": inputs.economics.model_copy(update={"discount_rate": turned.discount_rate}),
    }
    return inputs.model_copy(update=updates)
