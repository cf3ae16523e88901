"""Bridge from one account's bills to a measured saving with its range, or why there is none."""

from collections.abc import Callable, Sequence
from dataclasses import asdict
from math import isfinite
from typing import Any

import numpy as np

from agency.estimates.bill_inputs import BillInputs, BillOutcome, DailyMeans, NormalYear
from agency.estimates.bill_sentences import bill_sentences
from agency.estimates.missing import given
from agency.leakage.version import MATHS_VERSION
from agency.savings.bills import Bill, tabulate
from agency.savings.change_point import Fits, Model, Search, fit_change_points
from agency.savings.errors import SavingsError
from agency.savings.fit_quality import lag_one_autocorrelation, student_quantile
from agency.savings.fuels import MMBTU, heat_content, unit_of
from agency.savings.normal_year import Bases, normalized_annual, rejections, standard_errors
from agency.savings.savings_bootstrap import bootstrap_normal_year, bootstrap_saving
from agency.savings.showing import Range, shown_energy

from .bill_checks import Told, bill_checks
from .bill_described import described
from .bill_uncertainty import fractional
from .hashing import hash_of
from .sides import missing_days, parted, weather_of

METHOD = "change point by global search on degree days of each bill, normal-year consumption"
EDITION = "RP-1050 (2003), PRISM (1986), ASHRAE Guideline 14 (2002, 2014), from memory"
SEED = 20260101
"""Of the bootstrap: the same bills must give the same range. [-]"""
LINE_POINTS = 60
"""Places at which the fitted line is stored for its drawing."""
BEYOND = 2.0
"""The line is drawn this far beyond the mildest and the coldest bill. [K]"""


def analyse_bills(inputs: BillInputs) -> BillOutcome:
    """The saving of a normal year as a range.

    Never raises for what a person can put right: that comes back as a refusal in words.
    """
    told = described(inputs, seed=SEED)
    figures: dict[str, Any] = {}
    checks: list[dict[str, Any]] = []
    refusals = _missing(inputs)
    if not refusals:
        try:
            figures, refusals, checks = _figures(inputs)
        except SavingsError as error:
            refusals = [_sentence(error)]
    if figures:
        figures["words"] = bill_sentences(figures, refusals)
    return BillOutcome(
        method=f"{inputs.model}: {METHOD}",
        edition=EDITION,
        maths_version=MATHS_VERSION,
        weather=_weather_words(inputs.weather, inputs.normal),
        inputs=told,
        input_hash=hash_of(told, method=METHOD, edition=EDITION, maths_version=MATHS_VERSION),
        figures=figures,
        refusals=refusals,
        checks=checks,
    )


def _missing(inputs: BillInputs) -> list[str]:
    """What must be there before anything can be fitted."""
    missing = []
    if inputs.work_started_on is None:
        missing.append("The first working day is not known. Record it on the page of the job.")
    if inputs.work_ended_on is None:
        missing.append("The work has not ended: no final inspection is passed. Wait for it.")
    if not inputs.bills:
        missing.append("The account has no bills. Upload a file of them.")
    if inputs.weather is None:
        missing.append(
            "No weather station stands for the county of the house. Choose one in the records."
        )
    if inputs.normal is None:
        missing.append(inputs.no_normal_because)
    return missing


