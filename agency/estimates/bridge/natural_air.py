"""Natural air flow of a house through the year, before and after the work."""

from typing import Any

import numpy as np

from agency.leakage.errors import LeakageError
from agency.leakage.infiltration_combining import (
    N_FACTOR,
    effective_mean_air_changes,
    rough_natural_flow,
    with_fans,
)
from agency.savings.house_energy import Site
from agency.savings.infiltration_energy import SECONDS_AN_HOUR
from agency.savings.natural_flow import natural_flow
from agency.savings.refusals import Array

from ..measures_inputs import MeasuresInputs
from ..weather import MONTH_DAYS
from .houses import model_words

SHIELDING = {1: "exposed", 2: "exposed", 3: "normal", 4: "well shielded", 5: "well shielded"}
"""Words of the N-factor's table by shelter class; common practice, no source."""
HOURS_A_YEAR = 8760
QUANTILES = {"calm": 0.05, "middle": 0.50, "windy": 0.95}


def natural_air(inputs: MeasuresInputs, site: Site) -> dict[str, Any]:
    """Yearly, seasonal, monthly and hourly flow by the model chosen; the quick estimate apart."""
    given = inputs.house
    # Between both set points nobody heats or cools, and the rooms follow the outdoor air.
    indoors = np.clip(site.hours.temperature, given.heating_setpoint, given.cooling_setpoint)
    fans = given.exhaust is not None or given.supply is not None
    return {
        **model_words(inputs),
        "before": _through_the_year(inputs, site, indoors, inputs.leaks.before),
        "after": _through_the_year(inputs, site, indoors, inputs.leaks.after),
        "fans": fans,
        "quick": _quick(inputs),
    }


def _through_the_year(
    inputs: MeasuresInputs, site: Site, indoors: Array, leakage_area: float
) -> dict[str, Any]:
    given, temperature = inputs.house, site.hours.temperature
    leaks = natural_flow(
        leakage_area=leakage_area,
        leaks=site.coefficients,
        temperature_difference=indoors - temperature,
        wind_speed=site.hours.wind_speed,
    )
    flow = with_fans(infiltration=leaks, supply=given.supply or 0.0, exhaust=given.exhaust or 0.0)
    return {
        "year": float(leaks.mean()),
        "heating_season": _mean(leaks, temperature < given.heating_setpoint),
        "cooling_season": _mean(leaks, temperature > given.cooling_setpoint),
        "months": _months(leaks),
        "hours": {name: float(np.quantile(leaks, at)) for name, at in QUANTILES.items()},
        "with_fans": float(flow.mean()),
        "effective_air_changes": None
        if given.volume is None
        else float(effective_mean_air_changes(flow * SECONDS_AN_HOUR / given.volume)),
    }


def _mean(flow: Array, hours: Any) -> float | None:
    return float(flow[hours].mean()) if hours.any() else None


def _months(flow: Array) -> list[float] | None:
    """Means of the months; None for a year with gaps, whose hours cannot be told apart."""
    if len(flow) != HOURS_A_YEAR:
        return None
    ends = np.cumsum(np.asarray(MONTH_DAYS) * 24)[:-1]
    return [float(month.mean()) for month in np.split(flow, ends)]


def _quick(inputs: MeasuresInputs) -> dict[str, Any] | None:
    """The N-factor estimate, under its own name; None where its table does not reach."""
    if inputs.leaks.flow_50 is None:
        return None
    try:
        found = rough_natural_flow(
            inputs.leaks.flow_50,
            climate=inputs.n_factor_climate,
            storeys=inputs.house.storeys,
            shielding=SHIELDING[inputs.house.shelter_class],
            leaks="normal",
        )
    except LeakageError:
        return None
    return {
        "method": found.method,
        "divisor": found.divisor,
        "before": float(found.flow),
        "provenance": N_FACTOR.provenance,
    }
