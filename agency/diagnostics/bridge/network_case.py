"""A house of several zones as its formulas take it: leaks, states and what could be made."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from agency.leakage.network import Path, opening
from agency.leakage.network_states import HouseState

from ..evaluation import Check
from ..forms.zone_network import HOUSE, NetworkReading, NetworkState
from .bench import Bench, NotMeasured
from .channels import Channel, Drop, recorded

GUESS = 0.05
"""Flow at 50 Pa a leak is first taken to have, where the search begins. [m³/s]"""
ANY_ERROR = 1.0
"""Stands where a state has no reading of this kind. [Pa, m³/s]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class NetworkCase:
    """One network in SI."""

    bench: Bench
    unknown: tuple[Path, ...]
    """Leaks that are looked for, with the first guess of their coefficients."""
    known: tuple[Path, ...]
    states: tuple[HouseState, ...]
    candidates: tuple[HouseState, ...]
    checks: Sequence[Check]
    reference: float
    """[Pa]"""

    @property
    def sign(self) -> int:
        """Of the house's pressure."""
        return -1 if self.bench.document.direction == "depressurization" else 1

    def flow(self, path: Path) -> float:
        """What a leak passes with the reference pressure across it. [m³/s]"""
        return path.coefficient * self.reference**path.exponent


def network_case(bench: Bench) -> NetworkCase:
    """The document's leaks and states."""
    document, book = bench.document, bench.book
    reference = book.setting("zone.reference-pressure")
    paths = [_path(bench, at, reference) for at in range(len(document.paths))]
    given = [one.flow_50 is not None for one in document.paths]
    checks: list[Check] = []
    states = []
    for at in range(len(document.states)):
        state, found = _state(bench, at)
        states.append(state)
        checks += found
    known = tuple(one for one, told in zip(paths, given, strict=True) if told)
    states = [replace(one, added=(*one.added, *known)) for one in states]
    return NetworkCase(
        bench=bench,
        unknown=tuple(one for one, told in zip(paths, given, strict=True) if not told),
        known=known,
        states=tuple(states),
        candidates=tuple(_candidates(bench, states[0], known)),
        checks=checks,
        reference=reference,
    )


def _path(bench: Bench, at: int, reference: float) -> Path:
    one = bench.document.paths[at]
    exponent = bench.book.setting("zone.exponent") if one.exponent is None else one.exponent
    flow = one.flow_50
    if flow is None and bench.document.method == "solve":
        raise NotMeasured(f"paths[{at}].flow_50", f"The flow of the leak {one.name} at 50 Pa")
    coefficient = (GUESS if flow is None else flow) / reference**exponent
    return Path(
        name=one.name, start=one.start, end=one.end, coefficient=coefficient, exponent=exponent
    )


def _openings(bench: Bench, state: str) -> tuple[Path, ...]:
    """What is open in a state; as all states share one density, it is the entering air's."""
    document = bench.document
    inward = document.direction == "depressurization"
    air = document.conditions
    density = bench.density(air.outdoor_temperature if inward else air.indoor_temperature)
    return tuple(
        opening(
            name=f"opening {at + 1}",
            start=one.start,
            end=one.end,
            area=bench.needed(one.area, f"openings[{at}].area", f"Area of opening {at + 1}"),
            discharge=bench.book.setting("zone.discharge")
            if one.discharge is None
            else one.discharge,
            density=density,
        )
        for at, one in enumerate(document.openings)
        if one.state == state
    )


def _state(bench: Bench, at: int) -> tuple[HouseState, list[Check]]:
    one: NetworkState = bench.document.states[at]
    sign = -1 if bench.document.direction == "depressurization" else 1
    house = _drop(bench, one.house, one.baseline, "House to outside", f"states[{at}].house")
    readings: Mapping[int, NetworkReading] = {
        row: reading
        for row, reading in enumerate(bench.document.pressures)
        if reading.state == one.name
    }
    drops = {
        reading.zone: _drop(
            bench,
            reading.pressure,
            reading.baseline,
            reading.zone,
            f"pressures[{row}].pressure",
            averaged=reading,
        )
        for row, reading in readings.items()
    }
    # An error of the held pressure moves every zone and the fan's flow with it.
    worst = max((math.hypot(drop.u, house.u) for drop in drops.values()), default=ANY_ERROR)
    flow, u_flow = _fan(bench, one, house, f"states[{at}].fan")
    state = HouseState(
        name=one.name,
        held={HOUSE: sign * house.size},
        fans={},
        added=_openings(bench, one.name),
        pressures={zone: sign * drop.size for zone, drop in drops.items()},
        u_pressure=worst,
        flows={} if flow is None else {HOUSE: sign * flow},
        u_flow=u_flow,
    )
    return state, [check for drop in (house, *drops.values()) for check in drop.checks]


def _drop(
    bench: Bench,
    reading: float,
    baseline: float | None,
    label: str,
    field: str,
    *,
    averaged: NetworkReading | None = None,
) -> Drop:
    channel = Channel(bench=bench, label=label, baselines=recorded([baseline]))
    return channel.drop(
        reading,
        field=field,
        deviation=averaged.deviation if averaged else None,
        seconds=averaged.seconds if averaged else None,
    )


def _fan(bench: Bench, one: NetworkState, house: Drop, field: str) -> tuple[float | None, float]:
    """Fan flow and its error: its repeatability, and what the held pressure's error does."""
    if one.fan is None:
        return None, ANY_ERROR
    flow = bench.flow(
        one.fan, field=field, label=f"Fan flow, {one.name}", direction=bench.document.direction
    )
    book = bench.book
    by_pressure = book.setting("zone.exponent") * house.u / house.size if house.size else 0.0
    return flow, flow * math.hypot(book.setting("uncertainty.flow-random"), by_pressure)


def _candidates(bench: Bench, base: HouseState, known: tuple[Path, ...]) -> list[HouseState]:
    """States that could be made, every zone and the fan read as well as in the first state."""
    zones = [one.name for one in bench.document.zones]
    u_flow = base.u_flow if base.flows else bench.book.setting("uncertainty.flow-random") * GUESS
    return [
        replace(
            base,
            name=one.name,
            added=(*_openings(bench, one.name), *known),
            pressures=dict.fromkeys(zones, 0.0),
            flows={HOUSE: 0.0},
            u_flow=u_flow,
        )
        for one in bench.document.candidates
    ]


def baseline_checks(case: NetworkCase) -> list[Check]:
    """Readings of which no baseline was taken."""
    document = case.bench.document
    if document.gauge.baseline_subtracted:
        return []
    blank = [f"{name}[{at}].baseline" for name in ("states", "pressures")
             for at, one in enumerate(getattr(document, name)) if one.baseline is None]  # fmt: skip
    if not blank:
        return []
    words = f"{len(blank)} readings have no baseline; the first stands at {blank[0]}."
    return case.bench.book.complaint("reading.baseline-missing", 0.0, field=blank[0], message=words)
