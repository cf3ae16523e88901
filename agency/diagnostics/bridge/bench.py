"""Every bench test's way through: SI units, common checks, its own formulas, one evaluation."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import asdict, dataclass
from typing import Any, TypeVar

import numpy as np

from agency.leakage.air import (
    REFERENCE_DENSITY,
    dry_air_density_at_pressure,
    standard_pressure,
)
from agency.leakage.errors import LeakageError
from agency.leakage.fan_flow import indicated_flow, meter_density_factor
from agency.leakage.reading_errors import gauge_accuracy
from agency.leakage.units import METRE_PER_FOOT, SQUARE_METRE_PER_SQUARE_FOOT
from agency.leakage.version import MATHS_VERSION
from agency.rulebook.shipped import RuleLike

from ..document_parts import FlowReading, TestDocument, readings_in
from ..evaluation import Check, Context, Evaluation, Step, Stop, input_hash
from .book import Book
from .findings import Findings
from .readings import equation_of
from .scenarios import calibration_checks, clock_checks, crew_checks, local_time
from .si import in_si
from .verdicts import NOT_USED, rejected, verdict_of
from .visit_checks import caution_stops, visit_checks

Value = TypeVar("Value")
BEYOND_NUMBERS = "A value is so large or so small that nothing can be computed with it."


class NotMeasured(Exception):
    """A reading the method cannot do without."""

    def __init__(self, field: str, label: str) -> None:
        self.field = field
        super().__init__(f"{label} was not measured; this method cannot do without it.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Bench:
    """One document on its way through its kind's formulas."""

    document: Any
    """In SI units; of the kind's own form."""
    sent: TestDocument
    """As it was sent."""
    context: Context
    book: Book

    def needed(self, value: Value | None, field: str, label: str) -> Value:
        """`value`, or NotMeasured naming the field."""
        if value is None:
            raise NotMeasured(field, label)
        return value

    def u_pressure(self, pressure: float | None) -> float:
        """Standard uncertainty of a pressure: the register's accuracy, else the book's. [Pa]"""
        gauge = self.sent.gauge
        facts = None if gauge is None else self.context.instruments.get(gauge.serial)
        percent = facts.accuracy_percent if facts else None
        pascal = facts.accuracy_pa if facts else None
        relative = self.book.setting("uncertainty.gauge-percent") if percent is None else percent
        absolute = self.book.setting("uncertainty.gauge-pressure") if pascal is None else pascal
        return float(
            gauge_accuracy(reading=pressure or 0.0, relative=relative / 100, absolute=absolute)
        )

    def u_flow(self) -> float:
        """Relative standard uncertainty of a flow by its device's calibration. [-]"""
        percents = [
            facts.accuracy_percent
            for fan in self.sent.fans
            if (facts := self.context.instruments.get(fan.serial)) and facts.accuracy_percent
        ]
        percent = max(percents, default=self.book.setting("uncertainty.flow-device"))
        return float(percent / 100 / np.sqrt(3))

    def density(self, temperature: float | None) -> float:
        """Density of air at the site; of reference air where a reading is missing. [kg/m³]"""
        station = self.station_pressure
        if temperature is None or station is None:
            return REFERENCE_DENSITY
        return float(dry_air_density_at_pressure(temperature=temperature, pressure=station))

    @property
    def station_pressure(self) -> float | None:
        """As read, else the standard atmosphere's at the elevation. [Pa]"""
        read: float | None = self.document.conditions.barometric_pressure
        if read is not None or self.elevation is None:
            return read
        return float(standard_pressure(self.elevation))

    @property
    def elevation(self) -> float | None:
        """The register's elevation before the document's. [m]"""
        known = self.context.geometry
        if known is not None and known.elevation_ft is not None:
            return known.elevation_ft * METRE_PER_FOOT
        elevation: float | None = self.document.conditions.elevation
        return elevation

    @property
    def floor_area(self) -> float | None:
        """The register's floor area before the document's. [m²]"""
        known = self.context.geometry
        if known is not None and known.floor_area_sqft is not None:
            return known.floor_area_sqft * SQUARE_METRE_PER_SQUARE_FOOT
        house = self.document.house
        return None if house is None else house.floor_area

    def earlier(self, kind: str, name: str) -> float | None:
        """A figure of the latest earlier test of `kind` that has it, by its name in `details`."""
        found = [
            one
            for one in self.context.bench
            if one.kind == kind and one.details.get(name) is not None
        ]
        latest = max(found, key=lambda one: one.taken_at, default=None)
        return None if latest is None else float(latest.details[name])

    def flow(self, reading: FlowReading | None, *, field: str, label: str, direction: str) -> float:
        """Flow of one reading: as the gauge showed it, or by the fans' equations. [m³/s]

        The fan moves indoor air in depressurization and outdoor air in pressurization.

        Raises
        ------
        NotMeasured
            There is no reading.
        LeakageError
            No equation is known, or a fan was read outside its printed range.
        """
        air = self.document.conditions
        indoors = direction == "depressurization"
        temperature = air.indoor_temperature if indoors else air.outdoor_temperature
        return self._flow(reading, temperature, field=field, label=label, direction=direction)

    def indoor_flow(
        self, reading: FlowReading | None, *, field: str, label: str, direction: str
    ) -> float:
        """As `flow`, of a device that meets indoor air whichever way it blows. [m³/s]"""
        temperature = self.document.conditions.indoor_temperature
        return self._flow(reading, temperature, field=field, label=label, direction=direction)

    def _flow(
        self,
        reading: FlowReading | None,
        temperature: float | None,
        *,
        field: str,
        label: str,
        direction: str,
    ) -> float:
        if reading is None:
            raise NotMeasured(field, label)
        if reading.flow is not None:
            return reading.flow
        total = 0.0
        for number, fan in enumerate(reading.fans):
            one = equation_of(fan.serial, fan.configuration, direction, self.sent, self.context)
            if one is None:
                raise LeakageError(
                    f"{label}: no flow equation is known for fan {fan.serial}, configuration "
                    f"{fan.configuration} ({field}.fans[{number}]). Add the fan's certificate to "
                    "the register, or correct the configuration."
                )
            found = indicated_flow(
                coefficient=one.coefficient,
                exponent=one.exponent,
                fan_pressure=fan.fan_pressure,
                lowest_pressure=one.lowest_pressure,
                highest_pressure=one.highest_pressure,
            )
            total += float(found) * self._meter_factor(one.air_density, temperature)
        return total

    def _meter_factor(self, calibration_density: float, temperature: float | None) -> float:
        """A meter calibrated at one density and read in air of another. [-]"""
        gauge = self.sent.gauge
        if gauge is None or gauge.density_corrected or temperature is None:
            return 1.0
        return float(
            meter_density_factor(
                calibration_density=calibration_density, fan_density=self.density(temperature)
            )
        )


