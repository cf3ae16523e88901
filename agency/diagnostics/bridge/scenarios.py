"""Questions a careful reviewer asks: units, order, clock, calibration, copied or stray readings."""

import math
from collections import Counter
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from agency.leakage.outliers import (
    likely_configuration,
    offsets_from_others,
    residuals,
    stray_significance,
)
from agency.leakage.power_law import ExponentSource
from agency.leakage.units import METRE_PER_FOOT

from ..document_parts import TestDocument
from ..evaluation import Check, Context, EarlierResult, EquationFacts
from ..forms.envelope import EnvelopeDocument
from .book import Book
from .envelope import SeriesResult
from .readings import Readings, ReadPoint, equations_of
from .si import FLOW

AFTER_WORK = {"after", "inspection"}
SECONDS_PER_MINUTE = 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """The combined figures the questions are asked of. [m³/s, 1/h, m²]"""

    flow_50: float
    ach50: float | None
    leakage_area: float | None
    normalized_leakage: float | None


def local_time(document: TestDocument, context: Context) -> datetime:
    """When the test was made by our clock, in the phone's own time zone."""
    ahead = context.clock_ahead_by_seconds or 0.0
    return document.taken_at - timedelta(seconds=ahead)


def clock_checks(document: TestDocument, context: Context, book: Book) -> list[Check]:
    """The phone's clock against ours, and a test that lies in the future."""
    checks: list[Check] = []
    if context.clock_ahead_by_seconds is not None:
        minutes = abs(context.clock_ahead_by_seconds) / SECONDS_PER_MINUTE
        way = "ahead" if context.clock_ahead_by_seconds > 0 else "behind"
        words = f"The phone's clock was {minutes:.1f} minutes {way} of ours when it sent."
        for code in ("clock.difference", "clock.difference-large"):
            checks += book.complaint(code, minutes, field="taken_at", message=words)
    if context.received_at is not None:
        ahead = (local_time(document, context) - context.received_at).total_seconds()
        minutes = max(ahead, 0.0) / SECONDS_PER_MINUTE
        words = f"The test lies {minutes:.0f} minutes after it was received."
        checks += book.complaint("clock.future", minutes, field="taken_at", message=words)
    return checks


def order_checks(
    document: EnvelopeDocument, context: Context, outcome: Outcome, book: Book
) -> list[Check]:
    """Before and after the work: the days, and which of the two leaks more."""
    moment, phase = local_time(document, context), document.phase
    checks: list[Check] = []
    if context.work_started_on is not None and phase != "during":
        days = float((moment.date() - context.work_started_on).days)
        code, gap = (
            ("order.before-work", -days) if phase == "before" else ("order.after-work", days)
        )
        words = (
            f"The test named {phase!r} was made on {moment.date()}; the work started on "
            f"{context.work_started_on}."
        )
        checks += book.complaint(code, gap, field="phase", message=words)
    for earlier in context.earlier:
        checks += _order_of(document, moment, earlier, outcome, book)
    return checks


def _order_of(
    document: EnvelopeDocument, moment: datetime, other: EarlierResult, outcome: Outcome, book: Book
) -> list[Check]:
    here_after, there_after = document.phase in AFTER_WORK, other.phase in AFTER_WORK
    if "during" in {document.phase, other.phase} or here_after == there_after:
        return []
    gap = (moment - other.taken_at).total_seconds() / 86_400
    before, after = other.flow_50, outcome.flow_50
    if there_after:
        gap, before, after = -gap, after, before
    days = f"The test {document.phase!r} lies {gap:.1f} days the wrong way round."
    checks = book.complaint("order.sequence", gap, field="taken_at", message=days)
    words = f"The house leaks {after / before:.2f} times as much after the work as before."
    return checks + book.complaint(
        "order.leakier-after", after / before, field="phase", message=words
    )


def unit_checks(
    document: EnvelopeDocument, context: Context, outcome: Outcome, book: Book
) -> list[Check]:
    """Flows whose ratio to another test of the house is that of two units, or of two pressures."""
    checks: list[Check] = []
    for other in context.earlier:
        ratio = outcome.flow_50 / other.flow_50
        same_phase = other.phase == document.phase
        codes = ["review.ratio-cubic-metres"]
        # After the work a house may well leak half as much; only a repeat makes this suspect.
        if same_phase:
            codes.append("review.ratio-litres")
        if same_phase and document.method == "one_point":
            codes.append("review.ratio-25")
        for code in codes:
            checks += _suspect(code, ratio, other, book)
        difference = abs(ratio - 1.0)
        words = f"The flow has the digits of the test {other.phase!r} of {other.taken_at.date()}."
        checks += book.complaint(
            "review.same-as-earlier", difference, field="series", message=words
        )
    return checks


