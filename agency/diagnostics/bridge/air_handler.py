"""Air-handler flow three ways, and the flow per ton of cooling."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from agency.leakage.air_handler import (
    OperatingFlow,
    burner_output,
    flow_cfm_per_ton,
    operating_flow,
    operating_flow_uncertainty,
    temperature_rise_flow,
    temperature_rise_uncertainty,
)
from agency.leakage.line import NORMAL_QUANTILE
from agency.leakage.reading_errors import rectangular

from ..evaluation import Check, Step
from .bench import Bench
from .findings import Findings, Shown, answer_of, spoken, state_of, step
from .visit_checks import sign_check

PER_TON = "handler.flow-per-ton"
QUADRATIC = ("duct system taken as quadratic", "derived")
ENERGY = ("conservation of energy", "derived")


@dataclass(frozen=True, slots=True, kw_only=True)
class Moved:
    """Flow of the handler in operation, however it was found."""

    method: str
    edition: str
    flow: float
    """[m³/s]"""
    u_flow: float
    """Relative standard uncertainty, k = 1. [-]"""
    checks: list[Check]
    steps: list[Step]
    note: str = ""
    shown: list[Shown] = field(default_factory=list)


def air_handler_findings(bench: Bench) -> Findings:
    """The flow in operation, and per ton where the capacity is known."""
    capacity = bench.document.cooling_capacity
    moved = METHODS[bench.document.method](bench)
    half = NORMAL_QUANTILE * moved.u_flow * moved.flow
    per_ton = (
        None if capacity is None else float(flow_cfm_per_ton(flow=moved.flow, capacity=capacity))
    )
    limits = [] if per_ton is None else bench.book.check(PER_TON, per_ton, field="cooling_capacity")
    return Findings(
        method=moved.method,
        edition=moved.edition,
        answer=answer_of(limits),
        words="Air-handler flow: "
        + ("no cooling capacity, so no flow per ton." if per_ton is None else spoken(limits)),
        shown=[
            Shown(
                name="Air-handler flow",
                quantity="flow",
                value=moved.flow,
                low=moved.flow - half,
                high=moved.flow + half,
                note=moved.note,
            ),
            Shown(
                name="Flow per ton of cooling",
                quantity="flow_per_ton",
                value=per_ton,
                note="" if capacity else "no cooling capacity given",
            ),
            *moved.shown,
        ],
        limits=limits,
        checks=moved.checks,
        steps=[*moved.steps, *_per_ton_steps(moved.flow, capacity, per_ton)],
        drawing=_drawing(bench, moved.flow, per_ton, state_of(limits)),
        details={"flow": moved.flow, "u_flow": moved.u_flow * moved.flow, "per_ton": per_ton},
    )


def _restriction(bench: Bench) -> Moved:
    """A flow grid or plate in the filter slot, corrected to normal operation."""
    return _by_static(
        bench,
        label="Flow of the device in the filter slot",
        method="Flow device in the filter slot",
        edition="agency",
    )


def _pressure_matching(bench: Bench) -> Moved:
    """A fan at the return, raised until the supply plenum is at its normal pressure."""
    document = bench.document
    moved = _by_static(
        bench,
        label="Flow of the fan at the return",
        method="ANSI/RESNET/ACCA 310, pressure matching",
        edition="2020",
    )
    apart = abs(document.normal_static - document.static_with_device)
    moved.checks.extend(bench.book.complaint("handler.matched", apart, field="static_with_device"))
    return moved


def _by_static(bench: Bench, *, label: str, method: str, edition: str) -> Moved:
    """A flow read at one supply pressure, brought to the normal one."""
    document, book = bench.document, bench.book
    normal = bench.needed(
        document.normal_static, "normal_static", "Supply plenum to house, as it normally runs"
    )
    reached = bench.needed(
        document.static_with_device,
        "static_with_device",
        "Supply plenum to house, with the device or fan",
    )
    read = bench.indoor_flow(document.flow, field="flow", label=label, direction="pressurization")
    found = operating_flow(
        flow=read,
        normal_pressure=normal,
        pressure_with_device=reached,
        matched_within=book.setting("handler.matched"),
        lowest_ratio=book.setting("handler.lowest-ratio"),
        highest_ratio=book.setting("handler.highest-ratio"),
    )
    u_flow = operating_flow_uncertainty(
        u_flow=bench.u_flow(),
        normal_pressure=normal,
        pressure_with_device=reached,
        u_normal=bench.u_pressure(normal),
        u_with_device=bench.u_pressure(reached),
    )
    return Moved(
        method=method,
        edition=edition,
        flow=float(found.flow),
        u_flow=float(u_flow),
        note="" if found.is_matched else "brought from another supply pressure",
        checks=[
            *sign_check(book, normal, sign=1, field="normal_static", label="Supply to house"),
            *book.check("handler.pressure-ratio", normal / reached, field="static_with_device"),
        ],
        steps=[_static_step(read, normal, reached, found)],
        shown=[Shown(name="As read", quantity="flow", value=read, note=label.lower())],
    )


def _static_step(read: float, normal: float, reached: float, found: OperatingFlow) -> Step:
    return step(
        "Flow at the normal supply pressure",
        "Q = Q_read √(p_normal/p_read)",
        float(found.flow),
        "m³/s",
        source=QUADRATIC,
        Q_read=read,
        p_normal=normal,
        p_read=reached,
        factor=float(found.factor),
    )


def _temperature_rise(bench: Bench) -> Moved:
    """Heat given to the air over its rise in temperature, by the density of the site."""
    document, book = bench.document, bench.book
    heat = _heat(bench)
    back = bench.needed(document.return_temperature, "return_temperature", "Air in the return")
    supply = bench.needed(document.supply_temperature, "supply_temperature", "Air in the supply")
    density, rise = bench.density(back), supply - back
    flow = float(temperature_rise_flow(heat_output=heat, temperature_rise=rise, density=density))
    u_flow = temperature_rise_uncertainty(
        temperature_rise=rise,
        u_temperature=rectangular(book.setting("uncertainty.thermometer")),
        u_heat_output=book.setting("handler.heat-uncertainty"),
    )
    site = None if bench.station_pressure is None else 1.0
    return Moved(
        method="Temperature rise",
        edition="agency",
        flow=flow,
        u_flow=float(u_flow),
        checks=book.complaint("handler.air-density", site, field="conditions.elevation"),
        steps=[
            step(
                "Flow from heat and rise",
                "Q = Φ/(ρ c_p ΔT), ρ of the return air, c_p 1004.8 J/(kg K)",
                flow,
                "m³/s",
                source=ENERGY,
                Φ=heat,
                ρ=density,
                ΔT=rise,
            )
        ],
        shown=[
            Shown(name="Heat given to the air", quantity="heat", value=heat),
            Shown(name="Temperature rise", quantity="temperature_difference", value=rise),
        ],
    )


def _heat(bench: Bench) -> float:
    """What reaches the air: electric power as it is, a burner's input by its efficiency. [W]"""
    document = bench.document
    source = bench.needed(document.heat_source, "heat_source", "Where the heat comes from")
    given = bench.needed(document.heat_input, "heat_input", "Burner input, or electric power,")
    if source == "electric":
        return float(given)
    efficiency = bench.needed(document.efficiency, "efficiency", "Efficiency of the burner")
    return float(burner_output(heat_input=given, efficiency=efficiency))


