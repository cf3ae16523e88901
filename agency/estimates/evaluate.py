"""Bridge from plain inputs to the savings formulas and back to figures that can be stored."""

import hashlib
import json
from collections.abc import Callable, Mapping
from dataclasses import asdict, fields, is_dataclass
from datetime import date
from typing import Any

import numpy as np
from numpy.typing import NDArray

from agency.estimates.inputs import EstimateInputs, EstimateOutcome, PriceInput, Refusal
from agency.estimates.missing import given, missing_for_all, missing_for_parts
from agency.estimates.sentences import estimate_sentences
from agency.estimates.weather_year import HOURS_A_YEAR, WeatherYear
from agency.leakage.errors import LeakageError
from agency.leakage.infiltration import BASIC_MODEL, basic_coefficients, basic_mean_flow
from agency.leakage.version import MATHS_VERSION
from agency.savings.errors import SavingsError
from agency.savings.fuels import MMBTU, heat_content, unit_of
from agency.savings.humidity import (
    humidity_ratio_from_dew_point,
    humidity_ratio_from_relative,
)
from agency.savings.infiltration_energy import Hours, air_density_at
from agency.savings.money import PriceRow, cost_of
from agency.savings.showing import Range, shown_energy, shown_money
from agency.savings.uncertainty import (
    CONFIDENCE,
    Cooling,
    Draws,
    Heating,
    Leakage,
    Spread,
    cooling_savings,
    draw,
    heating_savings,
    range_of,
)

Array = NDArray[np.float64]

METHOD = BASIC_MODEL.method + ", hourly; heat below the balance temperature"
ELECTRICITY = "electricity"
SECONDS_AN_HOUR = 3600.0


def estimate_infiltration(inputs: EstimateInputs) -> EstimateOutcome:
    """First-year saving from less air leakage, as a range, or what is missing for it.

    Never raises for what a person can put right: that comes back as a refusal.
    """
    refusals = missing_for_all(inputs)
    figures: dict[str, Any] = {}
    if not refusals:
        try:
            figures, refusals = _figures(inputs)
        except (LeakageError, SavingsError) as error:
            refusals = [_refused("estimate", "", error)]
    if figures and figures["heating"] is None and figures["cooling"] is None:
        figures = {}
    described = _described(inputs)
    return EstimateOutcome(
        method=METHOD,
        edition=BASIC_MODEL.edition,
        maths_version=MATHS_VERSION,
        weather=_weather_name(inputs.weather),
        inputs=described,
        input_hash=_hash_of(described),
        figures=figures,
        refusals=[refusal.as_dict() for refusal in refusals],
    )


def _figures(inputs: EstimateInputs) -> tuple[dict[str, Any], list[Refusal]]:
    weather = given(inputs.weather)
    density = air_density_at(_elevation(inputs))
    hours = hours_of(weather)
    draws = draw(_leakage(inputs), _spread(inputs), trials=inputs.trials, seed=inputs.seed)
    refusals = missing_for_parts(inputs)
    saved: dict[str, Array] = {}
    money: dict[str, Array] = {}
    figures: dict[str, Any] = {}
    for part, fuel, price, work in (
        ("heating", inputs.heating_fuel, inputs.heating_price, _heating),
        ("cooling", ELECTRICITY, inputs.electricity_price, _cooling),
    ):
        figures[part] = None
        if any(refusal.part == part for refusal in refusals):
            continue
        try:
            saved[part] = work(inputs, draws, hours, density)
        except SavingsError as error:
            refusals.append(_refused(part, f"{part}_efficiency", error))
            continue
        try:
            if price is not None:
                money[part] = _cost(fuel, price, saved[part])
        except SavingsError as error:
            refusals.append(_refused("money", f"{part}_price", error))
        figures[part] = _part_figures(fuel, saved[part], money.get(part))
    figures |= {
        "total": _total(saved, money),
        "infiltration": _infiltration(inputs, hours),
        "confidence": CONFIDENCE,
        "trials": inputs.trials,
        "seed": inputs.seed,
        "air_density": density,
        "hours": weather.hours,
        "hours_left_out": HOURS_A_YEAR - weather.hours,
    }
    figures["words"] = estimate_sentences(figures)
    return figures, refusals


def _leakage(inputs: EstimateInputs) -> Leakage:
    return Leakage(
        before=given(inputs.before.leakage_area),
        after=given(inputs.after.leakage_area),
        storeys=given(inputs.storeys),
        shelter_class=given(inputs.shelter_class),
    )


def _spread(inputs: EstimateInputs) -> Spread:
    return Spread(
        before=given(inputs.before.relative_uncertainty),
        after=given(inputs.after.relative_uncertainty),
        shared=inputs.shared_uncertainty,
        **asdict(inputs.spread),
    )


def _heating(inputs: EstimateInputs, draws: Draws, hours: Hours, density: float) -> Array:
    unit_of(inputs.heating_fuel)
    heating = Heating(
        setpoint=inputs.heating_setpoint,
        balance_offset=inputs.heating_balance_offset,
        efficiency=given(inputs.heating_efficiency),
        distribution_efficiency=given(inputs.distribution_efficiency),
    )
    return heating_savings(draws, _leakage(inputs), heating, hours=hours, density=density)


def _cooling(inputs: EstimateInputs, draws: Draws, hours: Hours, density: float) -> Array:
    cooling = Cooling(
        setpoint=inputs.cooling_setpoint,
        indoor_relative_humidity=inputs.cooling_humidity,
        pressure=float(given(inputs.weather).pressure.mean()),
        efficiency=given(inputs.cooling_efficiency),
        distribution_efficiency=given(inputs.distribution_efficiency),
    )
    return cooling_savings(draws, _leakage(inputs), cooling, hours=hours, density=density)


