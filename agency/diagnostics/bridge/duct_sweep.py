"""Supply and return leakage in operation: both fits of a sweep, air handler off and on."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from agency.leakage.duct_sweep import (
    DuctPressures,
    Estimate,
    SweepFit,
    SweepRule,
    fit_sweep,
    fit_with_pressures,
    sweep_difference,
)
from agency.leakage.errors import LeakageError
from agency.leakage.fan_flow import Direction
from agency.leakage.scaling import flow_at_other_pressure

from ..evaluation import Check, Step
from .bench import Bench
from .findings import Answer, Findings, Shown, step
from .si import FLOW
from .visit_checks import sign_check

SOURCE = ("ASTM E1554, on and off sweep", "from memory")
DRAWN = 61
"""Places the fitted line is drawn through."""
MEASURED, FITTED = "plenum pressures measured", "pressures fitted"
REMEDIES = {
    MEASURED: "take more stations on both sides of zero, in calm air",
    FITTED: "measure both plenum pressures, or take stations from below to above them",
}
"""What would tell a figure that these readings do not."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sweep:
    """House pressures and what the air handler changed there, positive outward."""

    house_pressure: list[float]
    """[Pa]"""
    difference: list[float]
    """[m³/s]"""
    u: list[float]
    """Standard uncertainties of the differences. [m³/s]"""
    steps: list[Step]


@dataclass(frozen=True, slots=True, kw_only=True)
class Attempt:
    """One way of fitting the sweep, and why it failed where it did."""

    way: str
    fit: SweepFit | None
    pressures: tuple[float, float] | None
    """Supply and return, given or fitted. [Pa]"""
    refusal: str = ""


def duct_sweep_findings(bench: Bench) -> Findings:
    """Both fits side by side; the one with measured plenum pressures is the headline."""
    sweep = _sweep(bench)
    attempts = _attempts(bench, sweep)
    best = attempts[0]
    is_told = best.fit is not None and _is_told(best.fit)
    return Findings(
        method=f"On and off sweep, {best.way}",
        edition="ASTM E1554",
        answer=Answer.FOUND if is_told else Answer.OPEN,
        words=f"Supply and return leakage in operation, {best.way}: {_words(best)}",
        shown=[one for attempt in attempts for one in _figures(attempt)],
        checks=_checks(bench),
        steps=sweep.steps + [one for attempt in attempts for one in _fit_steps(bench, attempt)],
        drawing=_drawing(bench, sweep, best),
        details={"way": best.way, **_details(best)},
    )


def _sweep(bench: Bench) -> Sweep:
    """The difference at each station, both flows brought to the pressure with the handler on."""
    book, baseline = bench.book, _baseline(bench) or 0.0
    exponent = book.setting("setting.assumed-exponent")
    share = book.setting("sweep.repeatability")
    least = book.setting("sweep.least-uncertainty") * FLOW["cfm"]
    sweep = Sweep(house_pressure=[], difference=[], u=[], steps=[])
    for number, station in enumerate(bench.document.stations):
        off, on = (
            bench.flow(
                state,
                field=f"stations[{number}].{name}",
                label=f"Station {number + 1}, air handler {name}",
                direction=station.direction,
            )
            for name, state in (("off", station.off), ("on", station.on))
        )
        at, was = (one.house_pressure - baseline for one in (station.on, station.off))
        if at != was:
            off = float(
                flow_at_other_pressure(
                    flow=off, pressure=abs(was), target=abs(at), exponent=exponent
                )
            )
        change = Direction(station.direction).sign * (on - off)
        sweep.house_pressure.append(at)
        sweep.difference.append(change)
        sweep.u.append(float(np.hypot(np.hypot(share * on, least), np.hypot(share * off, least))))
        sweep.steps.append(_station_step(number, at, on, off, change))
    return sweep


