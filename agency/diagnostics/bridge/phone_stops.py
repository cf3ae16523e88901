"""Limits a phone holds readings against by itself: a hazard stops the work without a signal.

What readings of one test decide by themselves. Which limits the office may have changed since, and
the resolution of the very gauge, come in with the record.
"""

from collections.abc import Iterable, Iterator
from typing import Any

from agency.leakage.combustion import OXYGEN_IN_AIR
from agency.rulebook.shipped import RuleLike

from ..cautions import DEFER
from .combustion_limits import CATEGORY_I, FAULTS, GAS
from .combustion_stops import LEAVE, STEPS
from .si import PRESSURE

Told = dict[str, Any]
KIND = "combustion_zone"
DEPRESSURIZATION = "combustion.depressurization."
HIGHEST_OXYGEN = "combustion.highest-oxygen"


def stop_rules(rules: Iterable[RuleLike]) -> list[Told]:
    """Rules in force as plain data, for each reading the gravest first.

    Each has `path` in the document and one of `equals`, `above`, `below` and `reaches`; `when`
    names lines beside it and what they must say, `some` a list one row of which must say so,
    `minus` a reading to take off, `units` the factors to the limit's unit, `step` what is rounded
    to, and `air_free` the oxygen beside a flue reading. What the phone finds is held again, with
    everything else, once it is sent.
    """
    known = {one.code: one for one in rules}
    told: list[Told] = []
    if "combustion.gas" in known:
        told.append(_seen("combustible_gas", "gas", "Combustible gas was found.", LEAVE))
    if "combustion.fault" in known:
        told += [_fault(name, words) for name, words in FAULTS.items()]
    told += _ambient(known)
    told += _drawn_down(known)
    told += _spillage(known)
    return told + list(_flue(known))


def _rule(path: str, hazard: str, words: str, steps: Iterable[str], **limits: Any) -> Told:
    return {
        "kind": KIND,
        "path": path,
        "hazard": f"combustion.{hazard}",
        "words": words,
        "steps": list(steps),
        "cautions": DEFER,
        **limits,
    }


def _seen(path: str, hazard: str, words: str, steps: Iterable[str]) -> Told:
    return _rule(path, hazard, words, steps, equals="seen")


def _fault(name: str, words: str) -> Told:
    hazard = "gas" if name == "gas_leak" else "fault"
    return _seen(f"appliances[].{name}", hazard, f"{words.capitalize()} seen.", STEPS[hazard])


def _stopping(known: dict[str, RuleLike], prefix: str) -> list[RuleLike]:
    """Rules that stop the work, the gravest first; ambient levels rise, other limits are upper."""
    found = [
        one
        for code, one in known.items()
        if code.startswith(prefix) and one.severity == "reject" and one.limit is not None
    ]
    return sorted(found, key=lambda one: (-(one.limit or 0.0), one.code))


def _by(rule: RuleLike) -> str:
    edition = f" {rule.edition}" if rule.edition else ""
    return f"{rule.limit:g} {rule.unit} by {rule.standard}{edition} ({rule.provenance})"


def _ambient(known: dict[str, RuleLike]) -> Iterator[Told]:
    for place in ("house", "zone"):
        for rule in _stopping(known, "combustion.ambient."):
            yield _rule(
                f"{place}_carbon_monoxide",
                f"ambient.{place}",
                f"Carbon monoxide in the {place}, above outdoors, reaches {_by(rule)}.",
                [rule.next_step, *STEPS["ambient"]],
                reaches=rule.limit,
                minus="outdoor_carbon_monoxide",
                unit="ppm",
            )


def _drawn_down(known: dict[str, RuleLike]) -> Iterator[Told]:
    """Net pressure of the zone at each setting, for every kind of venting there may be in it."""
    step = known.get("combustion.gauge-resolution")
    for rule in _stopping(known, DEPRESSURIZATION):
        venting = rule.code.removeprefix(DEPRESSURIZATION).split(".")[0]
        for setting in ("fans_on", "doors_set", "handler_on"):
            yield _rule(
                setting,
                "depressurization",
                f"The zone is drawn down, less its baseline, beyond {_by(rule)}.",
                STEPS["depressurization"],
                below=rule.limit,
                minus="baseline",
                step=None if step is None else step.limit,
                units={"named_by": "pressure", "factors": PRESSURE},
                some={"list": "appliances", "name": "venting", "in": [venting]},
                unit="",
            )


def _spillage(known: dict[str, RuleLike]) -> Iterator[Told]:
    """Of several limits the strictest; without the state of the vent the stricter state's."""
    spilling = {"name": "venting", "in": sorted(CATEGORY_I)}
    every = {vent: _stopping(known, f"combustion.spillage.{vent}.") for vent in ("warm", "cold")}
    least = {vent: found[-1] for vent, found in every.items() if found}
    if least:
        unknown = min(least.values(), key=lambda one: one.limit or 0.0)
        states = [*least.items(), (None, unknown)]
        for vent, rule in states:
            yield _lasting("spillage_seconds", rule, [spilling, {"name": "vent", "in": [vent]}])
    if "cold" in least:
        yield _lasting("natural_seconds", least["cold"], [])


def _lasting(name: str, rule: RuleLike, when: list[Told]) -> Told:
    path = f"appliances[].{name}"
    words = f"Spillage lasts longer than {_by(rule)}."
    limits = {"above": rule.limit, "when": when, "unit": "s"}
    return _rule(path, "spillage", words, STEPS["spillage"], **limits)


def _flue(known: dict[str, RuleLike]) -> Iterator[Told]:
    highest = known.get(HIGHEST_OXYGEN)
    for basis in ("as_measured", "air_free"):
        prefix = f"combustion.co.{basis}."
        least = {
            rule.code.removeprefix(prefix).split(".")[0]: rule for rule in _stopping(known, prefix)
        }
        if basis == "air_free" and (highest is None or highest.limit is None):
            continue
        free = {"oxygen": "oxygen", "air": OXYGEN_IN_AIR, "highest": highest and highest.limit}
        for sort, rule in least.items():
            yield _rule(
                "appliances[].carbon_monoxide",
                "co",
                f"Carbon monoxide in the flue is above {_by(rule)}.",
                STEPS["co"],
                above=rule.limit,
                when=[{"name": "sort", "in": [sort]}, {"name": "fuel", "in": sorted(GAS)}],
                air_free=free if basis == "air_free" else None,
                unit="ppm",
            )
