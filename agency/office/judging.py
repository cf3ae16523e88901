"""What a reviewer weighs about one test run, gathered for one page."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.urls import reverse

from agency.diagnostics.models import Result, TestRun
from agency.wording import words
from agency.wording.templatetags.wording import moment

from .drawings import Drawing, fit_drawing
from .readings import Readings, nearest, read

BEFORE = TestRun.Phase.BEFORE
WORST_FIRST = ("reject", "not_verifiable", "advisory")


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherSide:
    """The test on the other side of the work, and the difference between the two in words."""

    name: str
    value: str
    difference: str
    url: str
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One test run with everything a judgement of it rests on."""

    run: TestRun
    result: Result | None
    value: str
    limit: str
    other: OtherSide | None
    source: str
    checks: Sequence[Mapping[str, Any]]
    readings: Readings | None
    fit: Drawing | None
    figures: Sequence[tuple[str, str]]

    @property
    def odd_count(self) -> int:
        """Checks that are not met or could not be made."""
        return sum(check.get("status") != "pass" for check in self.checks)


def case_of(run: TestRun) -> Case:
    """Gather the case; `run` was fetched with its result."""
    result = run.result
    stored: list[dict[str, Any]] = list(result.checks) if result else []
    readings = read(run.document, stored)
    return Case(
        run=run,
        result=result,
        value=words.flow_interval(_interval(result)),
        limit=_limit_words(stored),
        other=_other_side(run),
        source=_source_words(run),
        checks=_linked(stored, readings.anchors if readings else set()),
        readings=readings,
        fit=fit_drawing(result, "Flow against house pressure"),
        figures=_figure_rows(result),
    )


def _interval(result: Result | None) -> words.Interval | None:
    if result is None or result.flow_50 is None:
        return None
    told: words.Interval | None = result.figures.get("flow_50")
    return told or {"value": result.flow_50}


def _linked(checks: list[dict[str, Any]], anchors: set[str]) -> list[dict[str, Any]]:
    """The checks, worst first, each pointing at a reading that is on the page, or at none."""
    linked = [check | {"field": nearest(anchors, check.get("field") or "")} for check in checks]
    return sorted(linked, key=_badness)


def _badness(check: Mapping[str, Any]) -> int:
    status = check.get("status")
    return WORST_FIRST.index(status) if status in WORST_FIRST else len(WORST_FIRST)


def _limit_words(checks: list[dict[str, Any]]) -> str:
    """How many checks are met, and the limit that decides when one is not."""
    if not checks:
        return "no check is made yet"
    met = sum(check.get("status") == "pass" for check in checks)
    counted = f"{words.number(met)} of {words.count(len(checks), 'check')} met"
    open_limits = [
        check
        for check in checks
        if check.get("status") != "pass" and check.get("limit") is not None
    ]
    if not open_limits:
        return counted
    return f"{counted}; {_measured_words(min(open_limits, key=_badness))}"


def _measured_words(check: Mapping[str, Any]) -> str:
    unit = f"{words.THIN_SPACE}{check['unit']}" if check.get("unit") else ""
    measured = _plain(check.get("measured"))
    return f"measured {measured}{unit}, limit {_plain(check['limit'])}{unit}"


def _plain(value: Any) -> str:
    """A stored number as a person reads it; anything else as it stands."""
    if value is None:
        return words.NOT_MEASURED
    if isinstance(value, bool) or not isinstance(value, int | float):
        return str(value)
    return words.number(value, 0 if float(value).is_integer() else 2)


def _source_words(run: TestRun) -> str:
    person = run.operator or str(run.uploaded_by)
    return f"{run.device.label}; {person}; {moment(run.corrected_taken_at)}"


def _other_side(run: TestRun) -> OtherSide | None:
    """The newest test across the work, an accepted one before any other."""
    wanted = [TestRun.Phase.AFTER, TestRun.Phase.INSPECTION] if run.phase == BEFORE else [BEFORE]
    candidates = [
        other
        for other in run.job.test_runs.with_result().filter(phase__in=wanted)
        if other.review != TestRun.Review.RETURNED and other.result is not None
    ]
    if not candidates:
        return None
    other = max(candidates, key=lambda one: (one.review == TestRun.Review.ACCEPTED, one.taken_at))
    mine, theirs = _flow(run), _flow(other)
    before, after = (mine, theirs) if run.phase == BEFORE else (theirs, mine)
    return OtherSide(
        name=words.coded(other.phase),
        value=words.flow(theirs),
        difference=words.flow_difference(before, after),
        url=reverse("office:test_run", args=[other.pk]),
        note=words.state(other.review).word.lower(),
    )


def _flow(run: TestRun) -> float | None:
    result = run.result
    return result.flow_50 if result else None


def _figure_rows(result: Result | None) -> list[tuple[str, str]]:
    """The other figures of the result, worded."""
    if result is None:
        return []
    figures = result.figures
    exponent = figures.get("exponent")
    source = figures.get("exponent_source")
    said = words.quantity_interval(exponent, unit="", decimals=3).replace(words.THIN_SPACE, "")
    uncertainty = (figures.get("uncertainty") or {}).get("flow_50")
    squared = figures.get("r_squared")
    used = figures.get("points_used")
    return [
        ("Flow at 50 Pa", words.flow_interval(_interval(result))),
        ("Uncertainty of the flow, k = 1", words.percent(uncertainty, 1)),
        ("Air changes at 50 Pa", words.air_changes(figures.get("ach50"))),
        ("Exponent", f"{said}, {words.coded(source)}" if source else said),
        ("Fit, r²", words.number(squared, 4)),
        ("Points used", words.NOT_MEASURED if used is None else words.number(used)),
        ("Effective leakage area at 4 Pa", words.leakage_area(figures.get("ela"))),
        ("Equivalent leakage area at 10 Pa", words.leakage_area(figures.get("eqla"))),
    ]
