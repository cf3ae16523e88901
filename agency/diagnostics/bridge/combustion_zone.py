"""Combustion zone: worst case, appliances and air in; what holds, what is open, what stops out."""

from collections.abc import Iterator, Sequence
from itertools import pairwise
from math import hypot
from typing import Any

from agency.leakage.combustion import OXYGEN_IN_AIR, WorstCase, co_air_free, worst_case
from agency.leakage.errors import LeakageError
from agency.leakage.line import NORMAL_QUANTILE
from agency.leakage.validity import Status
from agency.leakage.vent_checks import judge_zone

from ..cautions import DEFER
from ..evaluation import Check, Step
from ..forms.combustion_zone import Appliance
from .bench import BEYOND_NUMBERS, Bench
from .combustion_limits import (
    FAULTS,
    SEEN,
    Held,
    Judged,
    Unruled,
    hold_air,
    hold_appliance,
    hold_zone,
)
from .combustion_stops import combustion_stops
from .findings import Answer, Findings, Shown, step
from .visit_checks import sign_check

ANSWERS = {
    Status.PASS: Answer.MET,
    Status.ADVISORY: Answer.MISSED,
    Status.NOT_VERIFIABLE: Answer.OPEN,
    Status.REJECT: Answer.ACTION,
}
STATES = {Status.PASS: "met", Status.ADVISORY: "missed", Status.REJECT: "missed"}
OPENINGS = {
    Answer.MET: "Everything asked for was tested and keeps to its limit.",
    Answer.MISSED: "A limit is missed.",
    Answer.OPEN: "Not tested in full.",
    Answer.ACTION: "Action needed.",
}
SIGN = "reading.expected-sign"
PROCEDURE = ("BPI Building Analyst procedure, two summaries", "read")


def combustion_findings(bench: Bench) -> Findings:
    """Every limit of the zone, its appliances and its air; a blank is never a pass."""
    document = bench.document
    case, refusal = _worst_case(bench)
    held: list[Held] = []
    if any(one.venting != "unvented" for one in document.appliances):
        held.append(hold_zone(bench, case))
    for number in range(len(document.appliances)):
        held += hold_appliance(bench, number)
    held += hold_air(bench)
    judged = [one for one in held if isinstance(one, Judged)]
    gaps = [*_gaps(bench, held), *_turned(bench, case), *([refusal] if refusal else [])]
    answer = _answer(bench, judged, gaps)
    return Findings(
        method="Worst-case depressurization, spillage and carbon monoxide",
        edition="",
        answer=answer,
        words=_words(document.zone, answer, judged, gaps),
        shown=[*_shown_zone(bench, case), *_shown_appliances(bench), *_shown_air(bench)],
        limits=[one.check for one in judged],
        checks=_checks(bench, case),
        steps=[*_zone_steps(bench, case), *_air_free_steps(bench)],
        stops=combustion_stops(judged),
        drawing=_drawing(document.zone, judged),
        details=_details(bench, case),
    )


def _worst_case(bench: Bench) -> tuple[WorstCase | None, str]:
    """The most negative reading; what was not on or not read is named as not tested."""
    document = bench.document
    settings = {"dryer and exhaust fans on": document.fans_on, "doors set": document.doors_set}
    if document.has_handler:
        settings["air handler on"] = document.handler_on
    if document.movers_listed == "there_are_none":
        read = {name: value for name, value in settings.items() if value is not None}
        settings = {"nothing that moves air": document.baseline, **read}
    elif document.movers_listed is None or not document.movers:
        settings["all that moves air listed"] = None
    for one in document.movers:
        if one.sort != "air_handler" and one.worst_case != "on":
            settings[f"{one.name} on"] = None
    if document.baseline is None or not any(one is not None for one in settings.values()):
        return None, ""
    try:
        return (
            worst_case(settings, baseline=document.baseline, resolution=_resolution(bench)),
            "",
        )
    except (LeakageError, ArithmeticError) as refusal:
        return None, str(refusal) if isinstance(refusal, LeakageError) else BEYOND_NUMBERS


def _resolution(bench: Bench) -> float:
    """Of the gauge by the register, else the book's. [Pa]"""
    gauge = bench.sent.gauge
    facts = None if gauge is None else bench.context.instruments.get(gauge.serial)
    known = None if facts is None else facts.resolution_pa
    return known or bench.book.setting("combustion.gauge-resolution")


