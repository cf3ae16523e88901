"""Savings of plant, hot water, lights and appliances, each before less after."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from agency.leakage.units import KELVIN_PER_FAHRENHEIT, METRE_PER_INCH, SECOND_PER_HOUR
from agency.savings.fuels import BTU
from agency.savings.money import PriceRow, cost_of
from agency.savings.refusals import (
    Array,
    above_zero,
    at_least_zero,
    efficiency,
    finite,
    share,
)

BTU_PER_WATT_HOUR = SECOND_PER_HOUR / BTU
"""Seasonal ratings in Btu/(W h) over this are heat per energy. [-]  3.41214.  Derived."""
CUBIC_METRE_PER_GALLON = 231 * METRE_PER_INCH**3
"""US gallon, 231 in³. [m³/gal]  Exact."""
WATER_HEAT_CAPACITY = 8.33 * BTU / KELVIN_PER_FAHRENHEIT / CUBIC_METRE_PER_GALLON
"""8.33 Btu/(gal °F). [J/(m³ K)]  4.18e6.  Common practice, no source."""
HOURS_A_DAY = 24.0
HOURS_A_YEAR = 8760.0


@dataclass(frozen=True, slots=True, kw_only=True)
class LightingSaving:
    """What new lamps save and what the heating then has to make up."""

    electricity: Array
    """[J]"""
    heating_penalty: Array
    """More energy bought for heating. [J]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class FuelSwitch:
    """Energy and money when a load moves from one fuel to another."""

    energy_before: Array
    """Of the old fuel. [J]"""
    energy_after: Array
    """Of the new fuel. [J]"""
    money_saved: Array
    """Negative when the new fuel costs more. [$]"""


def seasonal_efficiency(rating: ArrayLike) -> Array:
    """Heat moved per energy in, of a seasonal rating in Btu per watt-hour (SEER, HSPF).

    A rating by another test procedure (SEER2, HSPF2) is another quantity of the same unit; give
    both machines by the same one.
    """
    return np.asarray(above_zero("Seasonal rating", rating, unit="Btu/(W h)") / BTU_PER_WATT_HOUR)


def saving_from_replacement(*, energy: ArrayLike, before: ArrayLike, after: ArrayLike) -> Array:
    r"""Energy not bought when a machine of the same fuel carries the same load.

    .. math:: S = E (1 - \eta_0 / \eta_1)

    Parameters
    ----------
    energy : array_like
        Bought by the old machine for the load that is left after other measures. [J]
    before, after : array_like
        Efficiencies :math:`\eta`, of one kind: both seasonal or both steady. [-]

    Returns
    -------
    ndarray
        Negative when the new machine is worse. [J]
    """
    used = at_least_zero("Energy", energy, unit="J")
    old = efficiency("Efficiency before", before)
    return np.asarray(used * (1 - old / efficiency("Efficiency after", after)))


def fuel_switch(
    *,
    energy: ArrayLike,
    before: ArrayLike,
    after: ArrayLike,
    price_before: PriceRow,
    price_after: PriceRow,
) -> FuelSwitch:
    """Energy and money when a machine of another fuel carries the same load.

    Parameters
    ----------
    energy : array_like
        Of the old fuel. [J]
    before, after : array_like
        Efficiencies of the old and the new machine. [-]
    price_before, price_after : PriceRow
        Of the old and the new fuel.
    """
    old = at_least_zero("Energy", energy, unit="J")
    load = old * efficiency("Efficiency before", before)
    new = load / efficiency("Efficiency after", after)
    saved = cost_of(old, price=price_before) - cost_of(new, price=price_after)
    return FuelSwitch(energy_before=old, energy_after=np.asarray(new), money_saved=saved)


def water_heat(*, volume: ArrayLike, rise: ArrayLike) -> Array:
    """Heat in drawn hot water; energy bought is it over the heater's efficiency (UEF).

    Parameters
    ----------
    volume : array_like
        Drawn, or no longer drawn after low-flow fittings. [m³]
    rise : array_like
        Tap less inlet temperature. [K]

    Returns
    -------
    ndarray
        [J]
    """
    drawn = at_least_zero("Hot water", volume, unit="m³")
    return np.asarray(WATER_HEAT_CAPACITY * drawn * at_least_zero("Rise", rise, unit="K"))


