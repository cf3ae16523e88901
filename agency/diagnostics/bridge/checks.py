"""The criteria of the method's own standard, held against an evaluated test."""

from collections.abc import Callable, Iterable, Sequence
from itertools import pairwise

from agency.leakage.power_law import ExponentSource

from ..evaluation import Check, Context, InstrumentFacts
from ..forms.envelope import EnvelopeDocument
from .book import Book
from .envelope import SeriesResult, stations
from .readings import Readings, ReadSeries

STANDARD = {
    "e779": ("ASTM E779", "19", "e779"),
    "iso9972": ("ISO 9972", "2015", "iso9972"),
    "one_point": ("ANSI/RESNET/ICC 380 one-point", "2019", "resnet380"),
    "two_point": ("ASTM E1827 two-point", "22", "e1827"),
}
"""Name, edition and rule prefix of each method of a document."""


def criteria_checks(
    document: EnvelopeDocument,
    *,
    readings: Readings,
    results: Sequence[SeriesResult],
    context: Context,
    book: Book,
) -> list[Check]:
    """Every criterion of the standard the book holds; criteria of other standards are not asked."""
    prefix = STANDARD[document.method][2]
    checks = book.check(f"{prefix}.directions", float(len(readings.series)), field="series")
    for result in results:
        checks += _points(prefix, result, book)
        checks += _pressures(prefix, result, book)
        checks += _baselines(prefix, result, book)
        checks += _fit(prefix, result, book)
    checks += _weather(prefix, readings, book)
    return checks + _instruments(prefix, document, context, book)


def _points(prefix: str, result: SeriesResult, book: Book) -> list[Check]:
    field = f"{result.series.field}.points"
    count = int(result.used.sum())
    if result.method == "two_point":
        groups = [int(one.sum()) for one in stations(result.induced, result.flow, result.used)]
        checks = book.check(f"{prefix}.points", float(sum(one > 0 for one in groups)), field=field)
        return checks + book.check(f"{prefix}.repeats", float(min(groups)), field=field)
    seconds = [one.seconds for one in result.series.points if one.excluded is None]
    checks = book.check(f"{prefix}.points", float(count), field=field)
    return checks + book.check(f"{prefix}.averaging", _least(seconds), field=field)


def _pressures(prefix: str, result: SeriesResult, book: Book) -> list[Check]:
    field, pressures = f"{result.series.field}.points", result.used_induced
    high, low = float(pressures[0]), float(pressures[-1])
    if result.method == "two_point":
        checks = book.check(f"{prefix}.primary-pressure", high, field=field)
        return checks + book.check(f"{prefix}.secondary-pressure", low, field=field)
    steps = [float(a - b) for a, b in pairwise(pressures)]
    largest = _largest_baseline(result.series)
    worst = _worst(f"{prefix}.range", (low, high), book)
    checks = book.check(f"{prefix}.range", worst, field=field)
    checks += book.check(f"{prefix}.step", max(steps, default=None), field=field)
    checks += book.check(f"{prefix}.lowest-pressure", low, field=field)
    if largest != 0:
        ratio = None if largest is None else low / largest
        checks += book.check(f"{prefix}.lowest-pressure-ratio", ratio, field=field)
    checks += book.check(f"{prefix}.highest-pressure", high, field=field)
    checks += book.check(f"{prefix}.highest-pressure-large", high, field=field)
    return checks + book.check(f"{prefix}.pressure", high, field=field)


