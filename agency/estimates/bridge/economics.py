"""Savings-to-investment of measures and package, what a budget buys, and what moves the result."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from agency.savings.changes import Change
from agency.savings.cost_effectiveness import Kind, Measure, PackageVerdict, Verdict, judge
from agency.savings.house_energy import EndUse, House, Site
from agency.savings.package import Package, build_package
from agency.savings.present_value import simple_payback
from agency.savings.refusals import Array
from agency.savings.sensitivity import Tornado, tornado
from agency.savings.showing import Range
from agency.savings.stepped import Calibration, SteppedSavings, stepped_savings
from agency.savings.uncertainty import Leakage, draw, range_of

from ..measures_inputs import MeasureInput, MeasuresInputs
from .changes import changes_of, energy_measures
from .houses import calibrations_of, house_of, site_of, spread_of
from .money import ByFuel, factors_of, lifetime_money, money_of, prices_of

NORMAL_90 = 1.645
"""Standard deviations that hold the middle 90 %. [-]"""


class Case:
    """One house with its measures, valued again and again under other assumptions."""

    def __init__(self, inputs: MeasuresInputs, weather: Any) -> None:
        self.inputs = inputs
        self.house: House = house_of(inputs, weather)
        self.site: Site = site_of(inputs, weather)
        self.calibrations: Mapping[EndUse, Calibration] = calibrations_of(
            inputs, self.house, self.site
        )
        self.changes: Sequence[Change] = changes_of(inputs)

    def stepped(self, changes: Sequence[Change] | None = None, house: House | None = None
                ) -> SteppedSavings:  # fmt: skip
        """Savings of all measures or of some, of this house or of a varied one."""
        return stepped_savings(
            house or self.house,
            self.changes if changes is None else changes,
            self.site,
            calibrations=self.calibrations,
        )

    def values(
        self, savings: SteppedSavings, *, discount_rate: float, price: float = 1.0
    ) -> dict[str, float]:
        """Lifetime money of each step, by the measure's id. [$]"""
        per_joule = {fuel: price * one for fuel, one in prices_of(self.inputs).items()}
        return {
            step.name: float(
                lifetime_money(step.saved, per_joule, self.factors(step.name, discount_rate))[0]
            )
            for step in savings.steps
        }

    def factors(self, measure: str, discount_rate: float) -> ByFuel:
        """Present value factors over the lifetime of a measure."""
        years = next(one.lifetime for one in self.inputs.measures if one.id == measure)
        return factors_of(self.inputs, years=years, discount_rate=discount_rate)


def costs_of(measures: Iterable[MeasureInput]) -> list[Measure]:
    """Each measure's costs as the judgement wants them."""
    return [
        Measure(
            code=one.id,
            material=one.material,
            installation=one.labour,
            supervision=one.supervision,
            repairs=one.repairs,
            kind=Kind(one.category),
        )
        for one in measures
    ]


def judged(case: Case, savings: SteppedSavings) -> PackageVerdict:
    """Each measure and the package, in the central case."""
    economics = case.inputs.economics
    return judge(
        costs_of(case.inputs.measures),
        present_values=case.values(savings, discount_rate=economics.discount_rate),
        required=economics.required,
    )


def measure_rows(
    case: Case, savings: SteppedSavings, drawn: Mapping[str, Mapping[Any, Array]]
) -> dict[str, Any]:
    """Verdict of each energy measure with the range of its ratio, by id."""
    verdict, per_joule = judged(case, savings), prices_of(case.inputs)
    rows = {}
    for one in energy_measures(case.inputs):
        found = verdict.measures[one.id]
        factors = case.factors(one.id, case.inputs.economics.discount_rate)
        trials = lifetime_money(drawn[one.id], per_joule, factors)
        step = next(step for step in savings.steps if step.name == one.id)
        rows[one.id] = {
            **verdict_figures(found),
            "sir_range": None if found.cost == 0 else _plain(range_of(trials / found.cost)),
            "payback": simple_payback(
                cost=found.cost, first_year_saving=float(money_of(step.saved, per_joule)[0])
            ),
            "lifetime": one.lifetime,
            "lifetime_source": one.lifetime_source,
            "factors": dict(factors),
        }
    return rows


