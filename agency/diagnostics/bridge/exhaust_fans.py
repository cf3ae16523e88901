"""Local exhaust: what each fan moves, against what the chosen edition asks of its room."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from agency.leakage.air import REFERENCE_DENSITY
from agency.leakage.errors import LeakageError
from agency.leakage.exhaust_fans import box_flow, box_flow_uncertainty, powered_hood_flow
from agency.leakage.line import NORMAL_QUANTILE
from agency.leakage.validity import judge
from agency.leakage.ventilation import flow_for_air_changes
from agency.rulebook.shipped import RuleLike

from ..evaluation import Check, Step
from ..forms.exhaust_fans import Exhaust
from .bench import BEYOND_NUMBERS, Bench, NotMeasured
from .book import criterion_of
from .findings import Answer, Findings, Shown, answer_of, spoken, state_of, step
from .si import FLOW
from .visit_checks import sign_check

CFM = FLOW["cfm"]
FANS = "fans"
"""Unit of a rule that asks how many fans there are, not what they move."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """What one fan moves, or why that is not known."""

    flow: float | None
    """[m³/s]"""
    u_relative: float = 0.0
    """Standard. [-]"""
    why: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """One room with everything its edition asks of it."""

    exhaust: Exhaust
    measured: Measured
    limits: Sequence[Check]
    required: float | None
    """The largest of the flows asked for; None where that is not known. [m³/s]"""


def exhaust_findings(bench: Bench) -> Findings:
    """Each room met, missed or not tested; a fan that was not measured is never a pass."""
    rooms = [_room(bench, number) for number in range(len(bench.document.exhausts))]
    limits = [check for room in rooms for check in room.limits]
    unruled = [room.exhaust.room for room in rooms if not room.limits]
    answer = answer_of(limits)
    if answer is Answer.FOUND or (unruled and answer is Answer.MET):
        answer = Answer.OPEN
    return Findings(
        method="ASHRAE 62.2 local exhaust",
        edition=bench.document.edition,
        answer=answer,
        words=_words(limits, unruled),
        shown=[_headline(rooms), *_figures(rooms)],
        limits=limits,
        checks=list(_sign_checks(bench)),
        steps=list(_steps(bench, rooms)),
        drawing=_drawing(rooms, bench.document.edition),
        details={
            "edition": bench.document.edition,
            "rooms": [_detail(room) for room in rooms],
        },
    )


def _room(bench: Bench, number: int) -> Room:
    one = bench.document.exhausts[number]
    measured = _measured(bench, one, f"exhausts[{number}]")
    prefix = f"exhaust.{bench.document.edition}.{one.sort}.{one.operation}."
    rules = bench.book.beginning(prefix)
    required = [_required(rule, one) for rule in rules if rule.unit != FANS]
    known = [flow for flow in required if flow is not None]
    return Room(
        exhaust=one,
        measured=measured,
        limits=[_check(bench, rule, one, measured, f"exhausts[{number}]") for rule in rules],
        required=max(known) if known and len(known) == len(required) else None,
    )


def _measured(bench: Bench, one: Exhaust, field: str) -> Measured:
    """Flow by the way it was measured; a reading that is refused is a fan not tested."""
    try:
        if one.measured_by == "orifice_box":
            return _by_box(bench, one, field)
        if one.measured_by == "powered_hood":
            return _by_hood(bench, one, field)
    except (NotMeasured, LeakageError) as refusal:
        return Measured(flow=None, why=str(refusal))
    except ArithmeticError:
        return Measured(flow=None, why=BEYOND_NUMBERS)
    return Measured(flow=0.0 if one.measured_by == "no_fan" else None)


def _by_box(bench: Bench, one: Exhaust, field: str) -> Measured:
    setting = bench.book.setting
    pressure = bench.needed(one.box_pressure, f"{field}.box_pressure", "Box to room")
    flow = box_flow(
        area=bench.needed(one.hole_area, f"{field}.hole_area", "Hole of the box"),
        pressure=pressure,
        discharge=_discharge(bench, one),
        density=bench.density(bench.document.conditions.indoor_temperature),
        lowest_pressure=setting("exhaust.lowest-box-pressure"),
        highest_pressure=setting("exhaust.highest-box-pressure"),
    )
    u = box_flow_uncertainty(
        pressure=pressure,
        u_pressure=bench.u_pressure(pressure),
        u_area=setting("exhaust.area-uncertainty") / 100,
        u_discharge=setting("exhaust.discharge-uncertainty") / 100,
    )
    return Measured(flow=float(flow), u_relative=float(u))


def _discharge(bench: Bench, one: Exhaust) -> float:
    """Of the box's certificate, else the book's. [-]"""
    if one.discharge is not None:
        return one.discharge
    return bench.book.setting("exhaust.discharge")


def _by_hood(bench: Bench, one: Exhaust, field: str) -> Measured:
    gauge = bench.sent.gauge
    density = bench.density(bench.document.conditions.indoor_temperature)
    flow = powered_hood_flow(
        flow=bench.needed(one.hood_flow, f"{field}.hood_flow", "Flow of the hood"),
        residual_pressure=bench.needed(one.hood_pressure, f"{field}.hood_pressure", "Hood to room"),
        balanced_within=bench.book.setting("exhaust.hood-balance"),
        calibration_density=REFERENCE_DENSITY,
        density=REFERENCE_DENSITY if gauge is not None and gauge.density_corrected else density,
    )
    percent = bench.book.setting("exhaust.hood-uncertainty")
    return Measured(flow=float(flow), u_relative=percent / 100)


def _required(rule: RuleLike, one: Exhaust) -> float | None:
    """Flow a rule asks for; None for air changes of a kitchen of unknown volume. [m³/s]"""
    limit = rule.limit or 0.0
    if rule.unit == "cfm":
        return limit * CFM
    if one.volume is None:
        return None
    return float(flow_for_air_changes(air_changes=limit, volume=one.volume))


def _check(bench: Bench, rule: RuleLike, one: Exhaust, measured: Measured, field: str) -> Check:
    """One rule held against the fan, unrounded: 49.9 fails 50."""
    value, where, missing = measured.flow, f"{field}.measured_by", measured.why
    if rule.unit == FANS:
        value = 1.0
    elif rule.unit == "cfm":
        value = None if value is None else value / CFM
    elif one.volume is None:
        value, where, missing = None, f"{field}.volume", "Its volume was not measured."
    elif value is not None:
        value /= float(flow_for_air_changes(air_changes=1.0, volume=one.volume))
    # Units turned there and back leave a trace behind the ninth decimal.
    value = None if value is None else round(value, 9)
    if value is None:
        words = f"{one.room}: not tested; {rule.limit:g} {rule.unit} is asked for. {missing}"
    elif rule.unit == FANS:
        words = f"{one.room}: a kitchen that is not enclosed needs a fan that runs on demand."
    else:
        words = f"{one.room}: {value:.6g} {rule.unit}; {rule.limit:g} {rule.unit} is asked for."
    verdict = judge(value, criterion_of(rule))
    return bench.book.judged(verdict, field=where, message=words.strip())


def _words(limits: Sequence[Check], unruled: Sequence[str]) -> str:
    told = [f"{room}: the rule book holds no rule for it." for room in unruled]
    if not limits:
        return " ".join(told) or "No fan is listed, so nothing was tested."
    return " ".join([spoken(limits), *told])


def _headline(rooms: Sequence[Room]) -> Shown:
    """Rooms with enough exhaust, of how many."""
    states = [answer_of(room.limits) for room in rooms]
    untested = sum(one in {Answer.OPEN, Answer.FOUND} for one in states)
    return Shown(
        name="Rooms with enough exhaust",
        quantity="number",
        value=sum(one is Answer.MET for one in states),
        note=f"of {len(rooms)}, {untested} not tested",
    )


def _figures(rooms: Sequence[Room]) -> Iterator[Shown]:
    for room in rooms:
        flow, half = room.measured.flow, NORMAL_QUANTILE * room.measured.u_relative
        required = room.required
        yield Shown(
            name=f"{room.exhaust.room}: exhaust",
            quantity="flow",
            value=flow,
            low=None if not flow else flow * (1 - half),
            high=None if not flow else flow * (1 + half),
            note=room.measured.why
            or ("" if required is None else f"{required / CFM:.4g} cfm asked for"),
        )


def _sign_checks(bench: Bench) -> Iterator[Check]:
    for number, one in enumerate(bench.document.exhausts):
        if one.box_pressure is not None:
            yield from sign_check(
                bench.book,
                one.box_pressure,
                sign=-1,
                field=f"exhausts[{number}].box_pressure",
                label=f"{one.room}: box to room",
            )


def _steps(bench: Bench, rooms: Sequence[Room]) -> Iterator[Step]:
    density = bench.density(bench.document.conditions.indoor_temperature)
    for room in rooms:
        one, flow = room.exhaust, room.measured.flow
        if flow is not None and one.measured_by == "orifice_box":
            yield step(
                f"{one.room}: flow through the box",
                "Q = C_d A √(2 |Δp|/ρ)",
                flow,
                "m³/s",
                source=("Flow through a sharp-edged hole", "derived"),
                C_d=_discharge(bench, one),
                A=one.hole_area,
                Δp=one.box_pressure,
                ρ=density,
            )
        if flow is not None and one.measured_by == "powered_hood":
            yield step(
                f"{one.room}: flow of the balanced hood",
                "Q = Q_read √(ρ_cal/ρ), unless the gauge had corrected it",
                flow,
                "m³/s",
                source=("Hood balanced by its own fan", "common practice, no source"),
                Q_read=one.hood_flow,
                ρ_cal=REFERENCE_DENSITY,
                ρ=density,
            )


def _drawing(rooms: Sequence[Room], edition: str) -> dict[str, Any] | None:
    if not rooms:
        return None
    return {
        "type": "bars",
        "title": f"Local exhaust against ASHRAE 62.2-{edition}",
        "measure": "Exhaust",
        "quantity": "flow",
        "bars": [
            {
                "label": room.exhaust.room,
                "value": room.measured.flow,
                "low": room.required,
                "state": "unjudged" if room.measured.flow is None else state_of(room.limits),
            }
            for room in rooms
        ],
    }


def _detail(room: Room) -> dict[str, Any]:
    one = room.exhaust
    return {
        "room": one.room,
        "sort": one.sort,
        "operation": one.operation,
        "flow": room.measured.flow,
        "required": room.required,
        "window": one.window,
        "answer": str(answer_of(room.limits)),
    }
