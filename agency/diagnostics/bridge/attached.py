"""Guarded tests: fan flow without and with a guard in, leakage to outside and next door out."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from agency.leakage.attached import GuardedLeakage, WallReading, guarded_test
from agency.leakage.power_law import number_or_none
from agency.leakage.zone_balance import Figure, Outcome, exponent_band
from agency.wording import words

from ..evaluation import Check, Step
from .bench import Bench, NotMeasured
from .book import Book
from .channels import Channel, recorded
from .findings import Answer, Findings, Shown, step
from .zone_figures import NOT_ACHIEVABLE, bounds_of

BALANCE = ("mass balance of the dwelling in both states", "derived")
WHY_NONE = {
    Outcome.NOT_POSITIVE: "More leaks through the wall than the fan moves. Check both flows.",
    Outcome.WRONG_WAY: (
        "The guard did not take the pressure off the wall. Check that the states with the guard "
        "off and on are not exchanged."
    ),
    Outcome.FLOW_NOT_RISEN: (
        "The fan needed no less flow with the guard on, so that no leakage through the wall can "
        "be told. Repeat both flows."
    ),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class AttachedCase:
    """One guarded test in SI, along the way of the fan."""

    bench: Bench
    off: WallReading
    on: WallReading
    deviation: float | None
    checks: Sequence[Check]
    exponent: float
    band: tuple[float, float]
    reference: float
    """[Pa]"""

    def leakage(self, exponents: float | Sequence[float]) -> GuardedLeakage:
        """Leaks to outside and through the wall."""
        return guarded_test(
            unguarded=self.off,
            guarded=self.on,
            exponent=np.asarray(exponents),
            reference=self.reference,
        )


def attached_findings(bench: Bench) -> Findings:
    """What one guarded test found."""
    case = _case(bench)
    found = case.leakage(case.exponent)
    band = case.leakage([case.band[0], case.exponent, case.band[1]])
    reason = _reason(found)
    change = _flow_change(bench.book, found) if not reason else []
    hidden = reason or " ".join(one.message for one in change if one.status != "pass")
    shown = _figures(case, found, band, reason=reason, hidden=hidden)
    return Findings(
        method="Guarded test of an attached dwelling",
        edition="",
        answer=Answer.OPEN if hidden else Answer.FOUND,
        words=_sentence(case, shown, reason or hidden),
        shown=shown,
        checks=[*case.checks, *_checks(case, found, reason), *change],
        steps=_steps(case, found, shown[0].value),
        drawing=_drawing(case, shown),
        details=_details(case, found, shown),
    )


def _steps(case: AttachedCase, found: GuardedLeakage, outside: float | None) -> list[Step]:
    return [
        step(
            "What the guard changed",
            "Q_off − (P_off/P_on)^n Q_on",
            number_or_none(found.signal),
            "m³/s",
            source=BALANCE,
            u=float(found.u_signal),
        ),
        step(
            "Leakage to outside",
            "Q_off − C_W h_off^n, at the reference pressure",
            outside,
            "m³/s",
            source=BALANCE,
            n=case.exponent,
        ),
    ]


def _case(bench: Bench) -> AttachedCase:
    document, book = bench.document, bench.book
    house, wall = (
        Channel(
            bench=bench,
            label=label,
            baselines=recorded([getattr(one, name) for one in document.baselines]),
        )
        for name, label in (("house", "House to outside"), ("wall", "House to neighbour"))
    )
    checks = [*_neighbour(bench), *house.baseline_checks("baselines")]
    checks += wall.baseline_checks("baselines")
    readings: dict[str, WallReading] = {}
    for at, state in enumerate(document.states):
        readings[state.guard], found = _reading(bench, at, house, wall)
        checks += found
    for guard in ("off", "on"):
        if guard not in readings:
            raise NotMeasured("states", f"The state with the guard {guard}")
    deviations = recorded([one.deviation for one in document.states])
    return AttachedCase(
        bench=bench,
        off=readings["off"],
        on=readings["on"],
        deviation=max(deviations) if len(deviations) == len(document.states) else None,
        checks=checks,
        exponent=book.setting("zone.exponent"),
        band=(book.setting("zone.exponent-low"), book.setting("zone.exponent-high")),
        reference=book.setting("zone.reference-pressure"),
    )


def _reading(
    bench: Bench, at: int, house: Channel, wall: Channel
) -> tuple[WallReading, list[Check]]:
    state, field = bench.document.states[at], f"states[{at}]"
    envelope = house.drop(state.house, field=f"{field}.house", seconds=state.seconds)
    across = wall.drop(
        state.wall, field=f"{field}.wall", deviation=state.deviation, seconds=state.seconds
    )
    flow = bench.flow(
        state.fan,
        field=f"{field}.fan",
        label=f"Fan flow with the guard {state.guard}",
        direction=bench.document.direction,
    )
    # The guard may overshoot: what it leaves across the wall has either sign.
    asked = across.checks if state.guard == "off" else ()
    size = across.size if state.guard == "off" else wall.sign * (state.wall - wall.zero)
    reading = WallReading(
        envelope=envelope.size,
        wall=size,
        flow=flow,
        u_envelope=envelope.u,
        u_wall=across.u,
        u_flow=bench.book.setting("uncertainty.flow-random"),
    )
    return reading, [*envelope.checks, *asked]


def _neighbour(bench: Bench) -> list[Check]:
    """Consent and safety next door: a blank is a question, and so is a no."""
    document, checks = bench.document, []
    for code, field, what in (
        ("attached.consent", "neighbour_consent", "Consent of the neighbour"),
        (
            "attached.combustion-check",
            "neighbour_combustion_check",
            "Combustion safety check in the neighbour's dwelling",
        ),
    ):
        answer = getattr(document, field)
        said = "was not recorded" if answer is None else "is answered with no"
        checks += bench.book.check(
            code, 1.0 if answer else 0.0, field=field, message=f"{what}: it {said}."
        )
    return checks


def _reason(found: GuardedLeakage) -> str:
    """Why there is no figure at all; empty where there is one."""
    outcome = Outcome(int(found.outcome))
    if outcome is Outcome.ESTIMATED and not float(found.to_outside.value) > 0:
        outcome = Outcome.NOT_POSITIVE
    return WHY_NONE.get(outcome, "")


def _flow_change(book: Book, found: GuardedLeakage) -> list[Check]:
    u = float(found.u_signal)
    noises = number_or_none(float(found.signal) / u) if u else None
    return book.check("attached.flow-change", noises, field="states")


def _checks(case: AttachedCase, found: GuardedLeakage, reason: str) -> list[Check]:
    book = case.bench.book
    on = next(at for at, one in enumerate(case.bench.document.states) if one.guard == "on")
    left = abs(float(np.asarray(case.on.wall)))
    checks = [
        *book.check("attached.guard", left, field=f"states[{on}].wall"),
        *book.check("zone.wind", case.deviation, field="states[0].deviation"),
    ]
    if reason:
        return [*checks, *book.check("attached.no-figures", 0.0, field="states", message=reason)]
    u = number_or_none(found.to_outside.u_relative)
    return [*checks, *book.check("attached.uncertainty", u, field="states")]


def _figures(
    case: AttachedCase,
    found: GuardedLeakage,
    band: GuardedLeakage,
    *,
    reason: str,
    hidden: str,
) -> list[Shown]:
    at = f"at {case.reference:g} Pa"

    def flow(name: str, figure: Figure, note: str, blank: str) -> Shown:
        if blank:
            return Shown(name=f"{name} {at}", quantity="flow", value=None, note=blank)
        bounds = bounds_of(figure, scale=case.bench.u_flow())
        return Shown(name=f"{name} {at}", quantity="flow", note=note, **bounds)

    u = None if reason else number_or_none(found.to_outside.u_relative)
    return [
        flow("Leakage to outside", found.to_outside, "none of it passes the wall", reason),
        flow(
            "Leakage through the neighbour",
            found.through_neighbour,
            "with no guard; all that sealing the wall can take away",
            hidden,
        ),
        flow("Wall to the neighbour", found.wall, NOT_ACHIEVABLE, hidden),
        _band_shown(case, band, hidden),
        Shown(
            name="Relative uncertainty of the headline",
            quantity="share",
            value=u,
            note=reason or "reading errors, k = 1",
        ),
        *_walls(case),
    ]


def _band_shown(case: AttachedCase, band: GuardedLeakage, hidden: str) -> Shown:
    low, high = (number_or_none(end) for end in exponent_band(band.through_neighbour))
    held = not hidden and low is not None
    return Shown(
        name=f"Through the neighbour for exponents of {case.band[0]:.2f} to {case.band[1]:.2f}",
        quantity="flow",
        value=number_or_none(band.through_neighbour.value[1]) if held else None,
        low=low if held else None,
        high=high if held else None,
        note=hidden or f"{case.exponent:.2f} assumed; comes on top of the reading errors",
    )


def _walls(case: AttachedCase) -> list[Shown]:
    return [
        Shown(
            name=f"House to neighbour, guard {guard}",
            quantity="pressure",
            value=float(np.asarray(reading.wall)),
            note=f"with the house at {words.pressure(float(np.asarray(reading.envelope)))}",
        )
        for guard, reading in (("off", case.off), ("on", case.on))
    ]


def _sentence(case: AttachedCase, shown: Sequence[Shown], reason: str) -> str:
    outside, through = shown[0], shown[1]
    if outside.value is None:
        return f"No value. {reason}"
    text = f"{words.flow_interval(_ends(outside))} leak to outside at {case.reference:g} Pa"
    neighbour = case.bench.document.neighbour
    if through.value is None:
        return f"{text}. What leaks to {neighbour} is not told: {reason}"
    return f"{text}, and {words.flow_interval(_ends(through))} through {neighbour}."


def _ends(one: Shown) -> Mapping[str, float | None]:
    return {"value": one.value, "low": one.low, "high": one.high}


def _drawing(case: AttachedCase, shown: Sequence[Shown]) -> dict[str, Any]:
    sign = -1 if case.bench.document.direction == "depressurization" else 1
    neighbour = case.bench.document.neighbour
    scale = case.reference / float(np.asarray(case.off.envelope))
    beside = (float(np.asarray(case.off.envelope)) - float(np.asarray(case.off.wall))) * scale
    paths = [
        ("Dwelling", "Outside", shown[0].value),
        ("Dwelling", neighbour, shown[1].value),
        (neighbour, "Outside", shown[1].value),
    ]
    return {
        "type": "schema",
        "title": f"Guard off, the dwelling at {words.pressure(sign * case.reference)}",
        "caption": "What passes the wall leaves through the neighbour's own leaks.",
        "spaces": [
            {"name": "Dwelling", "pressure": sign * case.reference, "kind": "inside"},
            {"name": neighbour, "pressure": sign * beside, "kind": "zone"},
            {"name": "Outside", "pressure": 0.0, "kind": "outside"},
        ],
        "paths": [
            {"start": start, "end": end, "flow": flow, "text": "no value"}
            for start, end, flow in paths
        ],
    }


def _details(
    case: AttachedCase, found: GuardedLeakage, shown: Sequence[Shown]
) -> dict[str, float | str | None]:
    names = ("to_outside", "through_neighbour", "wall")
    details: dict[str, float | str | None] = {"neighbour": case.bench.document.neighbour}
    for name, one in zip(names, shown, strict=False):
        u = number_or_none(getattr(found, name).u_relative)
        details[name] = one.value
        details[f"u_{name}"] = None if one.value is None else u
    outside, through = shown[0].value, shown[1].value
    known = outside is not None and through is not None
    details["fan_flow"] = (outside or 0.0) + (through or 0.0) if known else None
    return details