def wrap_heat(
    *, before: ArrayLike, after: ArrayLike, temperature_difference: ArrayLike, hours: ArrayLike
) -> Array:
    """Heat a wrapped tank or pipe no longer loses; energy bought is it over the efficiency.

    Parameters
    ----------
    before, after : array_like
        Conductance of tank or pipe, U times A. [W/K]
    temperature_difference : array_like
        Water less surrounding air. [K]
    hours : array_like
        That it stands hot, 8,760 for a tank in a year. [h]

    Returns
    -------
    ndarray
        [J]
    """
    lost = at_least_zero("Conductance before", before, unit="W/K")
    still_lost = at_least_zero("Conductance after", after, unit="W/K")
    warm = finite("Temperature difference", temperature_difference, unit="K")
    seconds = at_least_zero("Time", hours, unit="h") * SECOND_PER_HOUR
    return np.asarray((lost - still_lost) * warm * seconds)


def lighting_saving(
    *,
    power_saved: ArrayLike,
    hours: ArrayLike,
    heating_share: ArrayLike,
    heating_efficiency: ArrayLike,
    distribution_efficiency: ArrayLike,
) -> LightingSaving:
    """Electricity of lamps not burnt, and the heat of theirs that is missed.

    Parameters
    ----------
    power_saved : array_like
        Old less new lamps. [W]
    hours : array_like
        Burnt in a year. [h]
    heating_share : array_like
        Share of those hours in the heating season and heated rooms. [-]
    heating_efficiency, distribution_efficiency : array_like
        Of the plant that makes up for it. [-]

    References
    ----------
    .. [1] Common practice, no source.
    """
    seconds = at_least_zero("Hours of light", hours, unit="h") * SECOND_PER_HOUR
    electricity = np.asarray(finite("Power saved", power_saved, unit="W") * seconds)
    missed = electricity * share("Share in the heating season", heating_share)
    plant = efficiency("Heating efficiency", heating_efficiency)
    pipes = efficiency("Distribution efficiency", distribution_efficiency)
    return LightingSaving(
        electricity=electricity, heating_penalty=np.asarray(missed / (plant * pipes))
    )


def yearly_use(*, metered: ArrayLike, hours: ArrayLike) -> Array:
    """A year's energy of an appliance metered for some hours, as if all hours were like them.

    Parameters
    ----------
    metered : array_like
        [J]
    hours : array_like
        Length of the metering, more than 0. [h]
    """
    used = at_least_zero("Metered energy", metered, unit="J")
    return np.asarray(used * HOURS_A_YEAR / above_zero("Hours metered", hours, unit="h"))


def appliance_saving(*, before: ArrayLike, rated: ArrayLike) -> Array:
    """Metered use of the old appliance less the rated use of the new one, of a year each.

    Negative when the old one uses less than the new one's label says. [J]
    """
    old = at_least_zero("Metered use", before, unit="J")
    return np.asarray(old - at_least_zero("Rated use", rated, unit="J"))


def mean_setpoint(*, setpoint: ArrayLike, setback: ArrayLike, hours: ArrayLike) -> Array:
    """Set point averaged over a day with a setback, for the package or a load at a set point.

    Parameters
    ----------
    setpoint : array_like
        Outside the setback. [°C]
    setback : array_like
        Down from it for heating; negative, up, for cooling. [K]
    hours : array_like
        Of setback a day, 0 to 24. [h]

    Notes
    -----
    The house is taken to follow at once; a heavy or tight one cools more slowly and saves less.
    """
    part = share("Share of the day set back", np.asarray(hours, dtype=np.float64) / HOURS_A_DAY)
    kept = finite("Set point", setpoint, unit="°C")
    return np.asarray(kept - finite("Setback", setback, unit="K") * part)
