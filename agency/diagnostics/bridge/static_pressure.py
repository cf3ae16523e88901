"""External static pressure of an air handler, held against its nameplate or the usual maximum."""

from typing import Any

from agency.leakage.air_handler import external_static_pressure

from ..evaluation import Check
from .bench import Bench
from .findings import Findings, Shown, answer_of, spoken, state_of, step
from .si import PRESSURE
from .visit_checks import sign_check

USUAL = "static.usual-maximum"
INCH = PRESSURE["inH2O"]


def static_pressure_findings(bench: Bench) -> Findings:
    """Supply less return, and what lies outside the cabinet beyond both."""
    document = bench.document
    supply = bench.needed(document.supply, "supply", "Supply plenum to house")
    back = bench.needed(document.return_plenum, "return_plenum", "Return plenum to house")
    drops = [
        bench.needed(one.drop, f"outside_parts[{number}].drop", f"Pressure drop of {one.name}")
        for number, one in enumerate(document.outside_parts)
    ]
    total = external_static_pressure(supply=supply, return_=back, outside_parts=drops)
    limits = _limits(bench, total)
    return Findings(
        method="External static pressure",
        edition="agency",
        answer=answer_of(limits),
        words=f"External static pressure: {spoken(limits)}",
        shown=_figures(bench, total),
        limits=limits,
        checks=_signs(bench),
        steps=[
            step(
                "External static pressure",
                "p = p_supply − p_return + Σ drops outside",
                total,
                "Pa",
                source=("sum of the pressure drops round the circuit", "derived"),
                p_supply=supply,
                p_return=back,
                drops=sum(drops),
            )
        ],
        drawing={
            "type": "bars",
            "title": "External static pressure",
            "measure": "Static pressure",
            "quantity": "pressure",
            "bars": [*_part_bars(bench, drops), _total_bar(bench, total, limits)],
        },
        details={"total": total, "supply": supply, "return": back},
    )


def _figures(bench: Bench, total: float) -> list[Shown]:
    document, nameplate = bench.document, bench.document.nameplate_maximum
    return [
        Shown(name="External static pressure", quantity="pressure", value=total),
        Shown(
            name="Share of the nameplate's maximum",
            quantity="share",
            value=None if nameplate is None else total / nameplate,
            note="" if nameplate else "nameplate not read",
        ),
        Shown(name="Supply plenum to house", quantity="pressure", value=document.supply),
        Shown(name="Return plenum to house", quantity="pressure", value=document.return_plenum),
    ]


def _signs(bench: Bench) -> list[Check]:
    return [
        check
        for field, sign, label in (
            ("supply", 1, "Supply plenum to house"),
            ("return_plenum", -1, "Return plenum to house"),
        )
        for check in sign_check(
            bench.book, getattr(bench.document, field), sign=sign, field=field, label=label
        )
    ]


def _limits(bench: Bench, total: float) -> list[Check]:
    """The nameplate where it was read, else what most equipment is rated for."""
    nameplate = bench.document.nameplate_maximum
    if nameplate is None:
        return bench.book.check(USUAL, total / INCH, field="nameplate_maximum")
    return bench.book.check("static.nameplate", total / nameplate, field="nameplate_maximum")


def _maximum(bench: Bench) -> float | None:
    """[Pa]"""
    nameplate: float | None = bench.document.nameplate_maximum
    usual = bench.book.limit_of(USUAL)
    if nameplate is not None or usual is None:
        return nameplate
    return usual * INCH


def _part_bars(bench: Bench, drops: list[float]) -> list[dict[str, Any]]:
    document = bench.document
    parts = [("Supply plenum", document.supply), ("Return plenum", document.return_plenum)]
    parts += [(one.name, drop) for one, drop in zip(document.outside_parts, drops, strict=True)]
    return [{"label": label, "value": value, "state": "unjudged"} for label, value in parts]


def _total_bar(bench: Bench, total: float, limits: list[Check]) -> dict[str, Any]:
    return {
        "label": "Total external",
        "value": total,
        "high": _maximum(bench),
        "state": state_of(limits),
    }