def _suspect(code: str, ratio: float, other: EarlierResult, book: Book) -> list[Check]:
    """A rule whose range is the suspicious one: inside is a question, outside is silence."""
    rule = book.rule(code)
    if rule is None or not book.holds(code, ratio):
        return []
    words = (
        f"The flow at 50 Pa is {ratio:.3f} times that of the test {other.phase!r} of "
        f"{other.taken_at.date()}; {rule.low:g} to {rule.high:g} points to another unit or "
        "pressure."
    )
    return book.suspicion(code, ratio, field="units.flow", message=words)


def house_checks(readings: Readings, book: Book) -> tuple[list[Check], bool]:
    """Volume against floor area; True when the volume may be in cubic metres."""
    house = readings.house
    if house.volume is None or house.floor_area is None:
        return [], False
    height = house.volume / house.floor_area / METRE_PER_FOOT
    rule = book.rule("house.volume-metric")
    metric = rule is not None and book.holds("house.volume-metric", height)
    words = f"Volume over floor area is {height:.3g} ft; a storey has about 8 ft."
    if metric:
        confirmed = book.is_confirmed("house.volume-metric")
        suspicion = book.suspicion(
            "house.volume-metric", height, field="house.volume", message=words
        )
        return suspicion, not confirmed
    return (
        book.complaint("house.volume-per-area", height, field="house.volume", message=words),
        False,
    )


def baseline_checks(document: EnvelopeDocument, readings: Readings, book: Book) -> list[Check]:
    """Baselines that are missing, or as large as a reading with the fan running."""
    checks: list[Check] = []
    multi_point = document.method in {"e779", "iso9972"}
    for series in readings.series:
        field = f"{series.field}.baseline_before"
        recorded = float(len(series.baselines))
        # A gauge that took the baseline off by itself has one, but cannot show it.
        known = None if document.gauge.baseline_subtracted and not recorded else recorded
        checks += book.complaint("reading.baseline-missing", known, field=field)
        if multi_point:
            after = f"{series.field}.baseline_after"
            checks += book.complaint("reading.baseline-after", known, field=after)
        for name, one in (("before", series.before), ("after", series.after)):
            if one is not None:
                checks += book.complaint(
                    "reading.baseline-size",
                    abs(one.mean),
                    field=f"{series.field}.baseline_{name}",
                    message=f"The baseline is {one.mean:.1f} Pa.",
                )
    return checks


def calibration_checks(document: TestDocument, context: Context, book: Book) -> list[Check]:
    """Gauge and fans past the due date on the day of the test."""
    day = local_time(document, context).date()
    checks: list[Check] = []
    for field, serial in document.serials:
        facts = context.instruments.get(serial)
        due = None if facts is None else facts.due_on
        days = None if due is None else float((day - due).days)
        words = (
            f"The register holds no calibration of {serial} on {day}."
            if due is None
            else f"The calibration of {serial} was due on {due}, {days:.0f} days before the test."
        )
        checks += book.check("calibration.overdue", days, field=field, message=words)
    return checks


def crew_checks(context: Context, book: Book) -> list[Check]:
    """A test made by another crew than the job's."""
    if context.made_by_job_crew is None:
        return []
    words = "The test was sent by a crew that does not have this job."
    return book.complaint("job.crew", float(context.made_by_job_crew), field="job", message=words)


def reading_checks(
    document: EnvelopeDocument, context: Context, result: SeriesResult, book: Book
) -> list[Check]:
    """Stray points, points too close together, and points that fit too well."""
    field, pressures = f"{result.series.field}.points", result.used_induced
    checks: list[Check] = []
    if result.exponent_source is ExponentSource.FITTED:
        span = float(pressures[0] / pressures[-1])
        checks += book.complaint("reading.span", span, field=field)
        checks += _stray_points(document, context, result, book)
        checks += _too_neat(result, book)
        checks += book.complaint("review.exponent", result.exponent, field=field)
    return checks + book.complaint("reading.repeated", _repeats(result), field=field)


