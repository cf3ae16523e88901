"""Readings of a combustion zone held against the strictest of the limits in force."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial

from agency.leakage.combustion import (
    ActionLevel,
    FlueReading,
    GasBasis,
    WorstCase,
    ambient_action,
    judge_flue,
    judge_worst_case,
    rise_above_outdoor,
    strictest,
)
from agency.leakage.errors import LeakageError
from agency.leakage.units import FREEZING_FAHRENHEIT, KELVIN_PER_FAHRENHEIT
from agency.leakage.validity import Criterion, Status, Verdict, judge
from agency.leakage.vent_checks import SpillageTest, draft_limit, judge_spillage
from agency.rulebook.shipped import RuleLike

from ..evaluation import Check
from ..forms.combustion_zone import Appliance
from .bench import BEYOND_NUMBERS, Bench
from .book import criterion_of

NATURAL_DRAFT = {"orphan_water_heater", "natural_draft_shared", "natural_draft_alone"}
CATEGORY_I = NATURAL_DRAFT | {"induced_draft_with_natural", "induced_draft_alone"}
"""Vents below room pressure, the ones that can spill; fuel gas code, from memory."""
GAS = {"natural_gas", "propane"}
FAULTS = {
    "flame_rollout": "flame roll-out",
    "soot": "soot or scorching",
    "blocked_vent": "a vent blocked, rusted through or apart",
    "gas_leak": "a gas leak",
}
SEEN = {"seen": True, "not_seen": False, None: None}

Judging = Callable[[Sequence[Criterion]], Verdict]


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """One reading held against the limit that fewest readings pass."""

    what: str
    hazard: str
    """Names the stop where the limit is missed and its rule rejects."""
    verdict: Verdict
    check: Check
    limit: float | None
    """In the unit of the reading."""
    measured: float | None
    """As it is drawn; for draft it is the draft, not what it lacks."""
    is_at_least: bool = False
    """The size of the reading must reach the limit, not keep below it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Unruled:
    """A reading the rule book holds no limit for on the day of the test."""

    what: str


Held = Judged | Unruled


def hold_zone(bench: Bench, case: WorstCase | None) -> Held:
    """Net pressure of the zone against the limits of every kind of venting in it."""
    what = f"Net pressure of {bench.document.zone}"
    kinds = dict.fromkeys(one.venting for one in bench.document.appliances)
    rules = [
        rule
        for venting in kinds
        for rule in bench.book.beginning(f"combustion.depressurization.{venting}.")
    ]
    left = [] if case is None else case.not_tested
    return _held(
        bench,
        rules,
        lambda limits: judge_worst_case(case, limits=limits),
        what=what,
        hazard="depressurization",
        field="baseline" if bench.document.baseline is None else "fans_on",
        why=f"Not read: {', '.join(left)}." if left else "",
    )


def hold_appliance(bench: Bench, number: int) -> Iterator[Held]:
    """Everything asked of one appliance: faults, spillage, draft and carbon monoxide."""
    one = bench.document.appliances[number]
    yield _faults(bench, number, one)
    if one.venting in CATEGORY_I:
        yield _spillage(bench, number, one)
    if one.natural_spillage is not None:
        yield _natural_spillage(bench, number, one)
    if one.venting in NATURAL_DRAFT:
        yield _draft(bench, number, one)
    yield from _carbon_monoxide(bench, number, one)


def hold_air(bench: Bench) -> Iterator[Held]:
    """Carbon monoxide in house and zone by its action levels, and combustible gas."""
    outdoor = bench.document.outdoor_carbon_monoxide
    for place in ("house", "zone"):
        yield _ambient(bench, place, getattr(bench.document, f"{place}_carbon_monoxide"), outdoor)
    rule = bench.book.rule("combustion.gas")
    if rule is None:
        yield Unruled(what="Combustible gas")
        return
    seen = SEEN[bench.document.combustible_gas]
    words = {True: "Combustible gas was found.", None: "Combustible gas: not looked for."}
    yield _looked_for(
        bench,
        rule,
        None if seen is None else int(seen),
        what="Combustible gas",
        hazard="gas",
        field="combustible_gas",
        words=words.get(seen, "Combustible gas: looked for, none found."),
    )


