"""Bench tests as a crew's phone would send them: which homes get which, and plausible readings."""

from collections.abc import Callable, Iterator
from typing import Any

import numpy as np

from agency.diagnostics.cautions import CAUTIONS

from .field_tests import FieldTest

Sheet = dict[str, Any]
Reading = Callable[[np.random.Generator, bool], Sheet]

US = {
    "pressure": "Pa",
    "flow": "cfm",
    "temperature": "degF",
    "length": "ft",
    "opening": "in2",
    "heat": "Btu/h",
    "capacity": "ton",
}
EVERY = {
    "gauge_check": 3,
    "combustion_zone": 3,
    "exhaust_fans": 4,
    "duct_leakage": 5,
    "pressure_pan": 5,
    "zone": 6,
    "static_pressure": 8,
    "component": 17,
}
"""One home in so many gets this kind of test, before and after the work."""


def bench_sheets(
    rng: np.random.Generator, test: FieldTest, *, number: int, visit: str, spills: bool
) -> Iterator[Sheet]:
    """The bench tests of one home on one day, the gauge first.

    Parameters
    ----------
    test : FieldTest
        The tightness test of that day: phase, clock, operator and kit are the same.
    number : int
        Of the story; it decides which kinds this home gets.
    visit : str
        The visit of that day.
    spills : bool
        The water heater of this home spills, which stops the job.
    """
    after = test.phase != "before"
    for kind, every in EVERY.items():
        if number % every and not (spills and kind == "combustion_zone"):
            continue
        method, readings = KINDS[kind]
        sheet = readings(rng, after)
        if spills and kind == "combustion_zone":
            _spill(sheet)
        yield {
            "kind": kind,
            "job": test.job,
            "visit": visit,
            "phase": test.phase,
            "method": method,
            "taken_at": test.taken_at.isoformat(),
            "operator": test.operator,
            "units": US,
            "gauge": {
                "serial": test.kit.gauge,
                "baseline_subtracted": False,
                "density_corrected": False,
            },
            "cautions": {one.code: "clear" for one in CAUTIONS},
            **sheet,
        }


def _about(rng: np.random.Generator, value: float, spread: float, decimals: int = 1) -> float:
    return round(float(rng.normal(value, spread)), decimals)


def _gauge_check(rng: np.random.Generator, after: bool) -> Sheet:
    starts = [_about(rng, 80, 4) for _ in range(2)]
    return {
        "zeros": [
            {"channel": name, "reading": round(float(rng.uniform(-0.2, 0.2)), 1)} for name in "AB"
        ],
        "hoses": [
            {
                "hose": hose,
                "start": start,
                "end": round(start - float(rng.uniform(0.0, 0.6)), 1),
                "seconds": 30,
            }
            for hose, start in zip(("outside", "second"), starts, strict=True)
        ],
    }


def _duct_leakage(rng: np.random.Generator, after: bool) -> Sheet:
    return {
        "conditions": {"indoor_temperature": _about(rng, 69, 1.5)},
        "direction": "pressurization",
        "stage": "existing",
        "location": "some_outside",
        "held_against": "none",
        "duct_to_house": round(float(rng.uniform(-0.3, 0.3)), 1),
        "house_pressure": _about(rng, 25, 0.3),
        "flow": {"flow": max(20.0, _about(rng, 62 if after else 176, 12 if after else 35, 0))},
    }


def _pressure_pan(rng: np.random.Generator, after: bool) -> Sheet:
    rooms = ("Kitchen", "Front bedroom", "Back bedroom", "Living room", "Hall")
    usual = 0.5 if after else 2.4
    return {
        "direction": "depressurization",
        "held_against": "each_register",
        "house_pressure": _about(rng, -50, 0.4),
        "house_to_zone": _about(rng, -47.5, 0.8),
        "registers": [
            {
                "name": room,
                "side": "return" if room == "Hall" else "supply",
                "reading": round(float(rng.gamma(2.0, usual / 2)), 1),
            }
            for room in rooms
        ],
    }


def _zone(rng: np.random.Generator, after: bool) -> Sheet:
    zone = -_about(rng, 8 if after else 14, 1.5)
    flow = _about(rng, 1900 if after else 2450, 90, 0)
    return {
        "zone": "Garage",
        "zone_type": "attached_garage",
        "shares_with": [],
        "direction": "depressurization",
        "across": "zone_outside",
        "baselines": [{"house": -0.4, "zone": -0.1}, {"house": -0.6, "zone": -0.1}],
        "states": [
            {"house": -50.4, "zone": zone, "seconds": 60, "deviation": 0.4,
             "fan": {"flow": flow}},
            {"house": -50.5, "zone": -50.1, "seconds": 60, "deviation": 0.5,
             "fan": {"flow": flow + _about(rng, 420, 30, 0)}},
        ],
        "opening": {"boundary": "house_zone"},
        "note": "Door between kitchen and garage opened for the second state.",
    }  # fmt: skip


