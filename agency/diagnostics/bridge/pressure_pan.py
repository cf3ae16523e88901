"""Pressure pan readings scaled to one pressure and held against the programme's limit."""

from dataclasses import dataclass
from typing import Any

from agency.leakage.ducts import PanSummary, pan_reading, summarize_pans
from agency.leakage.errors import LeakageError
from agency.leakage.fan_flow import Direction

from ..evaluation import Check
from .bench import Bench
from .findings import Findings, Shown, answer_of, spoken, state_of, step
from .visit_checks import sign_check

EACH, SUM = "pans.limit.each_register", "pans.limit.sum_of_registers"


@dataclass(frozen=True, slots=True, kw_only=True)
class Pans:
    """Scaled readings of all registers, None where one was not read, and what they sum up to."""

    reference: float
    """[Pa]"""
    across: float
    """What the readings were scaled by: house less duct space, else house less outside. [Pa]"""
    scaled: list[float | None]
    """[Pa]"""
    summary: PanSummary


def pressure_pan_findings(bench: Bench) -> Findings:
    """Every register at 50 Pa, the highest, their sum, and how many were not read."""
    pans = _pans(bench)
    limits = _limits(bench, pans)
    return Findings(
        method="Pressure pan",
        edition="agency",
        answer=answer_of(limits),
        words=_words(bench, pans, limits),
        shown=_figures(bench, pans),
        limits=limits,
        checks=_checks(bench, pans),
        steps=[
            step(
                f"Highest reading at {pans.reference:g} Pa",
                f"r = |r₀| {pans.reference:g}/|p|",
                pans.summary.highest,
                "Pa",
                source=("ratio of two pressures", "derived"),
                p=pans.across,
                registers=pans.summary.registers,
            )
        ],
        drawing=_drawing(bench, pans),
        details={
            "registers": pans.summary.registers,
            "not_measured": len(pans.summary.not_measured),
            "over": len(pans.summary.over),
            "highest": pans.summary.highest,
            "sum": pans.summary.total,
        },
    )


def _pans(bench: Bench) -> Pans:
    document, book = bench.document, bench.book
    house = bench.needed(document.house_pressure, "house_pressure", "House to outside")
    across = house if document.house_to_zone is None else document.house_to_zone
    reference = book.setting("pans.reference-pressure")
    gauge_error = book.setting("pans.gauge-error")
    scaled: list[float | None] = []
    for one in document.registers:
        if one.reading is None:
            scaled.append(None)
            continue
        try:
            found = pan_reading(
                reading=one.reading,
                house_to_zone=across,
                reference_pressure=reference,
                gauge_error=gauge_error,
            )
        except LeakageError as refusal:
            raise LeakageError(f"Register “{one.name}”: {refusal}") from None
        scaled.append(float(found))
    summary = summarize_pans(scaled, limit=book.setting(EACH))
    return Pans(reference=reference, across=across, scaled=scaled, summary=summary)


def _checks(bench: Bench, pans: Pans) -> list[Check]:
    """Signs, and whether the duct space is near enough to outside to tell leaks there."""
    document, book = bench.document, bench.book
    sign, zone = Direction(document.direction).sign, document.house_to_zone
    checks = sign_check(
        book, document.house_pressure, sign=sign, field="house_pressure", label="House to outside"
    )
    if zone is not None:
        share = zone / document.house_pressure if document.house_pressure else None
        checks += book.check("pans.space-near-outside", share, field="house_to_zone")
    field = "house_pressure" if zone is None else "house_to_zone"
    return checks + book.complaint("pans.lowest-pressure", abs(pans.across), field=field)


def _limits(bench: Bench, pans: Pans) -> list[Check]:
    """The programme's limit; without the pressure of the duct space it can only be missed."""
    document, book, summary = bench.document, bench.book, pans.summary
    if document.held_against == "none":
        return []
    if document.held_against == "each_register":
        limits = _each(bench, pans)
    else:
        total = summary.total
        mean = None if total is None else total / summary.registers
        limits = book.check(SUM, mean, field="registers", message=_sum_words(bench, pans, mean))
    if document.house_to_zone is None:
        words = "House to duct space was not read: the readings may be too low, never too high."
        limits += book.check("pans.space-measured", None, field="house_to_zone", message=words)
    return limits


def _each(bench: Bench, pans: Pans) -> list[Check]:
    """Every register above the limit or not read, by name; all of them in one line otherwise."""
    found, limit = [], bench.book.setting(EACH)
    for place, (one, scaled) in enumerate(zip(bench.document.registers, pans.scaled, strict=True)):
        words = (
            f"{one.name}: not read."
            if scaled is None
            else f"{one.name}: {scaled:.1f} Pa at {pans.reference:g} Pa; the limit is {limit:g} Pa."
        )
        field = f"registers[{place}].reading"
        found += bench.book.complaint(EACH, scaled, field=field, message=words)
    return found or bench.book.check(EACH, pans.summary.highest, field="registers")


def _sum_words(bench: Bench, pans: Pans, mean: float | None) -> str:
    if mean is None:
        names = [bench.document.registers[place].name for place in pans.summary.not_measured]
        return f"Not read, so there is no sum: {', '.join(names)}."
    limit = bench.book.setting(SUM)
    return (
        f"Sum of {pans.summary.registers} registers: {pans.summary.total:.1f} Pa; the limit is "
        f"{limit * pans.summary.registers:g} Pa."
    )


def _figures(bench: Bench, pans: Pans) -> list[Shown]:
    summary = pans.summary
    unread = len(summary.not_measured)
    limit = bench.book.setting(EACH)
    return [
        Shown(
            name=f"Highest reading at {pans.reference:g} Pa",
            quantity="pressure",
            value=summary.highest,
            note="" if summary.highest is None else _highest_name(bench, pans),
        ),
        Shown(
            name="Sum of the readings",
            quantity="pressure",
            value=summary.total,
            note=f"{unread} of {summary.registers} registers not read" if unread else "",
        ),
        Shown(name=f"Registers above {limit:g} Pa", quantity="number", value=len(summary.over)),
        Shown(name="Registers not read", quantity="number", value=unread),
    ]


def _highest_name(bench: Bench, pans: Pans) -> str:
    name: str = bench.document.registers[pans.scaled.index(pans.summary.highest)].name
    return name


def _words(bench: Bench, pans: Pans, limits: list[Check]) -> str:
    summary = pans.summary
    read = summary.registers - len(summary.not_measured)
    told = f"{read} of {summary.registers} registers read."
    if bench.document.held_against == "none":
        return f"{told} Held against no limit, as the document says."
    return f"{told} {spoken(limits)}"


def _drawing(bench: Bench, pans: Pans) -> dict[str, Any]:
    """One bar a register, read or not."""
    registers = zip(bench.document.registers, pans.scaled, strict=True)
    return {
        "type": "bars",
        "title": "Pressure pan readings",
        "measure": f"Reading at {pans.reference:g} Pa",
        "quantity": "pressure",
        "bars": [_bar(bench, f"{one.name}, {one.side}", scaled) for one, scaled in registers],
    }


def _bar(bench: Bench, label: str, scaled: float | None) -> dict[str, Any]:
    each = bench.document.held_against == "each_register"
    judged = bench.book.check(EACH, scaled) if each and scaled is not None else []
    state = state_of(judged)
    # A reading that may be too low has not met the limit.
    if state == "met" and bench.document.house_to_zone is None:
        state = "unjudged"
    return {
        "label": label,
        "value": scaled,
        "high": bench.book.setting(EACH) if each else None,
        "state": state,
    }
