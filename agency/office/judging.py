"""What a reviewer weighs about one test run, gathered for one page."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from agency.diagnostics.models import TIGHTNESS, Result, TestRun
from agency.wording import words
from agency.wording.templatetags.wording import moment

from . import bench_words
from .bench_drawings import bench_drawing
from .bench_words import BEFORE, OtherSide, newest_across
from .drawings import Drawing, fit_drawing
from .layouts import read
from .readings import Readings, nearest

WORST_FIRST = ("reject", "question", "advisory", "not_verifiable", "confirmed", "pass")
WORDS = {"question": "Question", "confirmed": "Confirmed"}
"""States of a check that have no word of their own elsewhere."""
SIGNS = {">=": "≥", "<=": "≤", "==": "exactly"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """One check as a reviewer reads it."""

    rank: str
    """How it stands, in the order of `WORST_FIRST`."""
    state: str
    """The state whose tab is shown."""
    word: str
    message: str
    next_step: str
    source: str
    anchor: str
    """The reading it speaks of, when that is on the page."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One test run with everything a judgement of it rests on."""

    run: TestRun
    result: Result | None
    value_name: str
    value: str
    limit: str
    other: OtherSide | None
    source: str
    checks: Sequence[Told]
    readings: Readings | None
    fit: Drawing | None
    figures: Sequence[tuple[str, str]]
    drawing_title: str
    told: str
    """The answer of a bench test in one sentence."""

    @property
    def readings_template(self) -> str:
        """The fragment that lays out the raw readings of this kind of test."""
        return f"office/kinds/{self.run.kind}.html"

    @property
    def odd(self) -> list[Told]:
        """Checks that are not met or could not be made, the worst first."""
        return [check for check in self.checks if check.rank != "pass"]

    @property
    def met(self) -> list[Told]:
        """Checks that are met."""
        return [check for check in self.checks if check.rank == "pass"]


def case_of(run: TestRun) -> Case:
    """Gather the case; `run` was fetched with its result."""
    result = run.result
    stored: list[dict[str, Any]] = list(result.checks) if result else []
    readings = read(run.document, stored)
    checks = _told(stored, readings.anchors if readings else set())
    bench = run.kind != TIGHTNESS
    return Case(
        run=run,
        result=result,
        value_name=bench_words.headline_name(result)
        if bench
        else "Flow at 50 Pa (95 % of the fit)",
        value=bench_words.headline(result) if bench else words.flow_interval(_interval(result)),
        limit=_limit_words(checks),
        other=bench_words.other_side(run) if bench else _other_side(run),
        source=_source_words(run),
        checks=checks,
        readings=readings,
        fit=(
            bench_drawing(result, run.title)
            if bench
            else fit_drawing(result, "Flow against house pressure")
        ),
        figures=bench_words.rows(result) if bench else _figure_rows(result),
        drawing_title="Drawing" if bench else "Fit",
        told=bench_words.answer(result) if bench else "",
    )


def _interval(result: Result | None) -> words.Interval | None:
    if result is None or result.flow_50 is None:
        return None
    told: words.Interval | None = result.figures.get("flow_50")
    return told or {"value": result.flow_50}


def _told(checks: list[dict[str, Any]], anchors: set[str]) -> list[Told]:
    """The checks, worst first, each pointing at a reading that is on the page, or at none."""
    told = [_one_told(check, anchors) for check in checks]
    return sorted(told, key=lambda one: WORST_FIRST.index(one.rank))


def _one_told(check: Mapping[str, Any], anchors: set[str]) -> Told:
    status = check.get("status") or "not_verifiable"
    rank = status if status in WORST_FIRST else "not_verifiable"
    if rank == "advisory" and check.get("severity") == "question":
        rank = "confirmed" if check.get("confirmed") else "question"
    source = check.get("source") or check.get("standard") or ""
    provenance = check.get("provenance")
    return Told(
        rank=rank,
        state={"question": "to_review", "confirmed": "accepted"}.get(rank, rank),
        word=WORDS.get(rank, ""),
        message=typeset(check.get("message") or ""),
        next_step=typeset(check.get("next_step") or ""),
        source=f"{source} ({provenance})" if provenance and provenance != source else source,
        anchor=nearest(anchors, check.get("field") or ""),
    )


def typeset(message: str) -> str:
    """A stored message with the signs of print for those of a keyboard."""
    for keyed, sign in SIGNS.items():
        message = message.replace(f"{keyed} ", f"{sign} ")
    return message


def _limit_words(checks: Sequence[Told]) -> str:
    """How many checks are met, and the one that decides when some are not."""
    if not checks:
        return "no check is made yet"
    met = sum(check.rank == "pass" for check in checks)
    counted = f"{words.number(met)} of {words.count(len(checks), 'check')} met"
    worst = checks[0]
    return counted if worst.rank == "pass" else f"{counted}. {worst.message}"


def _source_words(run: TestRun) -> str:
    person = run.operator or str(run.uploaded_by)
    return f"{run.device.label}; {person}; {moment(run.corrected_taken_at)}"


def _other_side(run: TestRun) -> OtherSide | None:
    """The tightness test across the work, and what changed."""
    other = newest_across(run)
    if other is None:
        return None
    mine, theirs = _flow(run), _flow(other)
    before, after = (mine, theirs) if run.phase == BEFORE else (theirs, mine)
    return OtherSide.of(
        other, value=words.flow(theirs), difference=words.flow_difference(before, after)
    )


def _flow(run: TestRun) -> float | None:
    result = run.result
    return result.flow_50 if result else None


def _figure_rows(result: Result | None) -> list[tuple[str, str]]:
    """The other figures of the result, worded."""
    if result is None:
        return []
    figures = result.figures
    uncertainty = (figures.get("uncertainty") or {}).get("flow_50")
    used = figures.get("points_used")
    return [
        ("Flow at 50 Pa (95 % of the fit)", words.flow_interval(_interval(result))),
        ("Its uncertainty, all causes, k = 1", words.percent(uncertainty, 1)),
        ("Air changes at 50 Pa", words.air_changes(figures.get("ach50"))),
        *_fit_rows(figures),
        ("Points used", words.NOT_MEASURED if used is None else words.number(used)),
        ("Effective leakage area at 4 Pa", words.leakage_area(figures.get("ela"))),
        ("Equivalent leakage area at 10 Pa", words.leakage_area(figures.get("eqla"))),
    ]


def _fit_rows(figures: Mapping[str, Any]) -> list[tuple[str, str]]:
    """Exponent and goodness of fit; of each direction when both were tested."""
    series = figures.get("series") or []
    if len(series) < 2:
        source = figures.get("exponent_source")
        exponent = _bare_interval(figures.get("exponent"))
        return [
            ("Exponent", f"{exponent}, {words.coded(source)}" if source else exponent),
            ("Fit, r²", words.number(figures.get("r_squared"), 4)),
        ]
    rows = []
    for one in series:
        direction = words.coded(one.get("direction")).lower()
        rows.append((f"Exponent, {direction}", words.number(one.get("exponent"), 3)))
        rows.append((f"Fit, r², {direction}", words.number(one.get("r_squared"), 4)))
    return rows


def _bare_interval(interval: words.Interval | None) -> str:
    """An interval of a figure that has no unit."""
    text = words.quantity_interval(interval, unit="", decimals=3)
    return text.replace(words.THIN_SPACE, "")
