"""Bridge to the formulas: a test-run document in, figures with their checks and steps out."""

from collections.abc import Iterable
from dataclasses import asdict, dataclass
from typing import Any

from agency.leakage.errors import LeakageError
from agency.leakage.leakage_area import normalized_leakage_62_2
from agency.leakage.line import NORMAL_QUANTILE
from agency.leakage.units import METRE_PER_FOOT
from agency.leakage.version import MATHS_VERSION
from agency.rulebook.shipped import RuleLike

from ..evaluation import Check, Context, Evaluation, Step, input_hash
from ..forms.envelope import EnvelopeDocument
from .air import AirState, air_checks, air_state
from .book import Book
from .checks import STANDARD, criteria_checks
from .comparison import compare, pair_of
from .envelope import SeriesResult, evaluate_series
from .figures import Evaluated, empty_figures, figures_of
from .inputs import equation_checks, implausible, input_checks, sign_checks
from .readings import HouseSizes, Readings, readings_of
from .scenarios import (
    Outcome,
    baseline_checks,
    calibration_checks,
    clock_checks,
    crew_checks,
    house_checks,
    local_time,
    mode_checks,
    order_checks,
    preview_checks,
    reading_checks,
    size_checks,
    unit_checks,
)
from .steps import house_steps, series_steps
from .uncertainty import accuracy_of, series_uncertainty
from .verdicts import NOT_USED, rejected, verdict_of
from .visit_checks import caution_stops, visit_checks

__all__ = ["compare", "evaluate_document", "implausible", "pair_of", "verdict_of"]

NO_CONTEXT = Context()
UNUSABLE = {"reading.equation", "input.highest-flow"}
BEYOND_NUMBERS = "A value is so large or so small that nothing can be computed with it."


@dataclass(frozen=True, slots=True, kw_only=True)
class _Work:
    """One document on its way through."""

    document: EnvelopeDocument
    context: Context
    book: Book


def evaluate_document(
    document: EnvelopeDocument, *, rules: Iterable[RuleLike], context: Context = NO_CONTEXT
) -> Evaluation:
    """Figures, checks and verdict of one test; a rejected test still carries its numbers.

    Parameters
    ----------
    document : EnvelopeDocument
        A parsed document.
    rules : iterable of RuleLike
        The rule book of all dates; those in force on the day of the test are used.
    context : Context
        What the agency knows beside the document.
    """
    day = local_time(document, context).date()
    book = Book(rules, day, confirmed=context.confirmed)
    work = _Work(document=document, context=context, book=book)
    try:
        return _evaluate(work)
    except LeakageError as refusal:
        reason = str(refusal)
    except ArithmeticError:
        reason = BEYOND_NUMBERS
    return _not_computed(work, book.complaint("reading.fit", 0.0, field="series", message=reason))


def _evaluate(work: _Work) -> Evaluation:
    document, context, book = work.document, work.context, work.book
    readings = readings_of(document, context)
    checks = input_checks(readings, book)
    checks += clock_checks(document, context, book) + crew_checks(context, book)
    checks += calibration_checks(document, context, book)
    checks += visit_checks(document, context, book)
    checks += baseline_checks(document, readings, book)
    metric, metric_question = house_checks(readings, book)
    checks += metric
    if rejected(checks):
        return _not_computed(work, checks)
    checks += air_checks(readings.air, document.units.temperature, book)
    state = air_state(readings.air, document.method, book)
    results, found = _series_results(work, readings, state)
    checks += found
    if len(results) < len(readings.series):
        return _not_computed(work, checks)
    figures, own_checks = _figures(work, readings, state, results, metric_question)
    steps = [*(state.steps if state else ())]
    for one in results:
        steps += series_steps(one)
    steps += house_steps(figures, readings.house)
    return _evaluation(work, [*checks, *own_checks], figures, steps, computed=True)


def _series_results(
    work: _Work, readings: Readings, state: AirState | None
) -> tuple[list[SeriesResult], list[Check]]:
    """Every series that could be fitted, depressurization first, and what stood in the way."""
    results, checks = [], []
    ordered = sorted(readings.series, key=lambda one: one.direction.sign)
    subtracted = work.document.gauge.baseline_subtracted
    for series in ordered:
        offset = 0.0 if subtracted else (series.offset or 0.0)
        signs, found = sign_checks(series, offset, work.book)
        equations = equation_checks(series, work.document, work.context, work.book)
        checks += found + equations
        if signs is None or any(one.code in UNUSABLE for one in equations):
            continue
        try:
            result = evaluate_series(
                series,
                method=work.document.method,
                offset=offset,
                signs=signs,
                state=state,
                density_corrected=work.document.gauge.density_corrected,
                book=work.book,
            )
        except LeakageError as refusal:
            checks += work.book.complaint(
                "reading.fit", 0.0, field=f"{series.field}.points", message=str(refusal)
            )
            continue
        results.append(result)
    return results, checks