def _gaps(bench: Bench, held: Sequence[Held]) -> list[str]:
    """What decides and was not measured, or has no limit to be held against."""
    gaps = [
        f"{one.what}: the rule book holds no limit for it on the day of the test."
        for one in held
        if isinstance(one, Unruled)
    ]
    if not bench.document.appliances:
        gaps.append("No appliance is listed.")
    if bench.document.outdoor_carbon_monoxide is None:
        gaps.append("Carbon monoxide outdoors: not measured.")
    spilled = {one.hazard for one in held if isinstance(one, Judged) and _is_rejected(one)}
    return gaps + [
        f"{one.name}: not tested again under natural conditions."
        for number, one in enumerate(bench.document.appliances, start=1)
        if f"spillage.{number}" in spilled and one.natural_spillage is None
    ]


def _turned(bench: Bench, case: WorstCase | None) -> list[str]:
    """A zone that fans push above outdoors is no pass until someone stands for its sign."""
    if case is None or case.net <= 0 or bench.book.is_confirmed(SIGN):
        return []
    return ["Net pressure of the zone is above zero: the sides of channel A may be swapped."]


def _is_rejected(one: Judged) -> bool:
    return one.verdict.status is Status.REJECT


def _answer(bench: Bench, judged: Sequence[Judged], gaps: Sequence[str]) -> Answer:
    verdicts = {f"{one.what}, {one.check.code}": one.verdict for one in judged}
    hazards = {
        f"{one.name}: {name}": SEEN[getattr(one, name)]
        for one in bench.document.appliances
        for name in FAULTS
    }
    hazards["combustible gas"] = SEEN[bench.document.combustible_gas]
    answer = ANSWERS[judge_zone(verdicts, hazards=hazards)]
    return Answer.OPEN if gaps and answer is not Answer.ACTION else answer


def _words(zone: str, answer: Answer, judged: Sequence[Judged], gaps: Sequence[str]) -> str:
    """Misses first, then what is open, and who decides."""
    order = (Status.REJECT, Status.ADVISORY, Status.NOT_VERIFIABLE)
    told = [one.check.message for status in order for one in judged if one.verdict.status is status]
    return " ".join([f"{zone}: {OPENINGS[answer]}", *told, *gaps, DEFER])


def _checks(bench: Bench, case: WorstCase | None) -> list[Check]:
    """Signs by the hook-up card, order of the appliances, and whether each was restored."""
    document, book = bench.document, bench.book
    checks: list[Check] = []
    if case is not None:
        checks += sign_check(
            book, case.net, sign=-1, field="fans_on", label="Net pressure of the zone"
        )
    for number, one in enumerate(document.appliances):
        if one.draft is not None:
            field, label = f"appliances[{number}].draft", f"{one.name}: draft"
            checks += sign_check(book, one.draft, sign=-1, field=field, label=label)
    checks += _order_checks(bench)
    left = [one.name for one in document.appliances if one.afterwards is None]
    return checks + book.complaint(
        "combustion.not-restored",
        len(left),
        field="appliances",
        message=f"Not confirmed when leaving, neither lit again nor left off: {', '.join(left)}.",
    )


def _order_checks(bench: Bench) -> list[Check]:
    """Whether each appliance was fired after the smaller ones; not known without every input."""
    inputs = [one.input for one in bench.document.appliances]
    known = [one for one in inputs if one is not None]
    late = sum(after < before for before, after in pairwise(known))
    is_known = len(known) == len(inputs)
    return bench.book.complaint(
        "combustion.test-order", late if is_known else None, field="appliances"
    )


def _shown_zone(bench: Bench, case: WorstCase | None) -> Iterator[Shown]:
    document = bench.document
    if case is None:
        note = "baseline or worst case not measured"
        yield Shown(name="Net pressure of the zone", quantity="pressure", value=None, note=note)
    else:
        u = hypot(bench.u_pressure(case.pressure), bench.u_pressure(document.baseline))
        half = NORMAL_QUANTILE * u
        yield Shown(
            name="Net pressure of the zone",
            quantity="pressure",
            value=case.net,
            low=case.net - half,
            high=case.net + half,
            note=f"worst with {case.setting}",
        )
    yield Shown(name="Zone with everything off", quantity="pressure", value=document.baseline)
    worst = None if case is None else case.pressure
    yield Shown(name="Zone in the worst case", quantity="pressure", value=worst)
    if document.natural is not None:
        yield Shown(
            name="Zone under natural conditions", quantity="pressure", value=document.natural
        )