def _stray_points(
    document: EnvelopeDocument, context: Context, result: SeriesResult, book: Book
) -> list[Check]:
    arrays = {"pressure": result.induced, "flow": result.flow, "used": result.used}
    chance = stray_significance(result.measured_law, **arrays)
    offsets = offsets_from_others(result.measured_law, **arrays)
    if not np.any(np.isfinite(chance)) or int(result.used.sum()) < 5:
        return []
    worst = int(np.nanargmin(chance))
    point, measured = result.series.points[worst], float(chance[worst])
    words = (
        f"Point {worst + 1} lies {100 * math.expm1(offsets[worst]):+.1f} % off the others' line."
    )
    equations = _equations_at(document, context, result, point)
    other = _other_configuration(point, equations, float(offsets[worst]), book)
    if other:
        words += f" With configuration {other} it would fit; nothing was changed."
    return book.complaint("reading.residual", measured, field=point.field, message=words)


def _equations_at(
    document: EnvelopeDocument, context: Context, result: SeriesResult, point: ReadPoint
) -> list[EquationFacts]:
    if len(point.fans) != 1:
        return []
    return equations_of(point.fans[0].serial, result.series.direction, document, context)


def _other_configuration(
    point: ReadPoint, equations: list[EquationFacts], offset: float, book: Book
) -> str | None:
    """The configuration with which a stray point would fit; only ever a suggestion."""
    rule = book.rule("reading.residual-match")
    if not equations or rule is None or rule.limit is None:
        return None
    fan = point.fans[0]
    flows = {one.configuration: one.coefficient * fan.pressure**one.exponent for one in equations}
    if fan.configuration not in flows:
        return None
    return likely_configuration(offset, keyed=fan.configuration, flows=flows, tolerance=rule.limit)


def _too_neat(result: SeriesResult, book: Book) -> list[Check]:
    field = f"{result.series.field}.points"
    error = residuals(
        result.measured_law, pressure=result.induced, flow=result.flow, used=result.used
    )
    checks: list[Check] = []
    if int(result.used.sum()) > 2:
        largest = float(np.nanmax(np.abs(error)))
        checks += book.complaint("reading.residual-smallest", largest, field=field)
    assumed = book.rule("setting.assumed-exponent")
    if assumed is not None and assumed.limit is not None:
        distance = abs(result.exponent - assumed.limit)
        checks += book.complaint("reading.exponent-exact", distance, field=field)
    return checks


def _repeats(result: SeriesResult) -> float:
    readings = Counter(
        (point.building_pressure, point.flow, tuple(fan.pressure for fan in point.fans))
        for point in result.series.points
        if point.excluded is None
    )
    return float(max(readings.values(), default=0))


def size_checks(outcome: Outcome, book: Book) -> list[Check]:
    """Results far from what houses have."""
    checks = book.complaint("review.flow-50", outcome.flow_50 / FLOW["cfm"], field="series")
    if outcome.ach50 is not None:
        checks += book.complaint("review.ach50", outcome.ach50, field="house.volume")
    if outcome.leakage_area is not None:
        area = outcome.leakage_area * 1e4
        checks += book.complaint("review.leakage-area", area, field="series")
    if outcome.normalized_leakage is not None and outcome.normalized_leakage > 0:
        usual = book.setting("review.usual-leakage")
        spread = book.setting("review.usual-leakage-sd")
        distance = abs(math.log(outcome.normalized_leakage / usual)) / spread
        times = outcome.normalized_leakage / usual
        words = f"The house leaks {times:.3g} times the usual for its floor area."
        checks += book.complaint("review.decimal-slip", distance, field="series", message=words)
    return checks


def mode_checks(difference: float | None, book: Book) -> list[Check]:
    """Both directions against each other."""
    if difference is None:
        return []
    return book.complaint("review.mode-difference", difference, field="series")


def preview_checks(document: EnvelopeDocument, outcome: Outcome, book: Book) -> list[Check]:
    """The phone's own figure against ours."""
    preview = document.app and document.app.flow_50
    if not preview or document.app is None or document.units.flow is None:
        return []
    here = outcome.flow_50 / FLOW[document.units.flow]
    difference = abs(preview / here - 1.0)
    unit = document.units.flow
    words = (
        f"The phone (version {document.app.version}, maths {document.app.maths_version}) showed "
        f"{preview:.4g} {unit}; worked out here: {here:.4g} {unit}."
    )
    return book.complaint(
        "review.preview-difference", difference, field="app.flow_50", message=words
    )
