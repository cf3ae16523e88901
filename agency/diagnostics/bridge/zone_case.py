"""One zone test as its formulas take it: drops of one or two states, fan flows, the opening."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from agency.leakage.scaling import flow_at_other_pressure
from agency.leakage.zone_balance import ZoneLeakage
from agency.leakage.zone_methods import add_hole, open_door, vent_outside
from agency.leakage.zones import Boundary, Drops, ZoneReading, drops_of

from ..evaluation import Check
from ..forms.zone import OPENED, TWO_STATES, WITH_FAN, ZoneState
from .bench import Bench, NotMeasured
from .channels import Channel, recorded


@dataclass(frozen=True, slots=True, kw_only=True)
class Hole:
    """The opening of a hole that was added."""

    boundary: Boundary
    area: float
    """[m²]"""
    discharge: float
    assumed: bool
    """The discharge coefficient was left blank."""
    density: float
    """Of the air passing it. [kg/m³]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class ZoneCase:
    """One zone test in SI, along the way of the fan."""

    bench: Bench
    method: str
    before: ZoneReading
    after: ZoneReading | None
    flows: Sequence[float]
    """Fan flow of each state; none where it was not read. [m³/s]"""
    hole: Hole | None
    closure: float | None
    """Largest gap of three pressures in one state. [Pa]"""
    deviation: float | None
    """Largest of the states; None where one was not recorded. [Pa]"""
    checks: Sequence[Check]
    exponent: float
    band: tuple[float, float]
    reference: float
    """[Pa]"""

    @property
    def scale(self) -> float:
        """Reference pressure over that of the first state. [-]"""
        return self.reference / float(drops_of(self.before).envelope)

    @property
    def drops(self) -> Drops:
        """Of the first state, at the reference pressure."""
        found = drops_of(self.before)
        return Drops(
            envelope=found.envelope * self.scale,
            house_zone=found.house_zone * self.scale,
            zone_outside=found.zone_outside * self.scale,
        )

    @property
    def fan_flow(self) -> float | None:
        """Of the first state, at the reference pressure; None where it was not read. [m³/s]"""
        if not self.flows:
            return None
        return float(
            flow_at_other_pressure(
                flow=self.flows[0],
                pressure=drops_of(self.before).envelope,
                target=self.reference,
                exponent=self.exponent,
            )
        )

    def leakage(self, exponent: ArrayLike) -> ZoneLeakage:
        """Both boundaries by the method of the test."""
        book, after = self.bench.book, self.after or self.before
        if self.hole is not None:
            return add_hole(
                boundary=self.hole.boundary,
                area=self.hole.area,
                u_area=book.setting("zone.area-uncertainty") / 100,
                discharge=self.hole.discharge,
                u_discharge=book.setting("zone.discharge-uncertainty") / 100,
                density=self.hole.density,
                before=self.before,
                after=after,
                exponent=exponent,
                reference=self.reference,
            )
        by_flow = open_door if self.method == "open_door" else vent_outside
        return by_flow(
            flow_before=self.flows[0],
            flow_after=self.flows[1],
            u_flow=book.setting("uncertainty.flow-random"),
            before=self.before,
            after=after,
            exponent=exponent,
            reference=self.reference,
        )


def zone_case(bench: Bench) -> ZoneCase:
    """The document's readings, or NotMeasured naming the one the method lacks."""
    document, book = bench.document, bench.book
    states: list[ZoneState] = document.states
    if document.method in TWO_STATES and len(states) < 2:
        raise NotMeasured("states[1]", "The second state, with the boundary opened,")
    house, zone = (
        Channel(
            bench=bench,
            label=label,
            baselines=recorded([getattr(one, name) for one in document.baselines]),
        )
        for name, label in (("house", "House to outside"), ("zone", "Zone"))
    )
    checks = [*house.baseline_checks("baselines"), *zone.baseline_checks("baselines")]
    used = states if document.method in TWO_STATES else states[:1]
    readings = []
    for at, state in enumerate(used):
        reading, found = _reading(state, f"states[{at}]", house, zone)
        readings.append(reading)
        checks += found
    return ZoneCase(
        bench=bench,
        method=document.method,
        before=readings[0],
        after=readings[1] if len(readings) > 1 else None,
        flows=_flows(bench, used),
        hole=_hole(bench) if document.method == "add_hole" else None,
        closure=_closure(used, readings),
        deviation=_largest([one.deviation for one in used]),
        checks=checks,
        exponent=book.setting("zone.exponent"),
        band=(book.setting("zone.exponent-low"), book.setting("zone.exponent-high")),
        reference=book.setting("zone.reference-pressure"),
    )


def _reading(
    state: ZoneState, field: str, house: Channel, zone: Channel
) -> tuple[ZoneReading, list[Check]]:
    envelope = house.drop(state.house, field=f"{field}.house", seconds=state.seconds)
    across = zone.drop(
        state.zone, field=f"{field}.zone", deviation=state.deviation, seconds=state.seconds
    )
    reading = ZoneReading(
        envelope=envelope.size,
        zone=across.size,
        across=Boundary(house.bench.document.across),
        u_envelope=envelope.u,
        u_zone=across.u,
    )
    drops_of(reading)
    return reading, [*envelope.checks, *across.checks]


def _flows(bench: Bench, states: Sequence[ZoneState]) -> list[float]:
    """Of every state where the method rests on them; else of the first, where it was read."""
    needed = bench.document.method in WITH_FAN
    if not needed and states[0].fan is None:
        return []
    return [
        bench.flow(
            state.fan,
            field=f"states[{at}].fan",
            label=f"Fan flow of state {at + 1}",
            direction=bench.document.direction,
        )
        for at, state in enumerate(states if needed else states[:1])
    ]


def _hole(bench: Bench) -> Hole:
    document = bench.document
    if document.opening is None:
        raise NotMeasured("opening", "The hole that was added")
    if document.opening.boundary is None:
        raise NotMeasured("opening.boundary", "The boundary that got the hole")
    boundary = Boundary(document.opening.boundary)
    discharge = document.opening.discharge
    return Hole(
        boundary=boundary,
        area=bench.needed(document.opening.area, "opening.area", "Area of the hole"),
        discharge=bench.book.setting("zone.discharge") if discharge is None else discharge,
        assumed=discharge is None,
        density=bench.density(_temperature(bench, boundary)),
    )


def _temperature(bench: Bench, boundary: Boundary) -> float | None:
    """Of the air that the fan draws or drives through the boundary. [degC]"""
    document = bench.document
    inward = document.direction == "depressurization"
    if inward == (boundary is Boundary.HOUSE_ZONE):
        temperature: float | None = document.zone_temperature
    elif inward:
        temperature = document.conditions.outdoor_temperature
    else:
        temperature = document.conditions.indoor_temperature
    return temperature


def _closure(states: Sequence[ZoneState], readings: Sequence[ZoneReading]) -> float | None:
    """The third reading's hoses may lie either way round, so its size counts. [Pa]"""
    gaps = [
        abs(state.third) + float(np.asarray(reading.zone)) - float(np.asarray(reading.envelope))
        for state, reading in zip(states, readings, strict=True)
        if state.third is not None
    ]
    return max(gaps, key=abs, default=None)


def _largest(values: Sequence[float | None]) -> float | None:
    known = recorded(values)
    return max(known) if len(known) == len(values) else None


def opened_by(document_method: str, hole: Hole | None) -> Boundary | None:
    """The boundary the test opened; None where it opened none."""
    if hole is not None:
        return hole.boundary
    return Boundary(OPENED[document_method]) if document_method in OPENED else None
