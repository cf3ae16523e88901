"""What happened to each invented job, and when: plain data, nothing stored."""

from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np

from .catalogue import QUARTERS, quarter_start
from .people import CREWS

COUNTED_JOBS = 118
"""Approved jobs, spread over all quarters; with the open ones some 150 homes."""

FATES = {
    # fate: how many jobs stand there now
    "awaiting_review": 4,
    "doubtful": 5,
    "returned": 2,
    "refused": 2,
    "awaiting_inspection": 3,
    "rework": 2,
    "ready": 2,
    "working": 4,
    "scheduled": 8,
    "withdrawn": 2,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedTest:
    """One test of a story."""

    phase: str
    day: date
    review: str
    """accepted, returned, to_review, or refused at the door."""
    spoiled: str = ""
    calm: bool = True
    gauge: str = ""
    """Another gauge than the crew's own."""
    reason: str = ""
    """Why the reviewer sent it back."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedVisit:
    """One trip to the house."""

    kind: str
    day: date
    outcome: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Story:
    """One job from its opening to where it stands now."""

    number: int
    fate: str
    crew: str
    routine: str
    opened_on: date
    tests: tuple[PlannedTest, ...] = ()
    visits: tuple[PlannedVisit, ...] = ()
    work_started_on: date | None = None
    tested_out_on: date | None = None
    failed_on: date | None = None
    """A final inspection that sent the crew back once."""
    inspected_on: date | None = None
    finding: str = ""
    approved_on: date | None = None
    no_before_test_reason: str = ""
    withdrawn_because: str = ""


FINDING = "Attic hatch is not weatherstripped; dryer duct ends in the crawlspace."
NO_BEFORE_REASONS = (
    "Vermiculite in the attic; no fan test before it was sampled.",
    "Wood stove was lit at test-in and the client could not let it go out.",
    "Roof leak: emergency air sealing began before the crew could test.",
)
NO_BEFORE, BASEMENT_SHUT, FEW_POINTS, GUSTS, INSPECTION_TEST = 7, 13, 21, 29, 34
"""Which of every forty counted jobs takes which turn."""
FAILED_ONCE = {4, 17, 31}
ROUTINES = ("out",) * 11 + ("both",) * 3 + ("out_both",) + ("single",) * 4 + ("pair",)
DOUBTS = ("gauge_overdue", "no_baseline", "wrong_configuration", "swapped_hose", "few_points")


def stories(today: date, *, counted_jobs: int = COUNTED_JOBS) -> list[Story]:
    """Every job of the demonstration, the oldest first; the same day gives the same stories."""
    rng = np.random.default_rng(20_260)
    days = _counting_days(rng, today, counted_jobs)
    told = [_counted(rng, number, day) for number, day in enumerate(days)]
    for fate, count in FATES.items():
        told += [_open(rng, len(told) + place, fate, place, today) for place in range(count)]
    return told


def _counting_days(rng: np.random.Generator, today: date, jobs: int) -> list[date]:
    """Working days of passed inspections, from the first quarter up to last week."""
    first = quarter_start(today, back=QUARTERS - 1) + timedelta(days=5)
    span = (today - timedelta(days=6) - first).days
    ages = np.sort(rng.integers(0, span + 1, jobs))
    # The newest stands in the current quarter whenever that has begun a week ago.
    ages[-1] = span
    return [_working_day(first + timedelta(days=int(age))) for age in ages]


def _working_day(day: date) -> date:
    """The day itself, or the Friday before a weekend."""
    return day - timedelta(days=max(0, day.weekday() - 4))


def _some_days_before(rng: np.random.Generator, day: date, least: int, most: int) -> date:
    return _working_day(day - timedelta(days=int(rng.integers(least, most + 1))))


def _crew(number: int) -> str:
    return list(CREWS)[number % len(CREWS)]


def _routine(rng: np.random.Generator) -> str:
    return str(rng.choice(ROUTINES))


def _counted(rng: np.random.Generator, number: int, inspected_on: date) -> Story:
    """A job that is inspected, approved and counted."""
    after = _some_days_before(rng, inspected_on, 4, 14)
    started = _some_days_before(rng, after, 1, 5)
    before = _some_days_before(rng, started, 4, 18)
    opened = _some_days_before(rng, before, 8, 30)
    turn = number % 40
    failed = _working_day(after + timedelta(days=2)) if turn in FAILED_ONCE else None
    approved = inspected_on + timedelta(days=int(rng.integers(1, 5)))
    visits = [
        PlannedVisit(kind="test_in", day=before, outcome="done"),
        PlannedVisit(kind="work", day=started, outcome="done"),
        PlannedVisit(kind="test_out", day=after, outcome="done"),
        PlannedVisit(kind="final_inspection", day=inspected_on, outcome="passed"),
    ]
    if failed:
        visits.insert(3, PlannedVisit(kind="final_inspection", day=failed, outcome="failed"))
    no_before = turn == NO_BEFORE
    return Story(
        number=number + 1,
        fate="approved",
        crew=_crew(number),
        routine="out" if turn in {BASEMENT_SHUT, FEW_POINTS, GUSTS} else _routine(rng),
        opened_on=opened,
        tests=_counted_tests(turn, before=before, after=after, inspected_on=inspected_on),
        visits=tuple(visits[1:] if no_before else visits),
        work_started_on=started,
        tested_out_on=after,
        failed_on=failed,
        finding=FINDING if failed else "",
        inspected_on=inspected_on,
        approved_on=approved,
        no_before_test_reason=NO_BEFORE_REASONS[number // 40 % 3] if no_before else "",
    )


def _counted_tests(
    turn: int, *, before: date, after: date, inspected_on: date
) -> tuple[PlannedTest, ...]:
    """Before and after, and what goes wrong with every fortieth job."""
    first = PlannedTest(phase="before", day=before, review="accepted")
    last = PlannedTest(phase="after", day=after, review="accepted")
    if turn == NO_BEFORE:
        return (last,)
    if turn == BASEMENT_SHUT:
        shut = PlannedTest(phase="after", day=after, review="accepted", spoiled="basement_shut")
        return first, shut
    if turn == FEW_POINTS:
        return _repeated("few_points", before, "Three points only; test again."), first, last
    if turn == GUSTS:
        return _repeated("", before, "Gusts spoilt it; come back on a calm day."), first, last
    if turn == INSPECTION_TEST:
        return first, last, PlannedTest(phase="inspection", day=inspected_on, review="accepted")
    return first, last


def _repeated(spoiled: str, day: date, reason: str) -> PlannedTest:
    """A bad test of the morning before, sent back and made again."""
    return PlannedTest(
        phase="before",
        day=day - timedelta(days=1),
        review="returned",
        spoiled=spoiled,
        calm=bool(spoiled),
        reason=reason,
    )


def _open(rng: np.random.Generator, number: int, fate: str, place: int, today: date) -> Story:
    """A job that is still open, or was withdrawn."""
    tell = {
        "scheduled": _scheduled,
        "withdrawn": _withdrawn,
        "working": _working,
        "doubtful": _doubtful,
        "returned": _returned,
        "refused": _refused,
    }.get(fate, _finished)
    return tell(rng, number, fate, place, today)


def _scheduled(rng: np.random.Generator, number: int, fate: str, place: int, today: date) -> Story:
    """Test-in still to come: overdue, today, tomorrow, or later."""
    offset = (-4, -2, 0, 0, 1, 1, 5, 9)[place]
    day = today + timedelta(days=offset)
    visits = [PlannedVisit(kind="test_in", day=day)]
    if place == 1:
        absent = PlannedVisit(
            kind="test_in",
            day=day - timedelta(days=6),
            outcome="client_absent",
            note="Rang twice, left a card.",
        )
        visits.insert(0, absent)
    return Story(
        number=number + 1,
        fate=fate,
        crew=_crew(place),
        routine="out",
        opened_on=today - timedelta(days=int(rng.integers(12, 30))),
        visits=tuple(visits),
    )


def _withdrawn(rng: np.random.Generator, number: int, fate: str, place: int, today: date) -> Story:
    because = ("The house was sold.", "Client moved in with her daughter in another county.")[place]
    return Story(
        number=number + 1,
        fate=fate,
        crew=_crew(place),
        routine="out",
        opened_on=today - timedelta(days=90 + 40 * place),
        withdrawn_because=because,
    )


def _begun(
    rng: np.random.Generator,
    number: int,
    fate: str,
    place: int,
    today: date,
    *,
    before: PlannedTest,
) -> Story:
    """Tested in, the work not begun."""
    return Story(
        number=number + 1,
        fate=fate,
        crew=_crew(place),
        routine="out" if before.spoiled or not before.calm else _routine(rng),
        opened_on=_some_days_before(rng, before.day, 8, 20),
        tests=(before,),
        visits=(
            PlannedVisit(kind="test_in", day=before.day, outcome="done"),
            PlannedVisit(kind="work", day=today + timedelta(days=place + 1)),
        ),
    )


def _working(rng: np.random.Generator, number: int, fate: str, place: int, today: date) -> Story:
    before = PlannedTest(
        phase="before", day=_working_day(today - timedelta(days=9 + place)), review="accepted"
    )
    story = _begun(rng, number, fate, place, today, before=before)
    return story if place else _to_be_tested_out(story, today)


def _to_be_tested_out(story: Story, today: date) -> Story:
    """The work is done, and the crew comes today for the test after it."""
    started = _working_day(today - timedelta(days=2))
    visits = (
        story.visits[0],
        PlannedVisit(kind="work", day=started, outcome="done"),
        PlannedVisit(kind="test_out", day=today),
    )
    return replace(story, visits=visits, work_started_on=started)


def _doubtful(rng: np.random.Generator, number: int, fate: str, place: int, today: date) -> Story:
    """Waits for review with a result that cannot be reported."""
    doubt = DOUBTS[place]
    before = PlannedTest(
        phase="before",
        day=_working_day(today - timedelta(days=2 + place)),
        review="to_review",
        spoiled=doubt if doubt != "gauge_overdue" else "",
        gauge="QG-009" if doubt == "gauge_overdue" else "",
    )
    return _begun(rng, number, fate, place, today, before=before)


def _returned(rng: np.random.Generator, number: int, fate: str, place: int, today: date) -> Story:
    spoiled = ("few_points", "")[place]
    reason = (
        "Only three points. Repeat with at least five stations.",
        "Too gusty: the points scatter. Repeat on a calm day.",
    )[place]
    before = PlannedTest(
        phase="before",
        day=_working_day(today - timedelta(days=6 + place)),
        review="returned",
        spoiled=spoiled,
        calm=bool(spoiled),
        reason=reason,
    )
    return _begun(rng, number, fate, place, today, before=before)


def _refused(rng: np.random.Generator, number: int, fate: str, place: int, today: date) -> Story:
    """The phone sent something no program can read; the crew has to send it again."""
    before = PlannedTest(
        phase="before",
        day=_working_day(today - timedelta(days=1 + place)),
        review="refused",
        spoiled=("flow_as_text", "without_units")[place],
    )
    return _begun(rng, number, fate, place, today, before=before)


def _finished(rng: np.random.Generator, number: int, fate: str, place: int, today: date) -> Story:
    """Tested out: in review, before or after inspection, in rework, or ready to approve."""
    after = _working_day(today - timedelta(days=3 + place))
    started = _some_days_before(rng, after, 1, 4)
    before = _some_days_before(rng, started, 5, 14)
    inspected: date | None = None
    if fate in {"ready", "rework"}:
        inspected, after = after, _some_days_before(rng, after, 3, 5)
        started, before = _some_days_before(rng, after, 1, 3), before - timedelta(days=9)
    review = "to_review" if fate == "awaiting_review" else "accepted"
    visits = [
        PlannedVisit(kind="test_in", day=before, outcome="done"),
        PlannedVisit(kind="work", day=started, outcome="done"),
        PlannedVisit(kind="test_out", day=after, outcome="done"),
    ]
    if inspected is None:
        visits.append(PlannedVisit(kind="final_inspection", day=today + timedelta(days=place + 1)))
    else:
        outcome = "passed" if fate == "ready" else "failed"
        visits.append(PlannedVisit(kind="final_inspection", day=inspected, outcome=outcome))
    return Story(
        number=number + 1,
        fate=fate,
        crew=_crew(place),
        routine=_routine(rng),
        opened_on=_some_days_before(rng, before, 8, 24),
        tests=(
            PlannedTest(phase="before", day=before, review="accepted"),
            PlannedTest(phase="after", day=after, review=review),
        ),
        visits=tuple(visits),
        work_started_on=started,
        tested_out_on=after,
        failed_on=inspected if fate == "rework" else None,
        inspected_on=inspected if fate == "ready" else None,
        finding=FINDING if fate == "rework" else "",
    )
