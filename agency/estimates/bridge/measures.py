"""One estimate of measures: every step as a range, its money, and what the package is worth."""

import hashlib
import json
from collections.abc import Mapping
from typing import Any

from agency.leakage.errors import LeakageError
from agency.leakage.version import MATHS_VERSION
from agency.savings.errors import SavingsError
from agency.savings.fuels import MMBTU, heat_content, unit_of
from agency.savings.house_energy import Use, energy_bought
from agency.savings.refusals import Array
from agency.savings.showing import shown_energy, shown_money
from agency.savings.stepped import Energies, SteppedSavings, above_bill
from agency.savings.stepped_ranges import SteppedTrials, stepped_trials
from agency.savings.uncertainty import CONFIDENCE, range_of

from ..evaluate import as_json
from ..inputs import EstimateOutcome, Refusal
from ..measures_inputs import MeasuresInputs
from ..measures_sentences import package_sentences, step_sentence
from ..weather_year import WeatherYear
from .economics import Case, measure_rows, package_figures, sensitivity_of
from .houses import billed_uses, model_words, spread_of
from .money import ByFuel, money_of, prices_of
from .natural_air import natural_air

METHOD = (
    "Hourly heat balance, measures in the order of installation; leakage, weather year, set point "
    "and efficiency drawn together"
)


def outcome_of(inputs: MeasuresInputs, weather: WeatherYear) -> EstimateOutcome:
    """The estimate, ready to be stored; what a person can put right comes back as a refusal."""
    refusals: list[Refusal] = []
    figures: dict[str, Any] = {}
    try:
        figures, refusals = _figures(inputs, weather)
    except (LeakageError, SavingsError) as error:
        refusals = [refused("estimate", error)]
    return EstimateOutcome(
        method=METHOD,
        edition=edition_of(inputs),
        maths_version=MATHS_VERSION,
        weather=f"{weather.station}, {weather.kind} {weather.origin}, sha256 {weather.sha256}",
        inputs=described(inputs, weather),
        input_hash=hash_of(inputs, weather),
        figures=figures,
        refusals=[one.as_dict() for one in refusals],
    )


def edition_of(inputs: MeasuresInputs) -> str:
    """Of the infiltration model, the part of the estimate that has editions."""
    return model_words(inputs)["edition"]


def described(inputs: MeasuresInputs, weather: WeatherYear) -> dict[str, Any]:
    """The inputs as plain data, the weather year by its file's hash."""
    return inputs.model_dump(mode="json") | {
        "weather": {
            "station": weather.station,
            "kind": weather.kind,
            "origin": weather.origin,
            "sha256": weather.sha256,
            "elevation": weather.elevation,
            "hours": weather.hours,
            "quality": weather.quality.summary(),
        }
    }


def inputs_from(stored: Mapping[str, Any]) -> MeasuresInputs:
    """The inputs of a stored estimate."""
    return MeasuresInputs.model_validate({k: v for k, v in stored.items() if k != "weather"})


def hash_of(inputs: MeasuresInputs, weather: WeatherYear) -> str:
    """SHA-256 over inputs, method, edition and maths version."""
    basis = {
        "method": METHOD,
        "edition": edition_of(inputs),
        "maths_version": MATHS_VERSION,
        "inputs": described(inputs, weather),
    }
    text = json.dumps(basis, sort_keys=True, separators=(",", ":"), allow_nan=False)
    return hashlib.sha256(text.encode()).hexdigest()


def refused(part: str, error: Exception) -> Refusal:
    """A formula's own refusal; its text already says what is allowed and what to do."""
    text = str(error)
    return Refusal(
        part=part,
        field="",
        reason=text[:1].upper() + text[1:],
        next_step="Then have the estimate worked out again.",
    )