def _shown_appliances(bench: Bench) -> Iterator[Shown]:
    for one in bench.document.appliances:
        note = "still spilling" if one.spillage == "did_not_stop" else ""
        yield Shown(
            name=f"{one.name}: spillage",
            quantity="seconds",
            value=None if one.spillage is None else one.spillage_seconds,
            note=note,
        )
        yield Shown(name=f"{one.name}: draft", quantity="pressure", value=one.draft)
        yield Shown(
            name=f"{one.name}: carbon monoxide as measured",
            quantity="ppm",
            value=one.carbon_monoxide,
        )
        yield Shown(
            name=f"{one.name}: carbon monoxide air-free",
            quantity="ppm",
            value=_air_free(bench, one),
            note="" if one.oxygen is not None else "oxygen not measured",
        )


def _shown_air(bench: Bench) -> Iterator[Shown]:
    for place, words in (("outdoor", "outdoors"), ("house", "in the house"),
                         ("zone", "in the zone")):  # fmt: skip
        value = getattr(bench.document, f"{place}_carbon_monoxide")
        yield Shown(name=f"Carbon monoxide {words}", quantity="ppm", value=value)


def _air_free(bench: Bench, one: Appliance) -> float | None:
    """None where a reading is missing, or refused: the limit's own words say why. [ppm]"""
    if one.carbon_monoxide is None or one.oxygen is None:
        return None
    highest = bench.book.setting("combustion.highest-oxygen")
    try:
        return float(
            co_air_free(
                carbon_monoxide=one.carbon_monoxide, oxygen=one.oxygen, highest_oxygen=highest
            )
        )
    except LeakageError:
        return None


def _zone_steps(bench: Bench, case: WorstCase | None) -> Iterator[Step]:
    if case is not None:
        yield step(
            f"Net pressure of the zone, rounded to {_resolution(bench):g} Pa",
            "p_net = p_worst − p_baseline",
            case.net,
            "Pa",
            source=PROCEDURE,
            p_worst=case.pressure,
            p_baseline=bench.document.baseline,
        )


def _air_free_steps(bench: Bench) -> Iterator[Step]:
    for one in bench.document.appliances:
        found = _air_free(bench, one)
        if found is not None:
            yield step(
                f"{one.name}: carbon monoxide without the excess air",
                f"CO_af = CO × {OXYGEN_IN_AIR:g}/({OXYGEN_IN_AIR:g} − O2)",
                found,
                "ppm",
                source=("Dilution by air; oxygen of air by NFPA 54 annex", "from memory"),
                CO=one.carbon_monoxide,
                O2=one.oxygen,
            )


def _drawing(zone: str, judged: Sequence[Judged]) -> dict[str, Any] | None:
    """Everything with a figure and a limit on one axis: the share of the limit it comes to."""
    bars = list(_bars(judged))
    if not bars:
        return None
    return {
        "type": "bars",
        "title": f"Readings in {zone} against their limits",
        "caption": f"Each bar is the reading as a share of its own limit. {DEFER}",
        "measure": "Share of the limit",
        "quantity": "share",
        "bars": bars,
    }


def _bars(judged: Sequence[Judged]) -> Iterator[dict[str, Any]]:
    for one in judged:
        if one.limit:
            yield {
                "label": one.what,
                "value": None if one.measured is None else one.measured / one.limit,
                "low" if one.is_at_least else "high": 1.0,
                "state": STATES.get(one.verdict.status, "unjudged"),
            }


def _details(bench: Bench, case: WorstCase | None) -> dict[str, Any]:
    document = bench.document
    return {
        "net": None if case is None else case.net,
        "worst": None if case is None else case.pressure,
        "setting": None if case is None else case.setting,
        "not_tested": None if case is None else list(case.not_tested),
        "baseline": document.baseline,
        "natural": document.natural,
        "movers": [one.model_dump(mode="json") for one in document.movers],
        "doors": [one.model_dump(mode="json") for one in document.doors],
        "appliances": [
            {
                "name": one.name,
                "venting": one.venting,
                "carbon_monoxide_air_free": _air_free(bench, one),
                "draft": one.draft,
                "spillage_seconds": one.spillage_seconds,
            }
            for one in document.appliances
        ],
    }
