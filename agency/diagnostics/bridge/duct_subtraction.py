"""Duct leakage to outside by subtraction: the door fan with registers open, then sealed."""

from dataclasses import dataclass

from agency.leakage.duct_subtraction import (
    SubtractionLeakage,
    SubtractionReadings,
    SubtractionRule,
    subtraction_leakage,
)
from agency.leakage.fan_flow import Direction
from agency.leakage.scaling import flow_at_other_pressure

from ..evaluation import Check, Step
from ..forms.duct_leakage import DoorFanState, SealedState
from .bench import Bench
from .duct_limits import Leakage
from .findings import Shown, step
from .visit_checks import sign_check

POWER_LAW = ("power law", "derived")
BOTH = ("power law at both pressures", "derived")


@dataclass(frozen=True, slots=True, kw_only=True)
class States:
    """Both states of the registers, every reading there."""

    open: DoorFanState
    sealed: SealedState
    duct_to_house: float
    """Of the sealed state. [Pa]"""


def subtracted(bench: Bench) -> Leakage:
    """Leakage to outside, or none where the flows differ by no more than repeatability."""
    states = _states(bench)
    readings, rule = _readings(bench, states), _rule(bench)
    found = subtraction_leakage(readings, rule=rule)
    note = "" if found.is_determined else found.words
    size = found.flow / found.u_flow if found.u_flow else None
    return Leakage(
        flow=found.flow if found.is_determined else None,
        u_flow=found.u_flow,
        note=note,
        checks=[
            *_state_checks(bench, states),
            *bench.book.check("ducts.subtraction.determined", size, message=note),
        ],
        steps=_steps(readings, found, rule),
        shown=[
            Shown(name="Correction factor", quantity="ratio", value=found.correction_factor),
            Shown(
                name="The same at the pressure of the house",
                quantity="flow",
                value=found.flow_at_house_pressure if found.is_determined else None,
                note=note,
            ),
        ],
    )


def _states(bench: Bench) -> States:
    document = bench.document
    opened: DoorFanState = bench.needed(
        document.registers_open, "registers_open", "The state with registers open"
    )
    sealed: SealedState = bench.needed(
        document.registers_sealed, "registers_sealed", "The state with registers sealed"
    )
    duct = bench.needed(
        sealed.duct_to_house, "registers_sealed.duct_to_house", "Sealed duct to house"
    )
    return States(open=opened, sealed=sealed, duct_to_house=duct)


def _state_checks(bench: Bench, states: States) -> list[Check]:
    book, sign = bench.book, Direction(bench.document.direction).sign
    opened, sealed = states.open.house_pressure, states.sealed.house_pressure
    expected = (
        ("registers_open.house_pressure", "House to outside", opened, sign),
        ("registers_sealed.house_pressure", "House to outside", sealed, sign),
        ("registers_sealed.duct_to_house", "Sealed duct to house", states.duct_to_house, -sign),
    )
    checks = [
        check
        for field, label, value, side in expected
        for check in sign_check(book, value, sign=side, field=field, label=label)
    ]
    apart = abs(opened - sealed)
    field = "registers_open.house_pressure"
    return checks + book.complaint("ducts.subtraction.same-pressure", apart, field=field)


def _readings(bench: Bench, states: States) -> SubtractionReadings:
    """Both flows at the house pressure of the sealed state."""
    book, direction = bench.book, bench.document.direction
    flow_open, flow_sealed = (
        bench.flow(state, field=name, label=f"Flow of the door fan, {words}", direction=direction)
        for name, words, state in (
            ("registers_open", "registers open", states.open),
            ("registers_sealed", "registers sealed", states.sealed),
        )
    )
    house = states.sealed.house_pressure
    brought = float(
        flow_at_other_pressure(
            flow=flow_open,
            pressure=abs(states.open.house_pressure),
            target=abs(house),
            exponent=book.setting("setting.assumed-exponent"),
        )
    )
    return SubtractionReadings(
        flow_open=brought,
        flow_sealed=flow_sealed,
        u_flow=book.setting("uncertainty.flow-random") * brought,
        house_pressure=house,
        sealed_duct_to_house=states.duct_to_house,
        u_pressure=bench.u_pressure(house),
    )


def _rule(bench: Bench) -> SubtractionRule:
    book = bench.book
    return SubtractionRule(
        reference_pressure=book.setting("ducts.reference-pressure"),
        exponent=book.setting("ducts.subtraction.exponent"),
        u_exponent=book.setting("ducts.exponent-uncertainty"),
        highest_ratio=book.setting("ducts.subtraction.highest-ratio"),
        least_uncertainties=book.setting("ducts.subtraction.determined"),
    )


def _steps(
    readings: SubtractionReadings, found: SubtractionLeakage, rule: SubtractionRule
) -> list[Step]:
    reference = f"{rule.reference_pressure:g}"
    return [
        step(
            "Correction for sealed ducts that still leak",
            "SCF = 1/(1 − (p_d/P)^n), p_d = P − |sealed duct to house|",
            found.correction_factor,
            "",
            source=BOTH,
            P=abs(readings.house_pressure),
            sealed_duct_to_house=readings.sealed_duct_to_house,
            n=rule.exponent,
        ),
        step(
            "Leakage to outside at the pressure of the house",
            "Q_P = (Q_open − Q_sealed) SCF, both flows at one house pressure",
            found.flow_at_house_pressure,
            "m³/s",
            source=BOTH,
            Q_open=readings.flow_open,
            Q_sealed=readings.flow_sealed,
        ),
        step(
            f"The same at {reference} Pa",
            f"Q = Q_P ({reference}/P)^n",
            found.flow,
            "m³/s",
            source=POWER_LAW,
            n=rule.exponent,
            u=found.u_flow,
        ),
    ]
