"""What the agency's records know about a test run, gathered for its evaluation."""

from datetime import date

from agency.instruments.models import Calibration, Instrument

from .document_parts import TestDocument
from .evaluation import (
    BenchResult,
    Context,
    EarlierResult,
    EquationFacts,
    GaugeCheckFacts,
    GeometryFacts,
    InstrumentFacts,
)
from .models import TIGHTNESS, Result, TestRun

GAUGE_CHECK = "gauge_check"
SIZES = ("floor_area_sqft", "volume_cuft", "height_ft", "envelope_area_sqft", "elevation_ft")


def context_of(run: TestRun, document: TestDocument) -> Context:
    """House, instruments, earlier tests and clock, in a constant number of queries."""
    house = run.job.house
    day = run.corrected_taken_at.date()
    offset = run.clock_ahead_by
    return Context(
        geometry=GeometryFacts(**{name: getattr(house, name) for name in SIZES}),
        instruments=_instruments(document, day),
        earlier=_earlier(run),
        received_at=run.received_at,
        clock_ahead_by_seconds=None if offset is None else offset.total_seconds(),
        made_by_job_crew=_made_by_job_crew(run),
        work_started_on=run.job.work_started_on,
        confirmed=frozenset(run.confirmations.values_list("code", flat=True)),
        swapped=run.swapped_channels,
        gauge_checks=_gauge_checks(run),
        bench=() if run.kind == TIGHTNESS else _bench(run),
    )


def _instruments(document: TestDocument, day: date) -> dict[str, InstrumentFacts]:
    serials = {serial for _, serial in document.serials}
    known = Instrument.objects.filter(serial__in=serials).prefetch_related(
        "calibrations__equations"
    )
    return {one.serial: _facts(one, one.calibration_on(day)) for one in known}


def _facts(instrument: Instrument, calibration: Calibration | None) -> InstrumentFacts:
    if calibration is None:
        return InstrumentFacts(serial=instrument.serial)
    return InstrumentFacts(
        serial=instrument.serial,
        calibrated_on=calibration.calibrated_on,
        due_on=calibration.due_on,
        accuracy_percent=calibration.accuracy_percent,
        accuracy_pa=calibration.accuracy_pa,
        resolution_pa=calibration.resolution_pa,
        equations=tuple(
            EquationFacts(
                configuration=one.configuration,
                direction=one.direction,
                coefficient=one.coefficient,
                exponent=one.exponent,
                lowest_pressure=one.lowest_pressure,
                highest_pressure=one.highest_pressure,
                flow_unit=one.flow_unit,
                air_density=one.air_density,
            )
            for one in calibration.equations.all()
        ),
    )


def _earlier(run: TestRun) -> tuple[EarlierResult, ...]:
    """Results of tests of this house made before this one, oldest first.

    Later tests are left out, so that evaluating a run again gives what it gave at first.
    """
    results = (
        Result.objects.current()
        .filter(
            test_run__job__house=run.job.house_id,
            test_run__taken_at__lt=run.taken_at,
            flow_50__isnull=False,
        )
        .exclude(test_run=run)
        .exclude(verdict__in=[Result.Verdict.REJECTED, Result.Verdict.NOT_COMPUTED])
        .select_related("test_run")
        .order_by("test_run__taken_at", "id")
    )
    return tuple(
        EarlierResult(
            phase=one.test_run.phase,
            taken_at=one.test_run.corrected_taken_at,
            flow_50=one.flow_50,
            method=one.test_run.method,
            setup=one.figures.get("setup") or {},
            readings_hash=one.test_run.readings_hash,
            is_reportable=one.may_be_reported and one.test_run.review != TestRun.Review.RETURNED,
        )
        for one in results
        if one.flow_50 is not None
    )


def _bench(run: TestRun) -> tuple[BenchResult, ...]:
    """Reportable results of the job's other bench tests made before this one, oldest first."""
    results = (
        Result.objects.current()
        .filter(test_run__job=run.job_id, test_run__taken_at__lt=run.taken_at)
        .filter(verdict__in=[Result.Verdict.VALID, Result.Verdict.ADVISORY])
        .exclude(test_run=run)
        .exclude(test_run__kind=TIGHTNESS)
        .exclude(test_run__review=TestRun.Review.RETURNED)
        .select_related("test_run")
        .order_by("test_run__taken_at", "id")
    )
    return tuple(
        BenchResult(
            kind=one.test_run.kind,
            method=one.test_run.method,
            phase=one.test_run.phase,
            taken_at=one.test_run.corrected_taken_at,
            details=one.figures.get("details") or {},
        )
        for one in results
    )


def _gauge_checks(run: TestRun) -> tuple[GaugeCheckFacts, ...] | None:
    """Checks of gauge and hoses on this visit up to the test; None where no visit is named."""
    if run.visit_id is None:
        return None
    results = (
        Result.objects.current()
        .filter(
            test_run__visit=run.visit_id,
            test_run__kind=GAUGE_CHECK,
            test_run__taken_at__lte=run.taken_at,
        )
        .exclude(test_run=run)
        .select_related("test_run")
        .order_by("test_run__taken_at", "id")
    )
    return tuple(
        GaugeCheckFacts(
            serial=(one.figures.get("details") or {}).get("serial", ""),
            taken_at=one.test_run.corrected_taken_at,
            answer=one.answer,
        )
        for one in results
    )


def _made_by_job_crew(run: TestRun) -> bool | None:
    """None for an upload by someone who is on no crew."""
    member = getattr(run.uploaded_by, "crew_member", None)
    return None if member is None else member.crew_id == run.job.crew_id
