"""Zone networks: the leaks of a house from its states, or its states from its leaks."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from agency.leakage.errors import LeakageError
from agency.leakage.line import NORMAL_QUANTILE
from agency.leakage.network import NetworkState, Path, solve_network
from agency.leakage.network_inverse import (
    IdentifiabilityLimits,
    NetworkEstimate,
    advice,
    estimate_network,
    remedies,
)
from agency.leakage.power_law import number_or_none
from agency.wording import words

from ..evaluation import Check, Step
from ..forms.zone_network import HOUSE, OUTSIDE
from .bench import Bench
from .book import Book
from .findings import Answer, Findings, Shown, step
from .network_case import NetworkCase, baseline_checks, network_case

SEED = 4
"""Of the further starts, so that the same readings give the same figures."""
SEALED = 1e-6
"""Share of a leak left when it is sealed, so that no zone is cut off. [-]"""
BALANCE = ("mass balance of every zone with the power law", "derived")
FITTED = ("least squares over the logarithms of the coefficients", "derived")


def network_findings(bench: Bench) -> Findings:
    """What one network found."""
    case = network_case(bench)
    return _estimated(case) if bench.document.method == "estimate" else _solved(case)


def _solved(case: NetworkCase) -> Findings:
    solved = [
        solve_network(paths=[*one.added, *case.unknown], held=one.held, fans={})
        for one in case.states
    ]
    first = solved[0]
    return Findings(
        method="Zone network solved",
        edition="",
        answer=Answer.FOUND,
        words=f"{case.states[0].name}: the fan moves {words.flow(abs(first.fans[HOUSE]))}. "
        f"{_pressures_said(first)}",
        shown=_states_shown(case, solved),
        checks=case.checks,
        steps=[
            step(
                f"Fan flow, {state.name}",
                "q = sgn(Δp) C |Δp|^n, all flows of a zone add up to 0",
                abs(one.fans[HOUSE]),
                "m³/s",
                source=BALANCE,
                **{f"p, {name}": value for name, value in one.pressures.items()},
            )
            for state, one in zip(case.states, solved, strict=True)
        ],
        drawing=_drawing(case, first, held=case.states[0].held[HOUSE], blank=()),
        details={
            "fan_flow": abs(first.fans[HOUSE]),
            "pressures": dict(first.pressures),
            "paths": {one.name: case.flow(one) for one in case.known},
        },
    )


def _states_shown(case: NetworkCase, solved: Sequence[NetworkState]) -> list[Shown]:
    shown: list[Shown] = []
    for state, one in zip(case.states, solved, strict=True):
        fan = abs(one.fans[HOUSE])
        shown.append(Shown(name=f"Fan flow, {state.name}", quantity="flow", value=fan))
        shown += [
            Shown(name=f"{zone.name}, {state.name}", quantity="pressure",
                  value=one.pressures.get(zone.name), note=_unjoined(zone.name, one))
            for zone in case.bench.document.zones
        ]  # fmt: skip
    return shown


def _unjoined(zone: str, solved: NetworkState) -> str:
    return "" if zone in solved.pressures else "no leak leads to it"


def _pressures_said(solved: NetworkState) -> str:
    inner = [
        f"{name} at {words.pressure(value)}"
        for name, value in solved.pressures.items()
        if name not in (HOUSE, OUTSIDE)
    ]
    return f"Against outside: {', '.join(inner)}." if inner else ""


def _estimated(case: NetworkCase) -> Findings:
    if not case.unknown:
        raise LeakageError(
            "The flow of every leak is given, so that none is left to be found. Leave the flow of "
            "those that are looked for empty, or choose the method solve."
        )
    book = case.bench.book
    limits = _limits(book)
    found = estimate_network(
        paths=case.unknown,
        states=case.states,
        limits=limits,
        restarts=int(book.setting("network.restarts")),
        seed=SEED,
    )
    blank = found.identifiability.undetermined
    nearest = tuple(
        replace(one, coefficient=float(size))
        for one, size in zip(case.unknown, found.nearest, strict=True)
    )
    ways = remedies(paths=nearest, states=case.states, candidates=case.candidates, limits=limits)
    said = advice(found.identifiability, ways if blank else ())
    held = case.sign * case.reference
    base = solve_network(paths=[*nearest, *case.known], held={HOUSE: held}, fans={})
    fan = None if blank else abs(base.fans[HOUSE])
    sealed = {} if fan is None else _sealed(case, nearest, fan)
    told = len(found.names) - len(blank)
    return Findings(
        method="Zone network estimated",
        edition="",
        answer=Answer.OPEN if blank else Answer.FOUND,
        words=f"{told} of {words.count(len(found.names), 'leak')} determined. {said}".strip(),
        shown=_leaks_shown(case, found, sealed=sealed, fan=fan),
        checks=[*case.checks, *baseline_checks(case), *_checks(case, found, said)],
        steps=_steps(found),
        drawing=_drawing(case, base, held=held, blank=blank),
        details=_details(case, found, sealed=sealed, fan=fan),
    )


def _limits(book: Book) -> IdentifiabilityLimits:
    return IdentifiabilityLimits(
        singular_ratio=book.setting("network.singular-ratio"),
        uncertainty=book.setting("network.coefficient-uncertainty"),
    )


def _sealed(case: NetworkCase, paths: Sequence[Path], fan: float) -> dict[str, float]:
    """By how much the fan flow falls when one leak is sealed and nothing else changes. [m³/s]"""
    fallen = {}
    for at, path in enumerate(paths):
        closed = replace(path, coefficient=path.coefficient * SEALED)
        rest = [*paths[:at], closed, *paths[at + 1 :], *case.known]
        held = {HOUSE: case.sign * case.reference}
        left = solve_network(paths=rest, held=held, fans={})
        fallen[path.name] = fan - abs(left.fans[HOUSE])
    return fallen


def _leaks_shown(
    case: NetworkCase,
    found: NetworkEstimate,
    *,
    sealed: Mapping[str, float],
    fan: float | None,
) -> list[Shown]:
    at = f"at {case.reference:g} Pa"
    blank = found.identifiability.undetermined
    shown = [
        Shown(
            name="Leaks determined",
            quantity="number",
            value=float(len(found.names) - len(blank)),
            note=f"of {len(found.names)}",
        ),
        Shown(
            name=f"Fan flow {at}, nothing opened",
            quantity="flow",
            value=fan,
            note="by the leaks found" if fan is not None else "not every leak is determined",
        ),
    ]
    shown += [_leak(case, found, rank) for rank in range(len(case.unknown))]
    shown += [
        Shown(name=f"{one.name} {at}", quantity="flow", value=case.flow(one),
              note="taken as known")
        for one in case.known
    ]  # fmt: skip
    shown += [
        Shown(name=f"Sealing {name} alone takes away", quantity="flow", value=fall,
              note=f"of the fan flow {at}")
        for name, fall in sealed.items()
    ]  # fmt: skip
    return [*shown, _misfit_shown(found)]


def _leak(case: NetworkCase, found: NetworkEstimate, rank: int) -> Shown:
    path = case.unknown[rank]
    name = f"{path.name} at {case.reference:g} Pa"
    if path.name in found.identifiability.undetermined:
        note = "not determined by these readings"
        return Shown(name=name, quantity="flow", value=None, note=note)
    note = "with the whole pressure across it; not what sealing takes away"
    return Shown(name=name, quantity="flow", note=note, **_bounds(case, found, rank))


def _bounds(case: NetworkCase, found: NetworkEstimate, rank: int) -> dict[str, float | None]:
    """Value and 95 % interval; where a fan was read, its calibration scales every leak."""
    value, high = (float(one[rank]) for one in (found.coefficient.value, found.coefficient.high))
    by_fan = any(state.flows for state in case.states)
    scale = NORMAL_QUANTILE * case.bench.u_flow() if by_fan else 0.0
    half = math.hypot(math.log(high / value), scale)
    power = case.reference ** case.unknown[rank].exponent
    with np.errstate(over="ignore"):
        ends = {"value": value, "low": value * np.exp(-half), "high": value * np.exp(half)}
    return {name: number_or_none(end * power) for name, end in ends.items()}


def _misfit(found: NetworkEstimate) -> float | None:
    """Root mean square miss in uncertainties; None without a reading to spare. [-]"""
    return math.sqrt(found.chi_squared / found.freedom) if found.freedom > 0 else None


def _misfit_shown(found: NetworkEstimate) -> Shown:
    value = _misfit(found)
    spare = words.count(max(found.freedom, 0), "reading")
    note = f"in uncertainties of the readings; {spare} to spare"
    return Shown(name="Misfit of the readings", quantity="ratio", value=value, note=note)


def _checks(case: NetworkCase, found: NetworkEstimate, said: str) -> list[Check]:
    book = case.bench.book
    labels = [
        f"{state.name}, {name if name != HOUSE else 'fan flow'}"
        for state in case.states
        for name in (*state.pressures, *state.flows)
    ]
    worst = int(np.argmax(np.abs(found.misses)))
    miss = float(found.misses[worst])
    return [
        *book.check(
            "network.undetermined",
            float(len(found.identifiability.undetermined)),
            field="states",
            message=said,
        ),
        *book.check("network.misfit", _misfit(found), field="pressures"),
        *book.check(
            "network.largest-miss",
            abs(miss),
            field="pressures",
            message=f"{labels[worst]}: off by {abs(miss):.1f} of its uncertainties.",
        ),
    ]


def _steps(found: NetworkEstimate) -> list[Step]:
    told = found.identifiability
    return [
        step(
            "What the readings tell",
            "singular values of the readings' slopes over ln C",
            float(told.rank),
            "directions",
            source=FITTED,
            leaks=len(told.names),
            condition=told.condition,
        ),
        step(
            "Nearest leaks",
            "min Σ ((model − reading)/u)²",
            found.chi_squared,
            "",
            source=FITTED,
            readings=found.misses.size,
            seed=SEED,
        ),
    ]


def _drawing(
    case: NetworkCase, solved: NetworkState, *, held: float, blank: Sequence[str]
) -> dict[str, Any]:
    """Flows at one state; none for a leak that is not determined."""
    names = {HOUSE: "House", OUTSIDE: "Outside"}
    kinds = {HOUSE: "inside", OUTSIDE: "outside"}
    listed = [HOUSE, *(one.name for one in case.bench.document.zones), OUTSIDE]
    drawn = [*case.unknown, *case.known]
    return {
        "type": "schema",
        "title": f"Zones and leaks with the house at {words.pressure(held)}",
        "caption": "Flows at these pressures, not with 50 Pa across each leak.",
        "spaces": [
            {
                "name": names.get(one, one),
                "pressure": solved.pressures[one],
                "kind": kinds.get(one, "zone"),
            }
            for one in listed
            if one in solved.pressures
        ],
        "paths": [
            {
                "start": names.get(one.start, one.start),
                "end": names.get(one.end, one.end),
                "flow": None if one.name in blank else solved.flows[one.name],
                "text": "not determined",
            }
            for one in drawn
        ],
    }


def _details(
    case: NetworkCase,
    found: NetworkEstimate,
    *,
    sealed: Mapping[str, float],
    fan: float | None,
) -> dict[str, Any]:
    told = found.identifiability
    flows = {
        one.name: _bounds(case, found, rank)["value"]
        for rank, one in enumerate(case.unknown)
        if one.name not in told.undetermined
    }
    return {
        "fan_flow": fan,
        "paths": {**{one.name: flows.get(one.name) for one in case.unknown},
                  **{one.name: case.flow(one) for one in case.known}},
        "u_relative": dict(zip(told.names, map(number_or_none, told.u_log), strict=True)),
        "undetermined": list(told.undetermined),
        "sealing": dict(sealed),
        "misfit": _misfit(found),
        "condition": number_or_none(told.condition),
        "seed": SEED,
    }  # fmt: skip