Formulas = Callable[[Bench], Findings]


def evaluate_bench(
    document: TestDocument, *, formulas: Formulas, rules: Iterable[RuleLike], context: Context
) -> Evaluation:
    """Figures, checks, verdict and safety stops of one bench test.

    Parameters
    ----------
    document : TestDocument
        A parsed document of the kind `formulas` belongs to.
    formulas : callable
        From the document in SI to its findings.
    rules : iterable of RuleLike
        The rule book of all dates; those in force on the day of the test are used.
    context : Context
        What the agency knows beside the document.
    """
    day = local_time(document, context).date()
    book = Book(rules, day, confirmed=context.confirmed)
    bench = Bench(
        document=in_si(document),
        sent=document,
        context=context,
        book=book,
    )
    checks, stops = _common_checks(bench), caution_stops(document, book)
    if rejected(checks):
        return _evaluation(bench, checks, None, [*stops, *_hazards(bench, formulas)])
    try:
        findings = formulas(bench)
    except NotMeasured as missing:
        words, field = str(missing), missing.field
        checks += book.complaint("reading.missing", 0.0, field=field, message=words)
    except (LeakageError, ArithmeticError) as refusal:
        words = str(refusal) if isinstance(refusal, LeakageError) else BEYOND_NUMBERS
        checks += book.complaint("reading.refused", 0.0, message=words)
    else:
        return _evaluation(bench, checks, findings, stops)
    return _evaluation(bench, checks, None, stops)


def _hazards(bench: Bench, formulas: Formulas) -> Sequence[Stop]:
    """What an invalid test found that stops the job all the same."""
    return formulas(bench).stops if bench.sent.form.finds_hazards else ()


def _common_checks(bench: Bench) -> list[Check]:
    """What is asked of every bench test before its own formulas."""
    document, context, book = bench.sent, bench.context, bench.book
    checks: list[Check] = []
    for one in readings_in(bench.document):
        if one.asked.plausible and one.value is not None:
            size = abs(one.value) if one.asked.quantity == "pressure" else one.value
            checks += book.complaint(one.asked.plausible, size, field=one.path)
    checks += clock_checks(document, context, book) + crew_checks(context, book)
    checks += calibration_checks(document, context, book)
    return checks + visit_checks(document, context, book)


def _evaluation(
    bench: Bench, checks: list[Check], findings: Findings | None, stops: list[Stop]
) -> Evaluation:
    form = bench.sent.form
    found = list(checks)
    limits: list[Check] = []
    steps: list[Step] = []
    if findings is not None:
        found += findings.checks
        limits += findings.limits
        steps += findings.steps
        stops = [*stops, *findings.stops]
    return Evaluation(
        verdict="not_computed" if findings is None else verdict_of(found),
        method=findings.method if findings else form.title,
        edition=findings.edition if findings else "",
        maths_version=MATHS_VERSION,
        input_hash=input_hash(
            {
                "document": bench.sent.model_dump(mode="json", exclude=NOT_USED),
                "context": asdict(bench.context),
                "rules": bench.book.plain(),
                "maths_version": MATHS_VERSION,
            }
        ),
        flow_50=None,
        answer="" if findings is None else str(findings.answer),
        figures={} if findings is None else _figures(findings, bench.sent),
        checks=[one.as_dict() for one in [*found, *limits]],
        steps=[one.as_dict() for one in steps],
        stops=[one.as_dict() for one in stops],
    )


def _figures(findings: Findings, document: TestDocument) -> dict[str, Any]:
    return {
        "words": findings.words,
        "shown": [one.as_dict() for one in findings.shown],
        "drawing": None if findings.drawing is None else dict(findings.drawing),
        "details": dict(findings.details),
        "setup": dict(document.setup),
        "swaps": [one.model_dump(mode="json") for one in document.swaps],
    }
