"""Energy a house buys in a year, hour by hour from its shell, its leaks and its plant."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, fields
from enum import StrEnum
from typing import NamedTuple

import numpy as np

from agency.leakage.infiltration import house_blocks
from agency.savings.infiltration_energy import (
    AIR_HEAT_CAPACITY,
    SECONDS_AN_HOUR,
    Hours,
    latent_cooling_load,
)
from agency.savings.natural_flow import Leaks, natural_flow
from agency.savings.plant import bought_energy
from agency.savings.refusals import Array, above_zero, at_least_zero, efficiency, finite, share

Figure = Array | float
"""One house, or an entry a house (or a trial of one house)."""
ELECTRICITY = "electricity"


class EndUse(StrEnum):
    """What energy is bought for."""

    HEATING = "heating"
    COOLING = "cooling"
    HOT_WATER = "hot water"
    BASELOAD = "baseload"


class Use(NamedTuple):
    """One end use of one fuel."""

    end_use: EndUse
    fuel: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Plant:
    """A machine that makes heat."""

    fuel: str
    efficiency: Figure
    """Heat out per energy in. [-]"""

    def __post_init__(self) -> None:
        efficiency(f"Efficiency with {self.fuel}", self.efficiency)


@dataclass(frozen=True, slots=True, kw_only=True)
class Cooling:
    """How a house is cooled, by electricity."""

    setpoint: Figure
    """[°C]"""
    gains: Figure
    """From people, sun, lights and appliances while it cools. [W]"""
    indoor_humidity_ratio: Figure
    """[kg/kg]"""
    efficiency: Figure
    distribution_efficiency: Figure

    def __post_init__(self) -> None:
        finite("Set point for cooling", self.setpoint, unit="°C")
        at_least_zero("Gains while cooling", self.gains, unit="W")
        share("Indoor humidity ratio", self.indoor_humidity_ratio)
        efficiency("Cooling efficiency", self.efficiency)
        share("Distribution efficiency of cooling", self.distribution_efficiency)


@dataclass(frozen=True, slots=True, kw_only=True)
class House:
    """The state of a house that its energy follows from."""

    conductance: Figure
    """Of the whole shell, U times A. [W/K]"""
    leakage_area: Figure
    """Effective, at 4 Pa with discharge coefficient 1. [m²]"""
    setpoint: Figure
    """Of the heating, over the day. [°C]"""
    gains: Figure
    """From people, sun, lights and appliances while it heats. [W]"""
    heating: Plant
    distribution_efficiency: Figure
    """Share of the heating's heat that reaches the rooms. [-]"""
    cooling: Cooling | None
    """None for a house that is not cooled."""
    hot_water: Plant
    hot_water_heat: Figure
    """A year's heat in hot water drawn and lost from tank and pipes. [J]"""
    baseload: Figure
    """A year's electricity for lights and appliances. [J]"""

    def __post_init__(self) -> None:
        above_zero("Conductance of the shell", self.conductance, unit="W/K")
        at_least_zero("Leakage area", self.leakage_area, unit="m²")
        finite("Set point", self.setpoint, unit="°C")
        at_least_zero("Gains", self.gains, unit="W")
        above_zero("Distribution efficiency", self.distribution_efficiency, unit="")
        share("Distribution efficiency", self.distribution_efficiency)
        at_least_zero("Heat of hot water", self.hot_water_heat, unit="J")
        at_least_zero("Baseload", self.baseload, unit="J")

    @property
    def count(self) -> int:
        """Houses, or trials of one house, that the figures describe; their shapes must agree."""
        own = (getattr(self, field.name) for field in fields(self))
        parts = (part for part in (self.heating, self.hot_water, self.cooling) if part is not None)
        inner = (getattr(part, field.name) for part in parts for field in fields(part))
        figures = (figure for figure in (*own, *inner) if isinstance(figure, np.ndarray | float))
        return math.prod(np.broadcast_shapes((1,), *map(np.shape, figures)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Site:
    """Where the house stands: a year's weather and how the wind reaches the house."""

    hours: Hours
    density: float
    """[kg/m³]"""
    coefficients: Leaks
    """Of the infiltration model chosen, one of each."""


def energy_bought(house: House, site: Site) -> Mapping[Use, Array]:
    """A year's energy of each end use, shape of the house's figures, at least (1,). [J]"""
    heat = bought_energy(
        load=heating_need(house, site),
        efficiency=house.heating.efficiency,
        distribution_efficiency=house.distribution_efficiency,
    )
    uses = {
        Use(EndUse.HEATING, house.heating.fuel): heat,
        Use(EndUse.HOT_WATER, house.hot_water.fuel): _for_each(
            house, np.asarray(house.hot_water_heat) / house.hot_water.efficiency
        ),
        Use(EndUse.BASELOAD, ELECTRICITY): _for_each(house, house.baseload),
    }
    if house.cooling is not None:
        uses[Use(EndUse.COOLING, ELECTRICITY)] = bought_energy(
            load=cooling_need(house, house.cooling, site),
            efficiency=house.cooling.efficiency,
            distribution_efficiency=house.cooling.distribution_efficiency,
        )
    return uses


def balance_temperature(*, setpoint: Figure, gains: Figure, conductance: Figure) -> Array:
    r"""Outdoor temperature below which a house needs its heating.

    .. math:: T_b = T_i - G / (UA + \rho c_p Q)

    Parameters
    ----------
    setpoint : float or array
        :math:`T_i`. [°C]
    gains : float or array
        :math:`G`. [W]
    conductance : float or array
        Shell and air flow together, more than 0. [W/K]

    Returns
    -------
    array
        Falls as the house improves. [°C]
    """
    return np.asarray(np.asarray(setpoint) - np.asarray(gains) / np.asarray(conductance))


def heating_need(house: House, site: Site) -> Array:
    r"""Heat the rooms need in a year.

    .. math:: E = \sum_t (UA + \rho c_p Q_t) \max(0, T_{b,t} - T_t) \, \Delta t

    The balance temperature is that of each hour's air flow, so it follows every change of shell,
    leaks, gains and set point. Returns [J], an entry a house.
    """
    shell, leaks, setpoint, gains = _columns(
        house, house.conductance, house.leakage_area, house.setpoint, house.gains
    )
    cold = site.hours.temperature < setpoint.max()
    temperature, wind = site.hours.temperature[cold], site.hours.wind_speed[cold]
    need = np.empty(len(shell))
    for rows in house_blocks(len(shell)):
        whole = shell[rows] + site.density * AIR_HEAT_CAPACITY * natural_flow(
            leakage_area=leaks[rows],
            leaks=site.coefficients,
            temperature_difference=setpoint[rows] - temperature,
            wind_speed=wind,
        )
        balance = balance_temperature(setpoint=setpoint[rows], gains=gains[rows], conductance=whole)
        need[rows] = (whole * np.maximum(0.0, balance - temperature)).sum(axis=-1)
    return need * SECONDS_AN_HOUR


def cooling_need(house: House, cooling: Cooling, site: Site) -> Array:
    """Heat and moisture to be taken out in a year, in hours warmer outdoors than indoors. [J]

    In cooler hours windows are taken to do it. An entry a house.
    """
    shell, leaks, setpoint, gains, humidity = _columns(
        house,
        house.conductance,
        house.leakage_area,
        cooling.setpoint,
        cooling.gains,
        cooling.indoor_humidity_ratio,
    )
    warm = site.hours.temperature > setpoint.min()
    temperature, wind = site.hours.temperature[warm], site.hours.wind_speed[warm]
    need = np.empty(len(shell))
    for rows in house_blocks(len(shell)):
        difference = temperature - setpoint[rows]
        flow = natural_flow(
            leakage_area=leaks[rows],
            leaks=site.coefficients,
            temperature_difference=difference,
            wind_speed=wind,
        )
        whole = shell[rows] + site.density * AIR_HEAT_CAPACITY * flow
        sensible = ((whole * difference + gains[rows]) * (difference > 0)).sum(axis=-1)
        need[rows] = sensible * SECONDS_AN_HOUR + latent_cooling_load(
            flow=flow,
            temperature=temperature,
            balance=setpoint[rows],
            humidity_ratio=site.hours.humidity_ratio[warm],
            indoor_humidity_ratio=humidity[rows],
            density=site.density,
        )
    return need


def mean_balance_temperature(house: House, site: Site) -> Array:
    """Balance temperature at the year's mean air flow, to be shown beside the energy. [°C]"""
    shell, leaks, setpoint, gains = _columns(
        house, house.conductance, house.leakage_area, house.setpoint, house.gains
    )
    flow = np.empty(shell.shape)
    for rows in house_blocks(len(shell)):
        flow[rows, 0] = natural_flow(
            leakage_area=leaks[rows],
            leaks=site.coefficients,
            temperature_difference=setpoint[rows] - site.hours.temperature,
            wind_speed=site.hours.wind_speed,
        ).mean(axis=-1)
    whole = shell + site.density * AIR_HEAT_CAPACITY * flow
    return balance_temperature(setpoint=setpoint, gains=gains, conductance=whole)[:, 0]


def _columns(house: House, *figures: Figure) -> list[Array]:
    """Figures an entry a house, as columns to meet a row of hours."""
    column = (house.count, 1)
    return [
        np.broadcast_to(np.reshape(np.asarray(figure, dtype=np.float64), (-1, 1)), column)
        for figure in figures
    ]


def _for_each(house: House, figure: Figure) -> Array:
    return _columns(house, figure)[0][:, 0]
