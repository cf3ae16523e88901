"""An invented house under a test fan: true leaks, weather, instruments, and what a gauge shows."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

CFM = 0.3048**3 / 60
"""One cubic foot a minute. [m³/s]  Exact."""
FOOT = 0.3048
"""[m]  Exact."""
MILE_AN_HOUR = 0.44704
"""[m/s]  Exact."""
KELVIN = 273.15
REFERENCE_DENSITY = 1.2041
"""Dry air at 20 °C and 101,325 Pa. [kg/m³]"""
REFERENCE_TEMPERATURE = 20.0
"""[°C]"""
GRAVITY = 9.81
"""[m/s²]"""
GAUGE_STEP = 0.1
"""What the gauge shows last. [Pa]"""
FLUTTER_MEMORY = 4.0
"""Time after which a gust is forgotten. [s]  Own choice."""
TURBULENCE = 0.006
"""Scatter of a fan pressure averaged over a point. [-]  Own choice."""
DIRECTIONS = ("depressurization", "pressurization")


@dataclass(frozen=True, slots=True, kw_only=True)
class Shell:
    """The truth about one house's leaks; both directions follow a power law."""

    coefficient: float
    """At reference air, depressurized. [m³/(s Paⁿ)]"""
    exponent: float
    pressurization_ratio: float
    """Flow pressurized over flow depressurized: flaps and dampers open one way."""
    height: float
    """[m]"""
    elevation: float
    """[m]"""

    def flow(self, pressure: Array | float, direction: str, density: float) -> Array | float:
        """Flow through the leaks in air of `density`. [m³/s]

        Power-law flow scales with density to the exponent less one: dimensional analysis
        for a flow between laminar and orifice, viscosity left as it is at reference air.
        """
        ratio = self.pressurization_ratio if direction == "pressurization" else 1.0
        air = (density / REFERENCE_DENSITY) ** (self.exponent - 1)
        return ratio * self.coefficient * air * np.asarray(pressure) ** self.exponent

    def flow_50(self, direction: str = "depressurization") -> float:
        """True flow at 50 Pa and reference air. [m³/s]"""
        return float(self.flow(50.0, direction, REFERENCE_DENSITY))

    def sealed(self, share: float, *, exponent_change: float = 0.0) -> "Shell":
        """The same house with `share` of its flow at 50 Pa gone; negative makes it leakier."""
        exponent = self.exponent + exponent_change
        coefficient = (1 - share) * self.flow_50() / 50**exponent
        return Shell(
            coefficient=coefficient,
            exponent=exponent,
            pressurization_ratio=self.pressurization_ratio,
            height=self.height,
            elevation=self.elevation,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Weather:
    """Air during one test."""

    indoor: float
    """[°C]"""
    outdoor: float
    """[°C]"""
    wind: float
    """[m/s]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Configuration:
    """One way to narrow a fan, and the flow its certificate gives for it."""

    name: str
    coefficient: float
    """[cfm per Pa to the exponent]"""
    exponent: float
    lowest: float
    """[Pa]"""
    highest: float
    """[Pa]"""

    def pressure_at(self, flow_cfm: float) -> float:
        """Fan pressure that stands for this flow. [Pa]"""
        return float((flow_cfm / self.coefficient) ** (1 / self.exponent))


@dataclass(frozen=True, slots=True, kw_only=True)
class Kit:
    """A gauge and a fan with the errors nobody on site knows of."""

    gauge: str
    fan: str
    configurations: tuple[Configuration, ...]
    """From the widest to the narrowest."""
    gauge_gain: float = 0.0
    """Relative error of every pressure read. [-]"""
    fan_gain: float = 0.0
    """True flow over certified flow, less one. [-]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Procedure:
    """What the crew set out to measure."""

    method: str
    directions: tuple[str, ...]
    stations: tuple[float, ...]
    """Induced pressures aimed at. [Pa]"""
    baseline_samples: int = 12
    baseline_seconds: int = 60
    point_seconds: int = 30


MULTI_POINT = (60.0, 52.0, 45.0, 38.0, 31.0, 24.0, 17.0)
ONE_POINT = (50.0,)


def air_density(temperature: float, elevation: float) -> float:
    """Density of dry air. [kg/m³]  Ideal gas; pressure by ISO 2533, from memory."""
    pressure = 101_325 * (1 - 2.25577e-5 * elevation) ** 5.2559
    return float(pressure / (287.055 * (temperature + KELVIN)))


def flutter(rng: np.random.Generator, *, seconds: int, spread: float) -> Array:
    """Wind's pressure noise, one value a second, each remembering the one before."""
    keep = np.exp(-1 / FLUTTER_MEMORY)
    pushes = rng.standard_normal(seconds) * np.sqrt(1 - keep**2)
    noise = np.empty(seconds)
    state = rng.standard_normal()
    for second, push in enumerate(pushes):
        state = keep * state + push
        noise[second] = state
    return spread * noise


def stack_pressure(shell: Shell, weather: Weather) -> float:
    """Pressure at the floor with the fan off, the neutral level at half the height. [Pa]"""
    inside = air_density(weather.indoor, shell.elevation)
    outside = air_density(weather.outdoor, shell.elevation)
    return (inside - outside) * GRAVITY * shell.height / 2


def wind_pressure(weather: Weather, elevation: float) -> float:
    """Dynamic pressure of the wind on site. [Pa]"""
    return 0.5 * air_density(weather.outdoor, elevation) * weather.wind**2


def series(
    rng: np.random.Generator,
    *,
    shell: Shell,
    weather: Weather,
    kit: Kit,
    procedure: Procedure,
    direction: str,
) -> dict[str, Any]:
    """One series as the gauge shows it: a baseline, the points from high to low, a baseline."""
    dynamic = wind_pressure(weather, shell.elevation)
    # Shares of the dynamic pressure felt at a sheltered tap: own choice.
    spread, lean = 0.05 + 0.06 * dynamic, -0.04 * dynamic
    still = stack_pressure(shell, weather) + lean
    drift = 0.15 * rng.standard_normal()
    sign = -1.0 if direction == "depressurization" else 1.0
    # Spread evenly rather than by chance: in a good series no point stands out by itself.
    scatter = rng.permutation(np.linspace(-1.5, 1.5, len(procedure.stations)))
    points: list[dict[str, Any]] = []
    configuration = None
    for number, station in enumerate(procedure.stations):
        aim = station + rng.uniform(-0.8, 0.8)
        gust = flutter(rng, seconds=procedure.point_seconds, spread=spread).mean()
        now = still + drift * (number + 1) / (len(procedure.stations) + 1)
        flow = _fan_flow_cfm(shell, weather, aim, direction) / (1 + kit.fan_gain)
        configuration = _suited(kit, flow, configuration)
        fan = configuration.pressure_at(flow * (1 + TURBULENCE * scatter[number]))
        points.append(_point(kit, configuration, sign * aim + now + gust, fan, procedure))
    return {
        "direction": direction,
        "baseline_before": _baseline(rng, kit, procedure, still, spread),
        "baseline_after": _baseline(rng, kit, procedure, still + drift, spread),
        "points": points,
    }


def _point(
    kit: Kit,
    configuration: Configuration,
    building_pressure: float,
    fan_pressure: float,
    procedure: Procedure,
) -> dict[str, Any]:
    """Both pressures as the gauge shows them."""
    reading = {
        "serial": kit.fan,
        "configuration": configuration.name,
        "fan_pressure": _shown(fan_pressure * (1 + kit.gauge_gain)),
    }
    return {
        "building_pressure": _shown(building_pressure * (1 + kit.gauge_gain)),
        "fans": [reading],
        "seconds": procedure.point_seconds,
    }


def _fan_flow_cfm(shell: Shell, weather: Weather, pressure: float, direction: str) -> float:
    """What the fan's certificate would call the flow that holds the house at `pressure`."""
    inside = air_density(weather.indoor, shell.elevation)
    outside = air_density(weather.outdoor, shell.elevation)
    leaks, fan = (outside, inside) if direction == "depressurization" else (inside, outside)
    through_leaks = float(shell.flow(pressure, direction, leaks))
    # Mass goes through unchanged; the meter's pressure goes with density times speed squared.
    through_fan = through_leaks * leaks / fan
    return through_fan * float(np.sqrt(fan / REFERENCE_DENSITY)) / CFM


def _suited(kit: Kit, flow_cfm: float, current: Configuration | None) -> Configuration:
    """The configuration in use while it reads well, else the narrowest that lets enough through."""
    margin = 1.1
    if current and current.lowest * margin <= current.pressure_at(flow_cfm) <= current.highest:
        return current
    wide_enough = [
        one for one in kit.configurations if one.pressure_at(flow_cfm) <= one.highest / margin
    ]
    return wide_enough[-1] if wide_enough else kit.configurations[0]


def _baseline(
    rng: np.random.Generator, kit: Kit, procedure: Procedure, level: float, spread: float
) -> dict[str, Any]:
    noise = flutter(rng, seconds=procedure.baseline_seconds, spread=spread)
    means = noise.reshape(procedure.baseline_samples, -1).mean(axis=1)
    return {
        "samples": [_shown((level + noise) * (1 + kit.gauge_gain)) for noise in means],
        "seconds": procedure.baseline_seconds,
    }


def _shown(pressure: float) -> float:
    """What a display with one decimal shows."""
    return round(round(pressure / GAUGE_STEP) * GAUGE_STEP, 1) + 0.0


def reachable(shell: Shell, weather: Weather, kit: Kit, station: float, direction: str) -> float:
    """The station itself, or the highest whole pressure the fan holds the house at. [Pa]"""
    widest = kit.configurations[0]
    with_care = 0.94 * widest.highest
    for pressure in [station, *np.arange(np.floor(station), 9, -1)]:
        if widest.pressure_at(_fan_flow_cfm(shell, weather, pressure, direction)) <= with_care:
            return float(pressure)
    return 0.0


def readings(
    rng: np.random.Generator, *, shell: Shell, weather: Weather, kit: Kit, procedure: Procedure
) -> dict[str, Any]:
    """The part of a test-run document that comes from the instruments, in US units."""
    return {
        "method": procedure.method,
        "units": {
            "pressure": "Pa",
            "flow": "cfm",
            "temperature": "degF",
            "length": "ft",
            "wind_speed": "mph",
        },
        "gauge": {"serial": kit.gauge, "baseline_subtracted": False, "density_corrected": False},
        "fans": [{"serial": kit.fan, "equations": []}],
        "conditions": {
            "indoor_temperature": fahrenheit(weather.indoor),
            "outdoor_temperature": fahrenheit(weather.outdoor),
            "elevation": round(shell.elevation / FOOT),
            "wind_speed": round(weather.wind / MILE_AN_HOUR),
        },
        "series": [
            series(
                rng,
                shell=shell,
                weather=weather,
                kit=kit,
                procedure=procedure,
                direction=direction,
            )
            for direction in procedure.directions
        ],
    }


def fahrenheit(celsius: float) -> int:
    """As a thermometer shows it."""
    return round(celsius * 9 / 5 + 32)
