"""What must hold before anything can be computed: ranges, signs, equations, flow."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from agency.errors import FieldReason
from agency.rulebook.shipped import RuleLike

from ..evaluation import Check, Context
from ..forms.envelope import EnvelopeDocument
from .book import Book
from .readings import Readings, ReadPoint, ReadSeries, equations_of, readings_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Signs:
    """Which way the readings of a series point."""

    turned: bool
    """All readings have the sign of the other direction."""
    induced: tuple[float, ...]
    """Induced pressure of each point after `turned` is taken into account. [Pa]"""


def implausible(
    document: EnvelopeDocument, *, rules: Iterable[RuleLike], context: Context | None = None
) -> list[FieldReason]:
    """Every value outside what a field instrument can meet, as reasons for a refusal."""
    known = context or Context()
    book = Book(rules, document.taken_at.date())
    return [reason_of(check) for check in input_checks(readings_of(document, known), book)]


def reason_of(check: Check) -> FieldReason:
    """A missed check as a reason."""
    return FieldReason(
        field=check.field,
        code=check.code,
        message=check.message,
        value=check.measured,
        limit=f"{check.limit} {check.unit}".strip(),
        next_step=check.next_step,
    )


def input_checks(readings: Readings, book: Book) -> list[Check]:
    """Readings outside their range, each with its field; empty when all are plausible."""
    checks = []
    for code, path, value in _values(readings):
        if value is not None:
            checks += book.complaint(code, value, field=path)
    return checks


def _values(readings: Readings) -> Iterator[tuple[str, str, float | None]]:
    air = readings.air
    yield "input.indoor-temperature", "conditions.indoor_temperature", air.indoor
    yield "input.outdoor-temperature", "conditions.outdoor_temperature", air.outdoor
    yield "input.barometric-pressure", "conditions.barometric_pressure", air.station_pressure
    yield "input.elevation", "conditions.elevation", air.elevation
    yield "input.wind-speed", "conditions.wind_speed", air.wind_speed
    house = readings.house
    yield "input.floor-area", "house.floor_area", house.floor_area
    yield "input.volume", "house.volume", house.volume
    yield "input.height", "house.height", house.height
    yield "input.envelope-area", "house.envelope_area", house.envelope_area
    for series in readings.series:
        for name, one in (("before", series.before), ("after", series.after)):
            size = None if one is None else abs(one.mean)
            yield "input.building-pressure", f"{series.field}.baseline_{name}", size
        for point in series.points:
            if point.excluded is None:
                path = f"{point.field}.building_pressure"
                yield "input.building-pressure", path, abs(point.building_pressure)
                yield from _flow_values(point)


def _flow_values(point: ReadPoint) -> Iterator[tuple[str, str, float | None]]:
    for code in ("input.flow", "input.highest-flow"):
        yield code, f"{point.field}.flow", point.flow
    for fan in point.fans:
        path = f"{fan.field}.fan_pressure"
        yield "input.lowest-fan-pressure", path, fan.pressure
        yield "input.fan-pressure", path, fan.pressure
        if fan.equation is not None:
            yield "input.fan-exponent", f"{fan.field}.configuration", fan.equation.exponent


def sign_checks(series: ReadSeries, offset: float, book: Book) -> tuple[Signs | None, list[Check]]:
    """The induced pressures of a series; None where the signs contradict each other."""
    signed = [series.direction.sign * (one.building_pressure - offset) for one in series.points]
    used = [value for value, one in zip(signed, series.points, strict=True) if one.excluded is None]
    against = sum(value < 0 for value in used)
    share = min(against, len(used) - against) / len(used) if used else 0.0
    checks = book.complaint(
        "reading.sign",
        share,
        field=f"{series.field}.points",
        message=f"{against} of {len(used)} points have the sign of the other direction.",
    )
    if checks:
        return None, checks
    turned = bool(used) and against == len(used)
    checks = book.complaint(
        "reading.direction",
        0.0 if turned else 1.0,
        field=f"{series.field}.direction",
        message=f"Every reading has the sign of the other direction than {series.direction}.",
    )
    induced = tuple(-value for value in signed) if turned else tuple(signed)
    for value, one in zip(induced, series.points, strict=True):
        if one.excluded is None:
            checks += book.complaint(
                "input.lowest-induced-pressure", value, field=f"{one.field}.building_pressure"
            )
    zero = any(one.code == "input.lowest-induced-pressure" for one in checks)
    return (None if zero else Signs(turned=turned, induced=induced)), checks


def equation_checks(
    series: ReadSeries, document: EnvelopeDocument, context: Context, book: Book
) -> list[Check]:
    """Fan readings without an equation, and those outside its range."""
    checks: list[Check] = []
    for point in series.points:
        for fan in point.fans if point.excluded is None else ():
            if fan.equation is None:
                known = equations_of(fan.serial, series.direction, document, context)
                names = ", ".join(sorted({one.configuration for one in known})) or "none"
                checks += book.complaint(
                    "reading.equation",
                    0.0,
                    field=f"{fan.field}.configuration",
                    message=f"No flow equation is known for fan {fan.serial}, configuration "
                    f"{fan.configuration}; known: {names}.",
                )
                continue
            low, high = fan.equation.lowest_pressure, fan.equation.highest_pressure
            words = (
                f"Fan pressure {fan.pressure:.1f} Pa is outside {low:g} to {high:g} Pa, the range "
                f"of configuration {fan.configuration}; the point is not used."
            )
            path = f"{fan.field}.fan_pressure"
            if low > 0:
                below = fan.pressure / low
                checks += book.complaint("reading.fan-range-low", below, field=path, message=words)
            if fan.in_range:
                flow = fan.equation.coefficient * fan.pressure**fan.equation.exponent
                configuration = f"{fan.field}.configuration"
                checks += book.complaint("input.highest-flow", flow, field=configuration)
            above = fan.pressure / high
            checks += book.complaint("reading.fan-range-high", above, field=path, message=words)
    return checks