def _faults(bench: Bench, number: int, one: Appliance) -> Held:
    what = f"{one.name}: visible faults"
    rule = bench.book.rule("combustion.fault")
    if rule is None:
        return Unruled(what=what)
    seen = [words for name, words in FAULTS.items() if SEEN[getattr(one, name)]]
    left = [words for name, words in FAULTS.items() if getattr(one, name) is None]
    if seen:
        words = f"{one.name}: {', '.join(seen)} seen. No figure overrides it."
    elif left:
        words = f"{one.name}: not looked for: {', '.join(left)}."
    else:
        words = f"{what}: looked for, none seen."
    return _looked_for(
        bench,
        rule,
        len(seen) if seen or not left else None,
        what=what,
        hazard=f"gas.{number + 1}" if one.gas_leak == "seen" else f"fault.{number + 1}",
        field=f"appliances[{number}].{'gas_leak' if one.gas_leak == 'seen' else 'soot'}",
        words=words,
    )


def _looked_for(
    bench: Bench, rule: RuleLike, count: int | None, *, what: str, hazard: str, field: str,
    words: str,
) -> Judged:  # fmt: skip
    """Something seen or not; what is seen is never less than a reason to stop."""
    verdict = judge(count, criterion_of(rule))
    if count:
        verdict = Verdict(
            status=Status.REJECT,
            measured=count,
            limit=verdict.limit,
            criterion=verdict.criterion,
        )
    check = bench.book.judged(verdict, field=field, message=words)
    return Judged(what=what, hazard=hazard, verdict=verdict, check=check, limit=None, measured=None)


def _spillage(bench: Bench, number: int, one: Appliance) -> Held:
    # Without the state of the vent the stricter of the two limits must be kept.
    prefix = f"combustion.spillage.{one.vent}." if one.vent else "combustion.spillage."
    return _held(
        bench,
        bench.book.beginning(prefix),
        lambda limits: judge_spillage(_watched(one.spillage, one.spillage_seconds), limits=limits),
        what=f"{one.name}: spillage",
        hazard=f"spillage.{number + 1}",
        field=f"appliances[{number}].spillage",
        why=_still_spilling(one.spillage, one.spillage_seconds),
    )


def _natural_spillage(bench: Bench, number: int, one: Appliance) -> Held:
    return _held(
        bench,
        bench.book.beginning("combustion.spillage.cold."),
        lambda limits: judge_spillage(
            _watched(one.natural_spillage, one.natural_seconds), limits=limits
        ),
        what=f"{one.name}: spillage under natural conditions",
        hazard=f"spillage.{number + 1}",
        field=f"appliances[{number}].natural_spillage",
        why=_still_spilling(one.natural_spillage, one.natural_seconds),
    )


def _watched(spillage: str | None, seconds: float | None) -> SpillageTest | None:
    if spillage is None or seconds is None:
        return None
    return SpillageTest(watched=seconds, cleared_after=seconds if spillage == "stopped" else None)


def _still_spilling(spillage: str | None, seconds: float | None) -> str:
    if spillage != "did_not_stop":
        return ""
    return f"It was still spilling when the watching ended after {seconds:g} s."


def _draft(bench: Bench, number: int, one: Appliance) -> Held:
    """Draft against the table, at the temperature outdoors."""
    what, field = f"{one.name}: draft", f"appliances[{number}].draft"
    rule = bench.book.rule("combustion.draft-beyond")
    if rule is None:
        return Unruled(what=what)
    outdoors, asked, beyond = bench.document.conditions.outdoor_temperature, None, None
    words = "not measured."
    if outdoors is not None:
        asked, at = _draft_asked(bench, outdoors)
    if one.draft is not None and asked is None:
        field = "conditions.outdoor_temperature"
        words = f"{one.draft:.4g} Pa, but the temperature outdoors was not measured."
    elif one.draft is not None and asked is not None:
        # Degrees turned there and back leave a trace behind the ninth decimal.
        beyond = round(one.draft - asked, 6)
        words = (
            f"{one.draft:.4g} Pa; at {at:.0f} °F outdoors {asked:.2f} Pa or stronger is asked for "
            f"by {_source(rule)}."
        )
    verdict = judge(beyond, criterion_of(rule))
    return Judged(
        what=what,
        hazard=f"draft.{number + 1}",
        verdict=verdict,
        check=bench.book.judged(verdict, field=field, message=f"{what}: {words}"),
        limit=asked,
        measured=one.draft,
        is_at_least=True,
    )


def _draft_asked(bench: Bench, outdoors: float) -> tuple[float, float]:
    """Draft of the table at a temperature in degC, and that temperature in degF. [Pa], [degF]"""
    setting = bench.book.setting
    table = [
        (setting(f"combustion.draft.{end}-outdoors"), setting(f"combustion.draft.when-{end}"))
        for end in ("cold", "warm")
    ]
    fahrenheit = outdoors / KELVIN_PER_FAHRENHEIT + FREEZING_FAHRENHEIT
    return float(draft_limit(fahrenheit, table=table)), fahrenheit


