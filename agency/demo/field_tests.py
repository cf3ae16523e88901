"""Test-run documents as a crew's phone would send them, and the ways they go wrong."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import numpy as np

from .homes import Home
from .physics import (
    DIRECTIONS,
    MULTI_POINT,
    ONE_POINT,
    Kit,
    Procedure,
    Shell,
    Weather,
    reachable,
    readings,
)

APP = {"version": "1.0", "maths_version": "1", "flow_50": None}
SETUP = {
    "interior_doors": "open",
    "exterior_doors": "closed",
    "windows": "closed",
    "attic_hatch": "closed",
    "basement_door": "open",
    "fireplace_damper": "none",
    "exhaust_fans": "off",
}
LOWEST_STATION = 17.0
"""[Pa]"""

Document = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldTest:
    """One test about to be made."""

    client_key: str
    job: str
    phase: str
    taken_at: datetime
    operator: str
    kit: Kit
    weather: Weather
    routine: str
    """One of `ROUTINES`."""


ROUTINES = {
    "both": ("e779", DIRECTIONS, MULTI_POINT),
    "out_both": ("iso9972", DIRECTIONS, MULTI_POINT),
    "out": ("iso9972", DIRECTIONS[:1], MULTI_POINT),
    "in": ("iso9972", DIRECTIONS[1:], MULTI_POINT),
    "single": ("one_point", DIRECTIONS[:1], ONE_POINT),
    "pair": ("two_point", DIRECTIONS[:1], (50.0,) * 5 + (12.5,) * 5),
}
"""Method, directions and stations by the name a crew calls them."""


def document(rng: np.random.Generator, test: FieldTest, shell: Shell, home: Home) -> Document:
    """The whole document of one test in US units."""
    method, directions, stations = ROUTINES[test.routine]
    procedure = Procedure(
        method=method,
        directions=directions,
        stations=_within_reach(shell, test.weather, test.kit, stations),
    )
    read = readings(rng, shell=shell, weather=test.weather, kit=test.kit, procedure=procedure)
    sizes = home.record
    return {
        "kind": "envelope",
        "client_key": test.client_key,
        "job": test.job,
        "visit": None,
        "phase": test.phase,
        "taken_at": test.taken_at.isoformat(),
        "operator": test.operator,
        "app": dict(APP),
        **read,
        "house": {
            "floor_area": sizes["floor_area_sqft"],
            "volume": sizes["volume_cuft"],
            "height": sizes["height_ft"],
            "envelope_area": sizes["envelope_area_sqft"],
        },
        "setup": dict(SETUP),
        "note": "",
    }


def _within_reach(
    shell: Shell, weather: Weather, kit: Kit, stations: tuple[float, ...]
) -> tuple[float, ...]:
    """The stations, drawn together below what the fan can hold in a very leaky house."""
    top = min(reachable(shell, weather, kit, max(stations), way) for way in DIRECTIONS)
    if top >= max(stations):
        return stations
    if len(stations) == 1:
        return (top,)
    return tuple(round(float(one), 1) for one in np.linspace(top, LOWEST_STATION, len(stations)))


def _each_series(change: Callable[[dict[str, Any]], None]) -> Callable[[Document], Document]:
    def spoil(sheet: Document) -> Document:
        for series in sheet["series"]:
            change(series)
        return sheet

    return spoil


def _few_points(series: dict[str, Any]) -> None:
    series["points"] = series["points"][:3]


def _wrong_configuration(series: dict[str, Any]) -> None:
    names = ("open", "wide", "middle", "narrow")
    reading = series["points"][3]["fans"][0]
    position = names.index(reading["configuration"])
    reading["configuration"] = names[position + 1 if position < 3 else position - 1]


def _no_baseline(series: dict[str, Any]) -> None:
    series["baseline_before"] = series["baseline_after"] = None


def _swapped_hose(series: dict[str, Any]) -> None:
    for point in series["points"]:
        point["building_pressure"] = -point["building_pressure"]


def _flow_as_text(sheet: Document) -> Document:
    """What a phone keyboard makes of a flow when nobody checks: no number at all."""
    point = sheet["series"][0]["points"][0]
    sheet["series"][0]["points"] = [point | {"fans": [], "flow": "1,850"}]
    return sheet


def _without_units(sheet: Document) -> Document:
    sheet["units"] = {"pressure": "Pa"}
    return sheet


def _basement_shut(sheet: Document) -> Document:
    sheet["setup"]["basement_door"] = "closed"
    sheet["note"] = "Basement door locked; client has the key."
    return sheet


SPOILED: dict[str, Callable[[Document], Document]] = {
    "few_points": _each_series(_few_points),
    "wrong_configuration": _each_series(_wrong_configuration),
    "no_baseline": _each_series(_no_baseline),
    "swapped_hose": _each_series(_swapped_hose),
    "flow_as_text": _flow_as_text,
    "without_units": _without_units,
    "basement_shut": _basement_shut,
}
"""What can be wrong with a good document, by name."""