def _figures(inputs: BillInputs) -> tuple[dict[str, Any], list[str], list[dict[str, Any]]]:
    weather = given(inputs.weather)
    sides = parted(
        inputs.bills,
        work_started_on=given(inputs.work_started_on),
        work_ended_on=given(inputs.work_ended_on),
        window=int(inputs.setting("bills.window_days")),
    )
    normal = np.array(given(inputs.normal).means)
    fits: dict[str, Fits] = {}
    shown: dict[str, Any] = {}
    refusals: list[str] = []
    for side, bills in (("before", sides.before), ("after", sides.after)):
        try:
            fits[side] = _fit(inputs, bills, weather)
            shown[side], faults = _side(inputs, bills, fits[side], normal)
        except SavingsError as error:
            faults = [_sentence(error)]
        refusals += [f"{side.capitalize()} the work: {fault}" for fault in faults]
    content = heat_content(fuel=inputs.fuel, unit=unit_of(inputs.fuel))
    figures: dict[str, Any] = {
        "fuel": inputs.fuel,
        "unit": {"name": content.unit, "joules": content.joules, "source": content.source},
        "model": inputs.model,
        "before": shown.get("before"),
        "after": shown.get("after"),
        "left_out": list(sides.left_out),
        "confidence": inputs.setting("bills.confidence"),
        "trials": int(inputs.setting("bills.trials")),
        "seed": SEED,
        "saving": None,
        "fractional": None,
    }
    if not refusals:
        figures |= _saving(inputs, fits["before"], fits["after"], normal)
    told = {side: Told(bills=fit.bills[0], cv_rmse=fit.cv_rmse[0]) for side, fit in fits.items()}
    days = {"before": _days(sides.before), "after": _days(sides.after)}
    checks = bill_checks(inputs, told, days=days, fractional=figures["fractional"])
    return figures, refusals, checks


def _fit(inputs: BillInputs, bills: Sequence[Bill], weather: DailyMeans) -> Fits:
    if not bills:
        raise SavingsError("no whole bill lies on this side. Upload bills of these days.")
    missing = missing_days(bills, weather)
    if missing:
        raise SavingsError(missing)
    own = weather_of(bills, weather)
    model = Model(inputs.model)
    highest = "bills.base_highest" if model is Model.HEATING else "bills.base_highest_cooling"
    search = Search(
        lowest=inputs.setting("bills.base_lowest"),
        highest=inputs.setting(highest),
        coarse=int(inputs.setting("bills.base_coarse_steps")),
        fine=inputs.setting("bills.base_step"),
    )
    return fit_change_points(tabulate([bills], own), own, model=model, search=search)


def _side(
    inputs: BillInputs, bills: Sequence[Bill], fits: Fits, normal: Any
) -> tuple[dict[str, Any], list[str]]:
    """The figures of one side, and in words why its fit is not to be believed."""
    fewest = int(inputs.setting("bills.fewest_bills"))
    faults = [one.message for one in rejections(fits, fewest_bills=fewest)[0]]
    days, least = _days(bills), int(inputs.setting("bills.fewest_days"))
    if days < least:
        faults.append(f"The bills cover {days} days; at least {least} are needed. Add bills.")
    years = None
    if not faults:
        trials = bootstrap_normal_year(
            fits, home=0, normal=normal, trials=int(inputs.setting("bills.trials")), seed=SEED
        )
        years = trials.range_of(confidence=inputs.setting("bills.confidence"))
    joules = heat_content(fuel=inputs.fuel, unit=unit_of(inputs.fuel)).joules
    residuals, points = fits.residuals[0], _points(bills, fits)
    return {
        "bills": len(bills),
        "days": days,
        "first_day": bills[0].start.isoformat(),
        "last_day": bills[-1].end.isoformat(),
        "parameters": _parameters(inputs, fits),
        "normal_year": float(normalized_annual(fits, normal=normal).energy[0]),
        "normal_year_range": None if years is None else _energy(years, joules),
        "cv_rmse": _number(fits.cv_rmse[0]),
        "nmbe": _number(
            (fits.weights[0] * residuals).sum() / fits.degrees_of_freedom[0] / fits.mean_rate[0]
        ),
        "autocorrelation": _number(lag_one_autocorrelation(residuals)),
        "faults": faults,
        "points": points,
        "line": _line(fits, [point["temperature"] for point in points]),
    }, faults