def _carbon_monoxide(bench: Bench, number: int, one: Appliance) -> Iterator[Held]:
    """Flue gas on each basis the rule book has limits of for this kind of appliance."""
    what = f"{one.name}: carbon monoxide"
    ruled = {
        basis: rules
        for basis in GasBasis
        if one.fuel in GAS and (rules := bench.book.beginning(f"combustion.co.{basis}.{one.sort}."))
    }
    if not ruled:
        yield Unruled(what=f"{what} of {one.fuel.replace('_', ' ')} in the flue")
    highest = bench.book.setting("combustion.highest-oxygen")
    for basis, rules in ruled.items():
        reading, why = _flue(one, basis, highest)
        yield _held(
            bench,
            rules,
            partial(_judged_flue, reading, basis, highest),
            what=what,
            hazard=f"co.{number + 1}",
            field=f"appliances[{number}].{'oxygen' if why else 'carbon_monoxide'}",
            why=why,
        )


def _judged_flue(
    reading: FlueReading, basis: GasBasis, highest: float, limits: Sequence[Criterion]
) -> Verdict:
    return judge_flue(reading, basis=basis, limits=limits, highest_oxygen=highest)


def _flue(one: Appliance, basis: GasBasis, highest: float) -> tuple[FlueReading, str]:
    """The reading, without an oxygen no air-free figure is worked out from; and why."""
    oxygen, why = one.oxygen, ""
    if basis is GasBasis.AIR_FREE and one.carbon_monoxide is not None:
        if oxygen is None:
            why = "Oxygen was not measured, so the air-free figure is not known."
        elif oxygen >= highest:
            why = (
                f"Oxygen is {oxygen:g} %; it must be less than {highest:g} % for an air-free "
                "figure. Move the probe into the undiluted flue gas and read both again."
            )
            oxygen = None
    return FlueReading(carbon_monoxide=one.carbon_monoxide, oxygen=oxygen), why


def _ambient(bench: Bench, place: str, indoor: float | None, outdoor: float | None) -> Held:
    """The gravest level reached, or the lowest one where none is."""
    what, field = f"Carbon monoxide in the {place}", f"{place}_carbon_monoxide"
    rules = bench.book.beginning("combustion.ambient.")
    if not rules:
        return Unruled(what=what)
    levels = {
        ActionLevel(
            level=rule.limit or 0.0,
            severity=int(rule.severity == "reject"),
            action=rule.next_step,
            is_above_outdoor=True,
            source=rule.code,
        ): rule
        for rule in rules
    }

    def gravest(limits: Sequence[Criterion]) -> Verdict:
        if indoor is None:
            return judge(None, strictest(limits))
        reached = ambient_action(indoor=indoor, outdoor=outdoor, levels=list(levels))
        rise = rise_above_outdoor(indoor=indoor, outdoor=outdoor)
        criterion = strictest(limits) if reached is None else criterion_of(levels[reached])
        return judge(rise, criterion)

    return _held(bench, rules, gravest, what=what, hazard=f"ambient.{place}", field=field)


def _held(
    bench: Bench,
    rules: Sequence[RuleLike],
    judging: Judging,
    *,
    what: str,
    hazard: str,
    field: str,
    why: str = "",
) -> Held:
    """A reading against the strictest of `rules`; one that is refused is not tested."""
    if not rules:
        return Unruled(what=what)
    criteria = [criterion_of(rule) for rule in rules]
    try:
        verdict = judging(criteria)
    except (LeakageError, ArithmeticError) as refusal:
        verdict = judge(None, strictest(criteria))
        why = str(refusal) if isinstance(refusal, LeakageError) else BEYOND_NUMBERS
    rule = next(one for one in rules if one.code == verdict.criterion.code)
    words = f"{what}: {_found(verdict, rule, len(rules), why)}"
    return Judged(
        what=what,
        hazard=hazard,
        verdict=verdict,
        check=bench.book.judged(verdict, field=field, message=words),
        limit=rule.limit,
        measured=verdict.measured,
    )


def _found(verdict: Verdict, rule: RuleLike, count: int, why: str) -> str:
    among = f", the strictest of {count} in force" if count > 1 else ""
    limit = f"the limit is {verdict.limit} by {_source(rule)}{among}"
    if verdict.measured is None:
        return f"not tested in full; {limit}. {why}".strip()
    reading = f"{verdict.measured:.4g} {rule.unit}"
    if verdict.status is Status.NOT_VERIFIABLE:
        return f"{reading}, but not tested in full; {limit}. {why}".strip()
    return f"{reading}; {limit}. {why}".strip()


def _source(rule: RuleLike) -> str:
    edition = f" {rule.edition}" if rule.edition else ""
    return f"{rule.standard}{edition} ({rule.provenance})"