def _per_ton_steps(flow: float, capacity: float | None, per_ton: float | None) -> list[Step]:
    if per_ton is None:
        return []
    return [
        step("Flow per ton of cooling", "Q/C", per_ton, "cfm/ton", source=("definition", "derived"),
             Q=flow, C=capacity)
    ]  # fmt: skip


def _drawing(bench: Bench, flow: float, per_ton: float | None, state: str) -> dict[str, Any]:
    """Flow per ton between its limits; the flow alone where there is no capacity."""
    rule = bench.book.rule(PER_TON)
    if per_ton is None or rule is None:
        bar: dict[str, Any] = {"label": "Air handler", "value": flow, "state": "unjudged"}
        measure, quantity = "Flow", "flow"
    else:
        bar = {"label": "Air handler", "value": per_ton, "low": rule.low, "high": rule.high,
               "state": state}  # fmt: skip
        measure, quantity = "Flow per ton of cooling", "flow_per_ton"
    return {
        "type": "bars",
        "title": "Air-handler flow",
        "measure": measure,
        "quantity": quantity,
        "bars": [bar],
    }


METHODS: Mapping[str, Callable[[Bench], Moved]] = {
    "restriction": _restriction,
    "pressure_matching": _pressure_matching,
    "temperature_rise": _temperature_rise,
}