def _parameters(inputs: BillInputs, fits: Fits) -> list[dict[str, Any]]:
    """Base load, slopes and bases, each with its interval where it can be told."""
    sides = [str(side) for side in fits.model.sides]
    named = [
        ("base_load", "", fits.base_load[0]),
        *(("slope", side, value) for side, value in zip(sides, fits.slopes[0], strict=True)),
        *(("base", side, value) for side, value in zip(sides, fits.bases[0], strict=True)),
    ]
    quantile = student_quantile(
        confidence=inputs.setting("bills.confidence"),
        degrees_of_freedom=fits.degrees_of_freedom[0],
    )
    half_widths = quantile * standard_errors(fits, bases=Bases.FITTED)[0]
    return [
        {
            "name": name,
            "side": side,
            "value": float(value),
            "low": _number(value - half),
            "high": _number(value + half),
        }
        for (name, side, value), half in zip(named, half_widths, strict=True)
    ]


def _saving(inputs: BillInputs, before: Fits, after: Fits, normal: Any) -> dict[str, Any]:
    trials = bootstrap_saving(
        before=before,
        after=after,
        home=0,
        normal=normal,
        trials=int(inputs.setting("bills.trials")),
        seed=SEED,
    )
    joules = heat_content(fuel=inputs.fuel, unit=unit_of(inputs.fuel)).joules
    saved = trials.range_of(confidence=inputs.setting("bills.confidence"))
    was = float(normalized_annual(before, normal=normal).energy[0])
    return {
        "saving": _energy(saved, joules) | {"share": saved.central / was},
        "fractional": fractional(inputs, before, after, trials=trials, used_before=was),
    }


def _points(bills: Sequence[Bill], fits: Fits) -> list[dict[str, Any]]:
    running = np.concatenate([[0.0], np.cumsum(fits.weather.temperature)])
    first, days = fits.table.first[0], fits.table.days[0]
    means = (running[first + days] - running[first]) / days
    return [
        {
            "start": bill.start.isoformat(),
            "end": bill.end.isoformat(),
            "days": bill.days,
            "temperature": float(mean),
            "rate": float(rate),
            "predicted": float(predicted),
        }
        for bill, mean, rate, predicted in zip(
            bills, means, fits.table.rate[0], fits.predicted[0], strict=True
        )
    ]


def _line(fits: Fits, met: Sequence[float]) -> list[dict[str, float]]:
    """What the model says of a day of each temperature the bills have met."""
    at = np.linspace(min(met) - BEYOND, max(met) + BEYOND, LINE_POINTS)
    at = np.unique(np.concatenate([at, fits.bases[0]]))
    rate = np.full_like(at, fits.base_load[0])
    for side, slope, base in zip(fits.model.sides, fits.slopes[0], fits.bases[0], strict=True):
        rate += slope * np.maximum(0.0, base - at if side == "heating" else at - base)
    return [{"temperature": float(t), "rate": float(r)} for t, r in zip(at, rate, strict=True)]


def _energy(figures: Range, joules: float) -> dict[str, Any]:
    """A range in million Btu and in the fuel's own unit, as it is and as it may be shown."""
    return {
        "mmbtu": _shown(figures, MMBTU, shown_energy),
        "fuel_units": _shown(figures, joules, shown_energy),
    }


def _shown(figures: Range, unit: float, shown: Callable[[Range], Range]) -> dict[str, Any]:
    scaled = Range(low=figures.low / unit, central=figures.central / unit, high=figures.high / unit)
    return {**asdict(scaled), "shown": asdict(shown(scaled))}


def _days(bills: Sequence[Bill]) -> int:
    return sum(bill.days for bill in bills)


def _number(value: Any) -> float | None:
    """A figure that can be told, else None."""
    return float(value) if isfinite(value) else None


def _sentence(error: Exception) -> str:
    text = str(error)
    return text[:1].upper() + text[1:]


def _weather_words(weather: DailyMeans | None, normal: NormalYear | None) -> str:
    parts = []
    if weather is not None:
        parts.append(f"actual days of {weather.station}")
    if normal is not None:
        parts.append(f"normal year {normal.station}, {normal.kind}, sha256 {normal.sha256[:12]}")
    return "; ".join(parts)