def _static_pressure(rng: np.random.Generator, after: bool) -> Sheet:
    return {
        "supply": _about(rng, 62 if after else 84, 6),
        "return_plenum": _about(rng, -55 if after else -98, 7),
        "nameplate_maximum": 124.5,
    }


def _component(rng: np.random.Generator, after: bool) -> Sheet:
    return {
        "conditions": {"elevation": 900},
        "component": "Front door",
        "construction": "swinging_door",
        "direction": "depressurization",
        "pressure": -75.0,
        "total": {"flow": _about(rng, 11 if after else 38, 2)},
        "extraneous": {"flow": _about(rng, 4.2, 0.3)},
        "meter_temperature": _about(rng, 67, 2),
        "area": 20.0,
        "crack_length": 19.5,
    }


def _exhaust_fans(rng: np.random.Generator, after: bool) -> Sheet:
    bath = {"sort": "bathroom", "operation": "on_demand", "window": "none"}
    return {
        "edition": "2019",
        "exhausts": [
            {
                "room": "Bath",
                **bath,
                "measured_by": "orifice_box",
                "hole_area": 20.0,
                "discharge": 0.61,
                "box_pressure": -_about(rng, 6.2 if after else 3.1, 0.5),
            },
            {
                "room": "Kitchen",
                "sort": "kitchen_hood",
                "operation": "on_demand",
                "measured_by": "powered_hood",
                "hood_flow": _about(rng, 128 if after else 96, 12, 0),
                "hood_pressure": 0.1,
                "window": "opens",
            },
        ],
    }


def _combustion_zone(rng: np.random.Generator, after: bool) -> Sheet:
    baseline = -_about(rng, 0.8, 0.1)
    fans = round(baseline - _about(rng, 0.8, 0.05), 1)
    return {
        "conditions": {"outdoor_temperature": _about(rng, 44, 5)},
        "zone": "Basement",
        "outdoor_carbon_monoxide": 0.0,
        "house_carbon_monoxide": 1.0,
        "zone_carbon_monoxide": 1.0,
        "combustible_gas": "not_seen",
        "baseline": baseline,
        "fans_on": fans,
        "doors_set": round(fans - 0.2, 1),
        "handler_on": round(fans + 0.3, 1),
        "movers_listed": "all_listed",
        "movers": [
            {"name": "Dryer", "sort": "dryer", "worst_case": "on"},
            {"name": "Bath fan", "sort": "exhaust_fan", "worst_case": "on"},
            {"name": "Air handler", "sort": "air_handler", "worst_case": "off"},
        ],
        "doors": [{"name": "Basement stair", "position": "open"}],
        "appliances": [_water_heater(rng)],
    }


def _water_heater(rng: np.random.Generator) -> Sheet:
    seen = dict.fromkeys(("flame_rollout", "soot", "blocked_vent", "gas_leak"), "not_seen")
    return {
        "name": "Water heater",
        "sort": "water_heater",
        "fuel": "natural_gas",
        "venting": "natural_draft_shared",
        "input": 40000.0,
        "vent": "warm",
        "spillage": "stopped",
        "spillage_seconds": float(rng.integers(8, 30)),
        "draft": -_about(rng, 2.6, 0.2),
        "carbon_monoxide": float(rng.integers(8, 35)),
        "oxygen": _about(rng, 8.5, 0.4),
        **seen,
        "afterwards": "relit_and_seen_burning",
    }


def _spill(sheet: Sheet) -> None:
    """The water heater spills and makes carbon monoxide: nobody may go on working."""
    heater = sheet["appliances"][0]
    heater |= {"spillage": "did_not_stop", "spillage_seconds": 300.0, "draft": -0.3}
    heater["carbon_monoxide"] = 310.0
    sheet["zone_carbon_monoxide"] = 41.0


KINDS: dict[str, tuple[str, Reading]] = {
    "gauge_check": ("zero_and_hoses", _gauge_check),
    "combustion_zone": ("worst_case", _combustion_zone),
    "exhaust_fans": ("each_fan", _exhaust_fans),
    "duct_leakage": ("to_outside", _duct_leakage),
    "pressure_pan": ("pan", _pressure_pan),
    "zone": ("open_door", _zone),
    "static_pressure": ("plenums", _static_pressure),
    "component": ("chamber", _component),
}
"""Method and readings by kind."""
