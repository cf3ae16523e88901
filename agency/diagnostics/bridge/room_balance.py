"""Closed rooms against the main body of the house, and the opening each one lacks."""

from collections.abc import Iterator
from dataclasses import dataclass

from agency.leakage.air_handler import (
    RoomLimit,
    added_transfer_area,
    room_limit,
    transfer_area,
)

from ..evaluation import Check, Step
from ..forms.room_balance import Room
from .bench import Bench
from .book import Book
from .findings import Findings, Shown, answer_of, spoken, state_of, step
from .si import FLOW

LIMITS, NAMED = "rooms.limit.", "rooms.programme-basis."
ORIFICE = ("orifice equation", "derived")


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """One room held against the strictest limit that decides."""

    field: str
    room: Room
    code: str
    """Of the rule; empty where the rule book holds none."""
    limit: float | None
    """[Pa]"""
    checks: list[Check]

    @property
    def is_over(self) -> bool:
        return any(one.status == "advisory" for one in self.checks)


def room_balance_findings(bench: Bench) -> Findings:
    """Every room against its limit, the farthest room first."""
    judged = [
        _judged(bench, f"rooms[{number}].pressure", room)
        for number, room in enumerate(bench.document.rooms)
    ]
    limits = _limits(judged)
    needed, steps = _openings(bench, judged)
    farthest = _farthest(judged)
    return Findings(
        method="Room balance",
        edition="agency",
        answer=answer_of(limits),
        words=f"Room balance: {spoken(limits)}",
        shown=[*_figures(judged, farthest), *needed],
        limits=limits,
        steps=steps,
        drawing={
            "type": "bars",
            "title": "Closed rooms against the main body of the house",
            "measure": "Room to main body",
            "quantity": "pressure",
            "bars": [
                {
                    "label": one.room.name,
                    "value": one.room.pressure,
                    "low": None if one.limit is None else -one.limit,
                    "high": one.limit,
                    "state": state_of(one.checks),
                }
                for one in judged
            ],
        },
        details={
            "rooms": len(judged),
            "over": sum(one.is_over for one in judged),
            "not_read": sum(one.room.pressure is None for one in judged),
            "farthest": None if farthest is None else farthest.room.pressure,
        },
    )


def _judged(bench: Bench, field: str, room: Room) -> Judged:
    code, limit = min(_room_limits(bench.book, room), key=lambda one: one[1], default=("", None))
    if limit is None:
        return Judged(field=field, room=room, code="", limit=None, checks=[])
    size = None if room.pressure is None else abs(room.pressure)
    words = (
        f"{room.name}: not read."
        if room.pressure is None
        else f"{room.name}: {room.pressure:+.1f} Pa to the main body; the limit is {limit:g} Pa."
    )
    checks = bench.book.check(code, size, field=field, message=words)
    return Judged(field=field, room=room, code=code, limit=limit, checks=checks)


def _room_limits(book: Book, room: Room) -> Iterator[tuple[str, float]]:
    """Rule and limit for this room on each basis in force, or on the programme's named ones."""
    known = [one.code for one in book.beginning(LIMITS)]
    bases = [code for code in known if "." not in code.removeprefix(LIMITS)]
    named = {LIMITS + one.code.removeprefix(NAMED) for one in book.beginning(NAMED)}
    for base in [code for code in bases if code in named] or bases:
        wide, wide_from = book.limit_of(f"{base}.wide"), book.limit_of(f"{base}.wide-from")
        rule = RoomLimit(
            limit=book.setting(base),
            wide_limit=wide,
            wide_from=None if wide_from is None else wide_from * FLOW["cfm"],
        )
        limit = room_limit(rule, design_flow=room.design_flow)
        yield (base if limit == rule.limit else f"{base}.wide"), limit


def _limits(judged: list[Judged]) -> list[Check]:
    """Rooms over their limit or not read, by name; else the farthest room of each limit."""
    open_ones = [check for one in judged for check in one.checks if check.status != "pass"]
    if open_ones:
        return open_ones
    by_code: dict[str, Judged] = {}
    for one in judged:
        if one.code not in by_code or _size(one) > _size(by_code[one.code]):
            by_code[one.code] = one
    return [check for one in by_code.values() for check in one.checks]


def _size(one: Judged) -> float:
    return abs(one.room.pressure or 0.0)


def _farthest(judged: list[Judged]) -> Judged | None:
    read = [one for one in judged if one.room.pressure is not None]
    return max(read, key=_size, default=None)


def _figures(judged: list[Judged], farthest: Judged | None) -> list[Shown]:
    over = sum(one.is_over for one in judged)
    unread = [one.room.name for one in judged if one.room.pressure is None]
    return [
        Shown(
            name="Farthest from the main body",
            quantity="pressure",
            value=None if farthest is None else farthest.room.pressure,
            note="no room read" if farthest is None else farthest.room.name,
        ),
        Shown(name="Rooms beyond their limit", quantity="number", value=over),
        Shown(name="Rooms not read", quantity="number", value=len(unread), note=", ".join(unread)),
    ]


def _openings(bench: Bench, judged: list[Judged]) -> tuple[list[Shown], list[Step]]:
    """For each room over its limit, the opening it needs and what is to be added."""
    shown: list[Shown] = []
    steps: list[Step] = []
    for one in judged:
        if one.is_over and one.limit is not None:
            for figure, made in (_needed(bench, one, one.limit), _added(one, one.limit)):
                shown.append(figure)
                steps += made
    return shown, steps


def _needed(bench: Bench, one: Judged, limit: float) -> tuple[Shown, list[Step]]:
    """The whole opening that lets the room's air back at its limit."""
    name, flow = f"{one.room.name}: opening needed in all", one.room.supply_flow
    if flow is None:
        note = "supply flow not measured"
        return Shown(name=name, quantity="opening_area", value=None, note=note), []
    discharge = bench.book.setting("rooms.discharge")
    density = bench.density(bench.document.conditions.indoor_temperature)
    area = float(transfer_area(flow=flow, pressure=limit, discharge=discharge, density=density))
    made = step(
        name, "A = Q/(C_d √(2 p/ρ))", area, "m²",
        source=ORIFICE, Q=flow, p=limit, C_d=discharge, ρ=density,
    )  # fmt: skip
    return Shown(name=name, quantity="opening_area", value=area), [made]


def _added(one: Judged, limit: float) -> tuple[Shown, list[Step]]:
    """What the opening there is lacks."""
    name, there = f"{one.room.name}: opening to add", one.room.open_area
    if there is None:
        note = "open area not measured"
        return Shown(name=name, quantity="opening_area", value=None, note=note), []
    pressure = _size(one)
    area = float(added_transfer_area(open_area=there, measured_pressure=pressure, limit=limit))
    made = step(
        name, "A₊ = A (√(|p|/p_limit) − 1)", area, "m²",
        source=ORIFICE, A=there, p=pressure, p_limit=limit,
    )  # fmt: skip
    return Shown(name=name, quantity="opening_area", value=area), [made]
