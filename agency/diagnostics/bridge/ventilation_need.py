"""Whole-house ventilation: sizes, people and earlier tests in, the flow of the fan out."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from agency.leakage.exhaust_fans import MINUTES_PER_HOUR, minutes_per_hour
from agency.leakage.units import METRE_PER_FOOT
from agency.leakage.ventilation import (
    Dwelling,
    LocalRoom,
    VentilationEdition,
    VentilationNeed,
    WeatherFactor,
    annual_infiltration,
    existing_dwelling_need,
    ventilation_need,
)

from ..evaluation import Check, Step
from .bench import Bench
from .findings import Findings, Shown, answer_of, spoken, state_of, step
from .si import FLOW
from .ventilation_edition import deficit_requirement, edition_of

CFM = FLOW["cfm"]
EXHAUST_FANS = "exhaust_fans"
COMPUTED = "computed, not tabulated"
PATHS = {"ordinary": "ordinary path", "existing_dwelling": "existing dwelling, Appendix A"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Credit:
    """Infiltration that is credited, or why none is."""

    infiltration: float | None
    """[m³/s]"""
    why: str
    """Where it comes from, or why there is none."""
    flow_50: float | None = None
    """[m³/s]"""
    height: float | None = None
    """[m]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One dwelling with its edition, its credit, its rooms, and what it needs."""

    edition: VentilationEdition
    credit: Credit
    rooms: Sequence[LocalRoom]
    need: VentilationNeed
    installed: float | None
    """[m³/s]"""
    minutes: float | None
    """Not known without a measured flow, or without any flow. [min/h]"""


def ventilation_findings(bench: Bench) -> Findings:
    """The flow needed and its parts; a measured fan is held against it."""
    case = _case(bench)
    document, need = bench.document, case.need
    limits = _limits(bench, case)
    return Findings(
        method=f"ASHRAE 62.2, {PATHS[document.method]}",
        edition=document.edition,
        answer=answer_of(limits),
        words=_words(case, limits),
        shown=list(_shown(case)),
        limits=limits,
        checks=_checks(bench),
        steps=list(_steps(bench, case)),
        drawing=_drawing(case, limits),
        details={
            "fan_flow": need.fan_flow,
            "whole_house": need.whole_house,
            "credit": need.credit,
            "supplement": need.supplement,
            "people": need.people,
            "deficits": need.deficits,
            "installed": case.installed,
            "minutes": case.minutes,
            "flow_50": case.credit.flow_50,
            "weather_factor": document.weather_factor,
            "weather_station": document.weather_station,
            "weather_edition": document.weather_edition,
            "weather_basis": document.weather_basis,
        },
    )


def _case(bench: Bench) -> Case:
    document = bench.document
    edition = edition_of(bench.book, document.edition)
    credit = _credit(bench, edition)
    dwelling = Dwelling(
        floor_area=bench.needed(bench.floor_area, "house.floor_area", "Floor area"),
        bedrooms=int(bench.needed(document.bedrooms, "bedrooms", "The number of bedrooms")),
        occupants=None if document.occupants is None else int(document.occupants),
        infiltration=credit.infiltration,
        # Without a credit the share changes nothing.
        outdoor_share=document.outdoor_share or 0.0,
        is_balanced=document.fan == "balanced",
    )
    rooms: Sequence[LocalRoom] = ()
    if document.method == "existing_dwelling":
        rooms = _rooms(bench)
        need = existing_dwelling_need(dwelling, rooms=rooms, edition=edition)
    else:
        need = ventilation_need(dwelling, edition=edition)
    installed = document.fan_flow
    return Case(
        edition=edition,
        credit=credit,
        rooms=rooms,
        need=need,
        installed=installed,
        minutes=_minutes(need.fan_flow, installed),
    )


def _minutes(required: float, installed: float | None) -> float | None:
    """None for a fan that moves nothing: no hour is long enough. [min/h]"""
    if installed is None or (installed == 0 and required > 0):
        return None
    return float(minutes_per_hour(required=required, installed=installed).minutes)


def _credit(bench: Bench, edition: VentilationEdition) -> Credit:
    """From the latest reportable tightness test, where the crew asks for it."""
    document = bench.document
    if not document.infiltration_credit:
        return Credit(infiltration=None, why="not asked for")
    if document.weather_factor is None:
        return Credit(infiltration=None, why="no weather and shielding factor was typed in")
    if document.outdoor_share is None:
        return Credit(infiltration=None, why="share of the envelope to outdoors not given")
    height = _height(bench)
    if height is None:
        return Credit(infiltration=None, why="height of the house not known")
    tests = [one for one in bench.context.earlier if one.is_reportable]
    latest = max(tests, key=lambda one: one.taken_at, default=None)
    if latest is None:
        return Credit(infiltration=None, why="no tightness test that may be reported")
    factor = WeatherFactor(
        value=document.weather_factor,
        station=document.weather_station or "",
        edition=COMPUTED if _is_computed(bench) else document.weather_edition or "",
    )
    found = annual_infiltration(
        flow_50=latest.flow_50, weather_factor=factor.value, height=height, edition=edition
    )
    return Credit(
        infiltration=float(found),
        why=f"test of {latest.taken_at:%Y-%m-%d}; {_origin(bench, factor)}",
        flow_50=latest.flow_50,
        height=height,
    )


def _is_computed(bench: Bench) -> bool:
    return bool(bench.document.weather_basis == "computed")


def _origin(bench: Bench, factor: WeatherFactor) -> str:
    if _is_computed(bench):
        return f"factor {factor.value:g}, {factor.station}, {COMPUTED}"
    table = f"typed from the standard's table, {factor.station}, edition {factor.edition}"
    return f"factor {factor.value:g}, {table}"


def _height(bench: Bench) -> float | None:
    """The register's height before the document's. [m]"""
    known = bench.context.geometry
    if known is not None and known.height_ft is not None:
        return known.height_ft * METRE_PER_FOOT
    house = bench.document.house
    return None if house is None else house.height


def _rooms(bench: Bench) -> list[LocalRoom]:
    """Typed in, else of the latest local exhaust test."""
    document = bench.document
    if document.rooms:
        given = [(one.room, one.sort, one.flow, one.window) for one in document.rooms]
    else:
        tests = [one for one in bench.context.bench if one.kind == EXHAUST_FANS]
        latest = max(tests, key=lambda one: one.taken_at, default=None)
        tested = bench.needed(
            None if latest is None else latest.details.get("rooms"),
            "rooms",
            "Exhaust of the kitchens and bathrooms, typed in or by an earlier test,",
        )
        given = [(one["room"], one["sort"], one["flow"], one["window"]) for one in tested]
    return [
        LocalRoom(
            name=name,
            required=deficit_requirement(
                bench.book, document.edition, "bathroom" if sort == "bathroom" else "kitchen"
            ),
            measured=flow,
            has_operable_window=window == "opens",
        )
        for name, sort, flow, window in given
    ]


def _limits(bench: Bench, case: Case) -> list[Check]:
    """A measured fan against the need; without one there is only a figure."""
    if case.installed is None:
        return []
    needed = case.need.fan_flow
    # Units turned there and back leave a trace behind the ninth decimal.
    share = 1.0 if needed == 0 else round(case.installed / needed, 9)
    words = (
        f"The fan moves {case.installed / CFM:.4g} cfm; {needed / CFM:.4g} cfm is needed, more "
        "than an hour can hold."
    )
    return bench.book.check("ventilation.fan-share", share, field="fan_flow", message=words)


def _checks(bench: Bench) -> list[Check]:
    document = bench.document
    if _is_computed(bench):
        return bench.book.complaint("ventilation.factor-computed", 1.0, field="weather_basis")
    other = document.weather_edition not in {None, document.edition}
    words = (
        f"The weather factor was read in edition {document.weather_edition}, the rate is that of "
        f"edition {document.edition}."
    )
    return bench.book.complaint(
        "ventilation.factor-edition", float(other), field="weather_edition", message=words
    )


def _words(case: Case, limits: Sequence[Check]) -> str:
    need = case.need
    told = [f"The fan must move {need.fan_flow / CFM:.0f} cfm all the time."]
    if need.balance <= 0:
        told = ["No fan is needed: infiltration alone comes to the rate."]
    elif case.minutes is not None and case.minutes <= MINUTES_PER_HOUR:
        told.append(f"As measured it must run {case.minutes:.0f} minutes in each hour.")
    if case.credit.infiltration is None:
        told.append(f"No credit for infiltration: {case.credit.why}.")
    if need.not_tested:
        told.append(f"Not measured, counted as no exhaust: {', '.join(need.not_tested)}.")
    if answer_of(limits) == "missed":
        told.append(spoken(limits))
    return " ".join(told)


def _shown(case: Case) -> Iterator[Shown]:
    need = case.need
    yield Shown(name="Fan flow needed", quantity="flow", value=need.fan_flow)
    yield Shown(
        name="Whole-house rate",
        quantity="flow",
        value=need.whole_house,
        note=f"for {need.people} people",
    )
    credited = None if case.credit.infiltration is None else need.credit
    yield Shown(
        name="Credit for infiltration", quantity="flow", value=credited, note=case.credit.why
    )
    if case.rooms:
        yield Shown(name="Added for local exhaust", quantity="flow", value=need.supplement)
    for room in case.rooms:
        yield Shown(
            name=f"{room.name}: exhaust lacking",
            quantity="flow",
            value=need.deficits[room.name],
            note="not measured, counted as none" if room.measured is None else "",
        )
    if case.installed is not None:
        yield Shown(name="Fan as measured", quantity="flow", value=case.installed)
        yield Shown(
            name="Time the fan must run",
            quantity="minutes",
            value=case.minutes,
            note="it moves nothing" if case.minutes is None else "",
        )


def _steps(bench: Bench, case: Case) -> Iterator[Step]:
    edition, need, credit = case.edition, case.need, case.credit
    source = (f"{edition.edition}: {edition.source}", edition.provenance)
    yield step(
        "Whole-house rate",
        "Q_tot = a A + b N",
        need.whole_house,
        "m³/s",
        source=source,
        a=edition.floor_rate,
        A=bench.floor_area,
        b=edition.person_rate,
        N=need.people,
    )
    if credit.infiltration is not None:
        yield step(
            "Annual infiltration",
            "Q_inf = k Q50 wsf (H/H_r)^z",
            credit.infiltration,
            "m³/s",
            source=source,
            k=edition.pressure_factor,
            Q50=credit.flow_50,
            wsf=bench.document.weather_factor,
            H=credit.height,
            H_r=edition.reference_height,
            z=edition.height_exponent,
        )
    yield step(
        "Flow of the fan",
        "Q_fan = Q_tot + d ΣD − φ Q_inf A_ext",
        need.fan_flow,
        "m³/s",
        source=source,
        Q_tot=need.whole_house,
        supplement=need.supplement,
        credit=need.credit,
        φ="none" if need.superposition_factor is None else need.superposition_factor,
    )


def _drawing(case: Case, limits: Sequence[Check]) -> dict[str, Any]:
    need = case.need
    parts = (
        ("Whole-house rate", need.whole_house),
        ("Added for local exhaust", need.supplement),
        ("Credit for infiltration", -need.credit),
        ("Fan flow needed", need.fan_flow),
    )
    bars: list[dict[str, Any]] = [
        {"label": label, "value": value, "state": "unjudged"} for label, value in parts
    ]
    if case.installed is not None:
        bars.append(
            {
                "label": "Fan as measured",
                "value": case.installed,
                "low": need.fan_flow,
                "state": state_of(limits),
            }
        )
    return {
        "type": "bars",
        "title": f"Ventilation of the dwelling by {case.edition.edition}",
        "measure": "Flow",
        "quantity": "flow",
        "bars": bars,
    }