def package_figures(
    case: Case, savings: SteppedSavings, drawn: Mapping[str, Any]
) -> dict[str, Any]:
    """The package's verdict, with the range of its ratio summed trial by trial."""
    verdict, per_joule = judged(case, savings), prices_of(case.inputs)
    rate = case.inputs.economics.discount_rate
    trials = sum(
        lifetime_money(saved, per_joule, case.factors(name, rate)) for name, saved in drawn.items()
    )
    cost = verdict.package.cost
    return {
        **verdict_figures(verdict.package),
        "sir_range": None if cost == 0 else _plain(range_of(np.asarray(trials) / cost)),
        "npv_range": _plain(range_of(np.asarray(trials) - cost)),
        "failing": list(verdict.failing),
        "excepted_cost": verdict.excepted_cost,
        "passes_with_each": verdict.passes,
    }


def verdict_figures(found: Verdict) -> dict[str, Any]:
    """A verdict as plain data, unrounded."""
    return {
        "present_value": found.present_value,
        "cost": found.cost,
        "sir": found.sir,
        "npv": found.npv,
        "required": found.required,
        "passes": found.passes,
    }


def bought_by(case: Case, budget: float) -> Package:
    """What a budget buys, valued anew for every choice."""
    by_id = {change.name: change for change in case.changes}
    rate = case.inputs.economics.discount_rate

    def savings_of(codes: tuple[str, ...]) -> Mapping[str, float]:
        chosen = case.stepped([by_id[code] for code in codes])
        return case.values(chosen, discount_rate=rate)

    return build_package(
        costs_of(case.inputs.measures),
        install_order=[change.name for change in case.changes],
        savings_of=savings_of,
        budget=budget,
        required=case.inputs.economics.required,
    )


def sensitivity_of(case: Case) -> Tornado:
    """Prices, discount rate, leakage, set point and efficiency, each in turn."""
    spread, economics = case.inputs.spread, case.inputs.economics
    low, high = economics.low_rate, economics.high_rate
    rate = economics.discount_rate
    assumptions = {
        "prices": _around(1.0, economics.price_swing),
        "discount_rate": Range(low=min(low, rate), central=rate, high=max(high, rate)),
        "setpoint": _around(0.0, NORMAL_90 * spread.setpoint),
        "heating_efficiency": _around(1.0, NORMAL_90 * spread.heating_efficiency),
    }
    leakage = _leakage_saved(case)
    if leakage is not None:
        assumptions["leakage"] = leakage
    return tornado(assumptions, evaluate=lambda values: _valued(case, values))


def _valued(case: Case, values: Mapping[str, float]) -> Verdict:
    varied = replace(
        case.house,
        setpoint=case.house.setpoint + values["setpoint"],
        heating=replace(
            case.house.heating,
            efficiency=case.house.heating.efficiency * values["heating_efficiency"],
        ),
    )
    inputs, leaks = case.inputs, case.inputs.leaks
    part = values.get("leakage", 1.0)
    after = leaks.before - part * (leaks.before - leaks.after)
    changed = inputs.model_copy(update={"leaks": leaks.model_copy(update={"after": after})})
    savings = case.stepped(changes_of(changed), varied)
    present = case.values(savings, discount_rate=values["discount_rate"], price=values["prices"])
    return judge(
        costs_of(inputs.measures), present_values=present, required=inputs.economics.required
    ).package


def _leakage_saved(case: Case) -> Range | None:
    """Leakage saved over its central value; None when the tests found none."""
    leaks = case.inputs.leaks
    if leaks.before == leaks.after:
        return None
    draws = draw(
        Leakage(before=leaks.before, after=leaks.after, storeys=1.0, shelter_class=1),
        spread_of(case.inputs),
        trials=case.inputs.trials,
        seed=case.inputs.seed,
    )
    found = range_of(draws.area_saved / (leaks.before - leaks.after))
    return Range(low=min(found.low, 1.0), central=1.0, high=max(found.high, 1.0))


def _around(central: float, swing: float) -> Range:
    return Range(low=central - swing, central=central, high=central + swing)


def _plain(found: Range) -> dict[str, float]:
    return {"low": found.low, "central": found.central, "high": found.high}