def _figures(
    work: _Work,
    readings: Readings,
    state: AirState | None,
    results: list[SeriesResult],
    metric_question: bool,
) -> tuple[dict[str, Any], list[Check]]:
    """Figures of the fitted series, and everything that is asked of them."""
    document, context, book = work.document, work.context, work.book
    accuracy = accuracy_of(document, context, book)
    parts = [
        Evaluated(
            result=one,
            uncertainty=series_uncertainty(
                one,
                accuracy=accuracy,
                baseline_subtracted=document.gauge.baseline_subtracted,
                readings=readings,
                state=state,
                book=book,
            ),
        )
        for one in results
    ]
    figures = figures_of(document, readings.house, parts, volume_in_question=metric_question)
    if figures["flow_50"]["value"] is None:
        raise OverflowError(BEYOND_NUMBERS)
    outcome = _outcome(readings.house, figures, book)
    checks = criteria_checks(
        document, readings=readings, results=results, context=context, book=book
    )
    for one in results:
        checks += reading_checks(document, context, one, book)
    checks += order_checks(document, context, outcome, book)
    checks += unit_checks(document, context, outcome, book)
    checks += size_checks(outcome, book) + preview_checks(document, outcome, book)
    checks += mode_checks(figures["mode_difference"], book)
    return figures, checks + _accuracy_checks(work, figures)


def _outcome(house: HouseSizes, figures: dict[str, Any], book: Book) -> Outcome:
    area = figures["ela"]
    leakage = figures["nl"]
    if leakage is None and area is not None and house.floor_area is not None:
        # Only to judge the size of the flow; no figure rests on it.
        height = book.setting("review.usual-height") * METRE_PER_FOOT
        leakage = float(
            normalized_leakage_62_2(leakage_area=area, floor_area=house.floor_area, height=height)
        )
    return Outcome(
        flow_50=figures["flow_50"]["value"],
        ach50=figures["ach50"],
        leakage_area=area,
        normalized_leakage=leakage,
    )


def _accuracy_checks(work: _Work, figures: dict[str, Any]) -> list[Check]:
    """The whole uncertainty against the standard's class, and the trials that were lost."""
    checks: list[Check] = []
    total = figures["uncertainty"]["flow_50"]
    percent = None if total is None else 100 * NORMAL_QUANTILE * total
    prefix = STANDARD[work.document.method][2]
    own = work.book.check(f"{prefix}.uncertainty", percent, field="series")
    checks += own or work.book.check("accuracy.standard", percent, field="series")
    drawn = figures["monte_carlo"]
    if drawn is not None:
        share = drawn["dropped"] / drawn["trials"]
        checks += work.book.complaint("accuracy.monte-carlo-dropped", share, field="series")
    return checks


def _not_computed(work: _Work, checks: list[Check]) -> Evaluation:
    return _evaluation(work, checks, empty_figures(work.document), [], computed=False)


def _evaluation(
    work: _Work,
    checks: list[Check],
    figures: dict[str, Any],
    steps: list[Step],
    *,
    computed: bool,
) -> Evaluation:
    method, edition, _ = STANDARD[work.document.method]
    exponent = work.book.rule(f"{STANDARD[work.document.method][2]}.exponent")
    return Evaluation(
        verdict=verdict_of(checks) if computed else "not_computed",
        method=method,
        edition=exponent.edition if exponent is not None else edition,
        maths_version=MATHS_VERSION,
        input_hash=input_hash(
            {
                "document": work.document.model_dump(mode="json", exclude=NOT_USED),
                "context": asdict(work.context),
                "rules": work.book.plain(),
                "maths_version": MATHS_VERSION,
            }
        ),
        flow_50=figures["flow_50"]["value"],
        figures=figures,
        checks=[one.as_dict() for one in checks],
        steps=[one.as_dict() for one in steps],
        stops=[one.as_dict() for one in caution_stops(work.document, work.book)],
    )