def _station_step(number: int, at: float, on: float, off: float, change: float) -> Step:
    return step(
        f"Station {number + 1}: flow outward the air handler adds",
        "ΔQ = ±(Q_on − Q_off), both at x, + where the fan blows in",
        change,
        "m³/s",
        source=("conservation of mass", "derived"),
        x=at,
        Q_on=on,
        Q_off=off,
    )


def _baseline(bench: Bench) -> float | None:
    """What is to be taken off; nothing where the gauge has done so. [Pa]"""
    gauge = bench.sent.gauge
    if gauge is not None and gauge.baseline_subtracted:
        return 0.0
    baseline: float | None = bench.document.baseline
    return baseline


def _checks(bench: Bench) -> list[Check]:
    document, book = bench.document, bench.book
    checks = []
    for number, station in enumerate(document.stations):
        sign, here = Direction(station.direction).sign, f"stations[{number}]"
        for name in ("off", "on"):
            pressure = getattr(station, name).house_pressure
            checks += sign_check(book, pressure, sign=sign, field=f"{here}.{name}.house_pressure",
                                 label=f"Station {number + 1}, air handler {name}")  # fmt: skip
        apart = abs(station.on.house_pressure - station.off.house_pressure)
        field = f"{here}.on.house_pressure"
        checks += book.complaint("sweep.same-pressure", apart, field=field)
    for name, sign in (("supply_plenum", 1), ("return_plenum", -1)):
        plenum = getattr(document, name)
        if plenum is not None:
            label = f"{name.replace('_', ' ').capitalize()} to house"
            checks += sign_check(book, plenum, sign=sign, field=name, label=label)
    read = None if _baseline(bench) is None else 1.0
    return checks + book.complaint("sweep.baseline", read, field="baseline")


def _rule(bench: Bench) -> SweepRule:
    book = bench.book
    return SweepRule(
        exponent=book.setting("sweep.exponent"),
        u_exponent=book.setting("sweep.exponent-uncertainty"),
        largest_relative_uncertainty=book.setting("sweep.largest-relative-uncertainty"),
        largest_condition=book.setting("sweep.largest-condition"),
    )


def _attempts(bench: Bench, sweep: Sweep) -> list[Attempt]:
    """The fit with measured pressures where both were read, then the one without."""
    document, rule = bench.document, _rule(bench)
    readings = {
        "house_pressure": sweep.house_pressure,
        "difference": sweep.difference,
        "u_difference": sweep.u,
    }
    attempts = []
    if document.supply_plenum is not None and document.return_plenum is not None:
        pressures = _pressures(bench)
        fit = fit_with_pressures(**readings, pressures=pressures, rule=rule)
        both = (pressures.supply, pressures.return_)
        attempts.append(Attempt(way=MEASURED, fit=fit, pressures=both))
    try:
        fit = fit_sweep(**readings, rule=rule)
    except LeakageError as refusal:
        if not attempts:
            raise
        attempts.append(Attempt(way=FITTED, fit=None, pressures=None, refusal=str(refusal)))
    else:
        found = tuple(one.value for one in (fit.supply_pressure, fit.return_pressure) if one)
        attempts.append(Attempt(way=FITTED, fit=fit, pressures=(found[0], found[1])))
    return attempts


def _pressures(bench: Bench) -> DuctPressures:
    supply, back = abs(bench.document.supply_plenum), abs(bench.document.return_plenum)
    share = bench.book.setting("sweep.plenum-share")
    u_supply, u_return = (
        float(np.hypot(share * one, bench.u_pressure(one))) for one in (supply, back)
    )
    return DuctPressures(supply=supply, return_=back, u_supply=u_supply, u_return=u_return)


