"""Zone test documents around one house at 50 Pa, with readings worked out by hand."""

from dataclasses import replace
from datetime import date

from agency.diagnostics.evaluation import InstrumentFacts

from .examples import QUICK_RULES, bench

CFM = 0.3048**3 / 60

STEADY = {
    "QM-G-03": InstrumentFacts(
        serial="QM-G-03",
        calibrated_on=date(2026, 3, 2),
        due_on=date(2027, 3, 2),
        accuracy_percent=0.0,
        accuracy_pa=0.5 * 3**0.5,
        resolution_pa=0.1,
    )
}
"""A gauge of half a pascal standard uncertainty: rectangular, 0.5 √3 wide to either side."""


def state(zone, *, house=-50.0, flow=None, **changes):
    found = {"house": house, "zone": zone, "seconds": 60, "deviation": 0.0}
    return found | ({} if flow is None else {"fan": {"flow": flow}}) | changes


def zone(method, *states, **changes):
    """A garage against outside, house depressurized, no baseline to take off."""
    readings = {
        "zone": "Garage",
        "zone_type": "attached_garage",
        "shares_with": [],
        "direction": "depressurization",
        "across": "zone_outside",
        "baselines": [{"house": 0.0, "zone": 0.0}] * 2,
        "states": list(states),
    }
    return bench("zone", method, **{**readings, **changes})


def door(**changes):
    states = (state(-12.0, flow=2400.0), state(-50.0, flow=2850.0))
    return zone("open_door", *changes.pop("states", states), **changes)


def vent(**changes):
    """House side 30 Pa shut and 49 Pa vented: the zone stands at 20 and at 1 Pa."""
    states = (state(-20.0, flow=1900.0), state(-1.0, flow=2100.0))
    return zone("vent_outside", *changes.pop("states", states), **changes)


def hole(*, boundary="house_zone", area=60.0, discharge=0.6, pressures=(-5.0, -12.0), **changes):
    opening = {"boundary": boundary, "area": area, "discharge": discharge}
    states = [state(one) for one in pressures]
    return zone("add_hole", *states, **{"opening": opening, **changes})


def rules_with(**limits):
    """The shipped rules with other limits; a dash or a point in a code is written as __ or _."""
    changed = {name.replace("__", ".").replace("_", "-"): one for name, one in limits.items()}
    return tuple(
        replace(one, limit=changed[one.code]) if one.code in changed else one for one in QUICK_RULES
    )