def _cost(fuel: str, price: PriceInput, saved: Array) -> Array:
    if price.fuel != fuel:
        raise SavingsError(
            f"the price is for {price.fuel}, but the plant uses {fuel}. Choose a price of {fuel}."
        )
    row = PriceRow(
        fuel=price.fuel,
        unit=price.unit,
        price=price.price,
        effective_from=date.fromisoformat(price.effective_from),
        source=price.source,
    )
    return cost_of(saved, price=row)


def _part_figures(fuel: str, saved: Array, money: Array | None) -> dict[str, Any]:
    """One plant's saving in its fuel's unit, in million Btu and in dollars."""
    content = heat_content(fuel=fuel, unit=unit_of(fuel))
    return {
        "fuel": fuel,
        "unit": content.unit,
        "heat_content": {
            "btu": content.btu,
            "year": content.year,
            "source": content.source,
            "provenance": content.provenance,
        },
        "fuel_units": as_json(range_of(saved / content.joules), shown_energy),
        "mmbtu": as_json(range_of(saved / MMBTU), shown_energy),
        "dollars": None if money is None else as_json(range_of(money), shown_money),
    }


def _total(saved: Mapping[str, Array], money: Mapping[str, Array]) -> dict[str, Any]:
    """Sums made trial by trial; money only when every part has a price."""
    priced = bool(saved) and money.keys() == saved.keys()
    return {
        "mmbtu": as_json(range_of(_sum(saved) / MMBTU), shown_energy) if saved else None,
        "dollars": as_json(range_of(_sum(money)), shown_money) if priced else None,
    }


def _sum(parts: Mapping[str, Array]) -> Array:
    return np.asarray(np.sum(list(parts.values()), axis=0))


def _infiltration(inputs: EstimateInputs, hours: Hours) -> dict[str, Any]:
    """Mean natural air flow over the hours below the heating set point, before and after."""
    heated = hours.temperature < inputs.heating_setpoint
    if not heated.any():
        return {"season": "heating", "before": None, "after": None, "air_changes": None}
    leakage = _leakage(inputs)
    before, after = basic_mean_flow(
        leakage_area=np.array([leakage.before, leakage.after]),
        coefficients=basic_coefficients(
            storeys=[leakage.storeys] * 2, shelter_class=leakage.shelter_class
        ),
        indoor_temperature=inputs.heating_setpoint,
        outdoor_temperature=hours.temperature[heated],
        wind_speed=hours.wind_speed[heated],
    )
    volume = inputs.volume
    return {
        "season": "heating",
        "before": float(before),
        "after": float(after),
        "air_changes": None
        if volume is None
        else {
            "before": float(before * SECONDS_AN_HOUR / volume),
            "after": float(after * SECONDS_AN_HOUR / volume),
        },
    }


def hours_of(weather: WeatherYear) -> Hours:
    """The dew point gives the humidity where the file has it, else the relative humidity."""
    dew = np.isfinite(weather.dew_point)
    ratio = np.empty(weather.hours)
    ratio[dew] = humidity_ratio_from_dew_point(
        dew_point=weather.dew_point[dew], pressure=weather.pressure[dew]
    )
    ratio[~dew] = humidity_ratio_from_relative(
        temperature=weather.temperature[~dew],
        relative_humidity=weather.relative_humidity[~dew],
        pressure=weather.pressure[~dew],
    )
    return Hours(
        temperature=weather.temperature, wind_speed=weather.wind_speed, humidity_ratio=ratio
    )


def _elevation(inputs: EstimateInputs) -> float:
    """The house's own, else the weather station's; `_described` says which."""
    if inputs.elevation is not None:
        return inputs.elevation
    return given(inputs.weather).elevation


def as_json(figures: Range, shown: Callable[[Range], Range]) -> dict[str, Any]:
    return {**asdict(figures), "shown": asdict(shown(figures))}


def _described(inputs: EstimateInputs) -> dict[str, Any]:
    """The inputs as plain data; the weather year by its file's hash and what was dropped."""
    described = {
        field.name: getattr(inputs, field.name)
        for field in fields(inputs)
        if field.name != "weather"
    }
    for name, value in described.items():
        if is_dataclass(value) and not isinstance(value, type):
            described[name] = asdict(value)
    described["elevation_from"] = "house" if inputs.elevation is not None else "weather station"
    described["wind_convention"] = BASIC_MODEL.wind_convention
    weather = inputs.weather
    described["weather"] = weather and {
        "station": weather.station,
        "kind": weather.kind,
        "origin": weather.origin,
        "sha256": weather.sha256,
        "elevation": weather.elevation,
        "hours": weather.hours,
        "quality": weather.quality.summary(),
    }
    return described


def _hash_of(described: Mapping[str, Any]) -> str:
    basis = {
        "method": METHOD,
        "edition": BASIC_MODEL.edition,
        "maths_version": MATHS_VERSION,
        "inputs": described,
    }
    text = json.dumps(basis, sort_keys=True, separators=(",", ":"), allow_nan=False)
    return hashlib.sha256(text.encode()).hexdigest()


def _weather_name(weather: WeatherYear | None) -> str:
    if weather is None:
        return ""
    return f"{weather.station}, {weather.kind} {weather.origin}, sha256 {weather.sha256}"


def _refused(part: str, field: str, error: Exception) -> Refusal:
    """A formula's own refusal; its text already says what is allowed and what to do."""
    text = str(error)
    return Refusal(
        part=part,
        field=field,
        reason=text[:1].upper() + text[1:],
        next_step="Correct the value and the estimate is worked out again.",
    )