def _baselines(prefix: str, result: SeriesResult, book: Book) -> list[Check]:
    series, baselines = result.series, result.series.baselines
    field = f"{series.field}.baseline_before"
    largest = _largest_baseline(series)
    share = None if largest is None else largest / float(result.used_induced[-1])
    seconds = series.seconds or (None,)
    checks = book.check(f"{prefix}.baseline", share, field=field)
    checks += book.check(f"{prefix}.baseline-seconds", _least(seconds), field=field)
    readings = _least([one.readings for one in baselines] or [None])
    checks += book.check(f"{prefix}.baseline-readings", readings, field=field)
    signed = [mean for one in baselines for mean in (one.positive_mean, one.negative_mean)]
    known = [abs(mean) for mean in signed if mean is not None]
    # A mean beyond the limit rejects even where another is missing; a pass needs all of them.
    zero_flow = max(known, default=None)
    complete = bool(signed) and len(known) == len(signed)
    code = f"{prefix}.zero-flow"
    if zero_flow is not None and not complete and book.holds(code, zero_flow):
        zero_flow = None
    checks += book.check(code, zero_flow, field=field)
    spreads = [one.spread for one in baselines] or [None]
    spread = None if None in spreads else max(one for one in spreads if one is not None)
    checks += book.check(f"{prefix}.baseline-spread", spread, field=field)
    return checks + book.check(f"{prefix}.baseline-spread-large", spread, field=field)


def _fit(prefix: str, result: SeriesResult, book: Book) -> list[Check]:
    field = f"{result.series.field}.points"
    if result.exponent_source is ExponentSource.ASSUMED:
        return []
    checks = book.check(f"{prefix}.exponent", result.exponent, field=field)
    if result.exponent_source is ExponentSource.FITTED:
        r_squared = float(result.law.line.r_squared)
        # Two points always lie on their line; that says nothing of the fit.
        measured = r_squared if int(result.law.line.points) > 2 else None
        checks += book.check(f"{prefix}.r-squared", measured, field=field)
    return checks


def _weather(prefix: str, readings: Readings, book: Book) -> list[Check]:
    air, height = readings.air, readings.house.height
    product = None
    if air.indoor is not None and air.outdoor is not None and height is not None:
        product = abs(air.indoor - air.outdoor) * height
    missing = "" if height is not None else " The height of the house is not known."
    checks = book.check(f"{prefix}.temperature-height", product, field="conditions")
    if product is None and checks and missing:
        message = f"Temperature difference times height cannot be verified.{missing}"
        checks = book.check(
            f"{prefix}.temperature-height", product, field="house.height", message=message
        )
    checks += book.check(f"{prefix}.wind", air.wind_speed, field="conditions.wind_speed")
    return checks + book.check(
        f"{prefix}.outdoor-temperature", air.outdoor, field="conditions.outdoor_temperature"
    )


def _instruments(
    prefix: str, document: EnvelopeDocument, context: Context, book: Book
) -> list[Check]:
    gauge = context.instruments.get(document.gauge.serial)
    fans = [context.instruments.get(fan.serial) for fan in document.fans]
    percent, pascal = _accuracy([gauge])
    checks = book.check(f"{prefix}.gauge-percent", percent, field="gauge.serial")
    checks += book.check(f"{prefix}.gauge-pressure", pascal, field="gauge.serial")
    checks += book.check(f"{prefix}.flow-device", _accuracy(fans or [None])[0], field="fans")
    return checks + book.check(f"{prefix}.thermometer", None, field="conditions")


def _accuracy(facts: Iterable[InstrumentFacts | None]) -> tuple[float | None, float | None]:
    """Largest accuracy in per cent and in Pa; None where one is not known."""
    known = list(facts)
    percents = [None if one is None else one.accuracy_percent for one in known]
    pascals = [None if one is None else one.accuracy_pa for one in known]
    return _most(percents), _most(pascals)


def _largest_baseline(series: ReadSeries) -> float | None:
    return max((abs(one.mean) for one in series.baselines), default=None)


def _worst(code: str, values: Iterable[float], book: Book) -> float:
    """The first value that misses the rule; the smallest where all keep it."""
    known = list(values)
    return next((value for value in known if not book.holds(code, value)), min(known))


def _extreme(
    values: Iterable[float | None], choose: Callable[[Iterable[float]], float]
) -> float | None:
    known = list(values)
    if not known or any(value is None for value in known):
        return None
    return float(choose(value for value in known if value is not None))


def _least(values: Iterable[float | None]) -> float | None:
    return _extreme(values, min)


def _most(values: Iterable[float | None]) -> float | None:
    return _extreme(values, max)