def _figures(inputs: MeasuresInputs, weather: WeatherYear) -> tuple[dict[str, Any], list[Refusal]]:
    case = Case(inputs, weather)
    savings = case.stepped()
    _refuse_above_bill(case, savings)
    trials = stepped_trials(
        case.house,
        case.changes,
        case.site,
        calibrations=case.calibrations,
        spread=spread_of(inputs),
        trials=inputs.trials,
        seed=inputs.seed,
    )
    figures: dict[str, Any] = {
        "before": _uses(savings.before),
        "after": _uses(savings.after),
        "modelled": _uses(energy_bought(case.house, case.site)),
        "calibration": [
            {"end_use": str(use), "ratio": one.ratio, "lowest": one.lowest, "highest": one.highest}
            for use, one in case.calibrations.items()
        ],
        "balance_temperature": float(savings.balance_temperature[0]),
        "natural_air": natural_air(inputs, case.site),
        "confidence": CONFIDENCE,
        "hours": weather.hours,
        "air_density": case.site.density,
    }
    worth, money, refusals = _worth(case, savings, trials)
    figures |= worth
    figures["steps"] = [
        _step(inputs, savings, index, saved, money) for index, (_, saved) in enumerate(trials.steps)
    ]
    figures["total"] = _saved(trials.total, money)
    figures["words"] = package_sentences(figures)
    return figures, refusals


def _worth(
    case: Case, savings: SteppedSavings, trials: SteppedTrials
) -> tuple[dict[str, Any], ByFuel | None, list[Refusal]]:
    """Economics and prices; without a price of every fuel neither, and why."""
    try:
        return _economics(case, savings, trials), prices_of(case.inputs), []
    except SavingsError as error:
        nothing = {"measures": None, "package": None, "tornado": None}
        return nothing, None, [refused("money", error)]


def _refuse_above_bill(case: Case, savings: SteppedSavings) -> None:
    for one in above_bill(savings.saved, billed_uses(case.inputs)):
        unit = unit_of(one.use.fuel)
        joules = heat_content(fuel=one.use.fuel, unit=unit).joules
        raise SavingsError(
            f"the saving of {one.use.end_use} would be {one.saved / joules:,.0f} {unit} a year; "
            f"{one.billed / joules:,.0f} {unit} were billed for it. Check the bills and the "
            "measures' figures."
        )


def _economics(case: Case, savings: SteppedSavings, trials: SteppedTrials) -> dict[str, Any]:
    drawn = dict(trials.steps)
    found = sensitivity_of(case)
    return {
        "measures": measure_rows(case, savings, drawn),
        "package": package_figures(case, savings, drawn),
        "tornado": {
            "base": {"npv": found.base.npv, "sir": found.base.sir, "passes": found.base.passes},
            "bars": [
                {
                    "name": bar.name,
                    "low": bar.assumed.low,
                    "central": bar.assumed.central,
                    "high": bar.assumed.high,
                    "at_low": bar.at_low.npv,
                    "at_high": bar.at_high.npv,
                }
                for bar in found.bars
            ],
            "turning": list(found.turning),
        },
    }


def _step(
    inputs: MeasuresInputs,
    savings: SteppedSavings,
    index: int,
    trials: Energies,
    money: Mapping[str, float] | None,
) -> dict[str, Any]:
    step = savings.steps[index]
    measure = next(one for one in inputs.measures if one.id == step.name)
    found = _saved(trials, money)
    alone = None if money is None else float(money_of(step.alone, money)[0])
    return {
        "measure": measure.id,
        "kind": measure.kind,
        "name": measure.name,
        **found,
        "alone_dollars": alone,
        "balance_temperature": float(step.balance_temperature[0]),
        "words": step_sentence(measure.name, found),
    }


def _saved(trials: Energies, money: Mapping[str, float] | None) -> dict[str, Any]:
    """One saving by use, in million Btu and in dollars."""
    return {
        "uses": [
            {
                "end_use": str(use.end_use),
                "fuel": use.fuel,
                "unit": unit_of(use.fuel),
                **as_json(range_of(energy / _joules(use)), shown_energy),
            }
            for use, energy in trials.items()
            if energy.any()
        ],
        "mmbtu": as_json(range_of(_sum(trials) / MMBTU), shown_energy),
        "dollars": None
        if money is None
        else as_json(range_of(money_of(trials, money)), shown_money),
    }


def _sum(energies: Energies) -> Array:
    return sum(energies.values())  # type: ignore[return-value]


def _uses(energies: Energies) -> list[dict[str, Any]]:
    return [
        {
            "end_use": str(use.end_use),
            "fuel": use.fuel,
            "unit": unit_of(use.fuel),
            "value": float(energy[0] / _joules(use)),
        }
        for use, energy in energies.items()
    ]


def _joules(use: Use) -> float:
    return heat_content(fuel=use.fuel, unit=unit_of(use.fuel)).joules