def _figures(attempt: Attempt) -> list[Shown]:
    names = ["Supply leakage", "Return leakage"]
    if attempt.fit is None:
        return [
            Shown(name=f"{name}, {attempt.way}", quantity="flow", value=None, note=attempt.refusal)
            for name in names
        ]
    fit = attempt.fit
    rows = [("flow", "Supply leakage", fit.supply), ("flow", "Return leakage", fit.return_)]
    rows += [
        ("pressure", name, one)
        for name, one in (
            ("Supply pressure", fit.supply_pressure),
            ("Return pressure", fit.return_pressure),
        )
        if one is not None
    ]
    return [
        _figure(f"{name}, {attempt.way}", quantity, one, attempt) for quantity, name, one in rows
    ]


def _figure(name: str, quantity: str, one: Estimate, attempt: Attempt) -> Shown:
    """The figure with its 95 % interval, or what would tell it."""
    if not one.is_determined:
        note = f"not determined by these readings: {REMEDIES[attempt.way]}"
        return Shown(name=name, quantity=quantity, value=None, note=note)
    return Shown(name=name, quantity=quantity, value=one.value, low=one.low, high=one.high)


def _is_told(fit: SweepFit) -> bool:
    return fit.supply.is_determined and fit.return_.is_determined


def _words(best: Attempt) -> str:
    if best.fit is None or _is_told(best.fit):
        return "determined by these readings."
    return " ".join(best.fit.words)


def _fit_steps(bench: Bench, attempt: Attempt) -> list[Step]:
    if attempt.fit is None or attempt.pressures is None:
        return []
    supply, back = attempt.pressures
    numbers: Mapping[str, Any] = {
        "P_s": supply,
        "P_r": back,
        "n": bench.book.setting("sweep.exponent"),
        "degrees": attempt.fit.degrees,
    }
    return [
        step(
            f"{name}, {attempt.way}",
            "least squares of ΔQ = Q_s [s(1 + x/P_s) − s(x/P_s)] + Q_r [s(x/P_r − 1) − s(x/P_r)], "
            "s(y) = sgn(y) |y|^n",
            one.value if one.is_determined else None,
            "m³/s",
            source=SOURCE,
            **numbers,
        )
        for name, one in (
            ("Supply leakage", attempt.fit.supply),
            ("Return leakage", attempt.fit.return_),
        )
    ]


def _drawing(bench: Bench, sweep: Sweep, best: Attempt) -> dict[str, Any]:
    """Difference against house pressure with the line of the headline fit."""
    stations = zip(sweep.house_pressure, sweep.difference, sweep.u, strict=True)
    return {
        "type": "curve",
        "title": "What the air handler adds to the flow outward",
        "caption": f"Line: {best.way}.",
        "x_quantity": "pressure",
        "y_quantity": "flow",
        "x_title": "House to outside",
        "y_title": "Flow on less off, outward",
        "points": [{"x": x, "y": y, "u": u} for x, y, u in stations],
        "line": _line(bench, sweep.house_pressure, best),
    }


def _line(bench: Bench, pressures: Sequence[float], best: Attempt) -> list[list[float]]:
    if best.fit is None or best.pressures is None:
        return []
    supply, back = best.pressures
    across = np.linspace(min(pressures), max(pressures), DRAWN)
    up = sweep_difference(
        house_pressure=across,
        supply=best.fit.supply.value,
        return_=best.fit.return_.value,
        supply_pressure=supply,
        return_pressure=back,
        exponent=bench.book.setting("sweep.exponent"),
    )
    if not np.all(np.isfinite(up)):
        return []
    return [[float(x), float(y)] for x, y in zip(across, up, strict=True)]


def _details(best: Attempt) -> dict[str, float | None]:
    """Supply and return leakage with their uncertainties, where they are told. [m³/s]"""
    fit = best.fit
    rows = {} if fit is None else {"supply": fit.supply, "return": fit.return_}
    told = {name: one for name, one in rows.items() if one.is_determined}
    return {
        **{name: told[name].value if name in told else None for name in ("supply", "return")},
        **{f"u_{name}": told[name].u if name in told else None for name in ("supply", "return")},
    }
