"""Test runs whose instruments cannot be vouched for, with the exceptions that let them stand."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from uuid import UUID

from agency.instruments.doubts import Doubt
from agency.instruments.models import Instrument

from .excepting import InstrumentException
from .models import InstrumentUse, TestRun
from .uses import InstrumentUseQuerySet, day_of


@dataclass(frozen=True, slots=True, kw_only=True)
class DoubtedUse:
    """One instrument used for one run on a day for which nothing vouches."""

    instrument: Instrument
    run_id: UUID
    doubt: Doubt
    exception: InstrumentException | None
    """What lets it stand, if anything does."""


def doubted_uses(instruments: Iterable[Instrument], *, on: date) -> list[DoubtedUse]:
    """Every use in doubt as far as was known on `on`; `calibrations` are fetched beforehand."""
    return _doubted(instruments, InstrumentUse.objects.all(), on)


def doubted_uses_of(run: TestRun, *, on: date) -> list[DoubtedUse]:
    """The instruments of one run that are in doubt."""
    serials = run.instrument_uses.values("serial")
    known = Instrument.objects.filter(serial__in=serials).prefetch_related("calibrations")
    return _doubted(known, run.instrument_uses.all(), on)


def exception_for(
    doubt: Doubt, exceptions: Iterable[InstrumentException], *, run_id: UUID, day: date
) -> InstrumentException | None:
    """The newest exception under which a run of `day` stands in spite of `doubt`."""
    return next((one for one in exceptions if one.covers(doubt, run_id=run_id, day=day)), None)


def _doubted(
    instruments: Iterable[Instrument], uses: InstrumentUseQuerySet, on: date
) -> list[DoubtedUse]:
    doubts = {one: found for one in instruments if (found := one.doubts(on))}
    exceptions: dict[UUID, list[InstrumentException]] = defaultdict(list)
    for exception in InstrumentException.objects.standing().of(doubts):
        exceptions[exception.instrument_id].append(exception)
    made: dict[str, list[tuple[str, UUID, date]]] = defaultdict(list)
    named = ("serial", "kind", "test_run_id", "made_at")
    for serial, kind, run_id, made_at in uses.in_doubt(doubts).values_list(*named):
        made[serial].append((kind, run_id, day_of(made_at)))
    return [
        DoubtedUse(
            instrument=instrument,
            run_id=run_id,
            doubt=doubt,
            exception=exception_for(doubt, exceptions[instrument.pk], run_id=run_id, day=day),
        )
        for instrument, its_doubts in doubts.items()
        for kind, run_id, day in made[instrument.serial]
        if kind in {"", instrument.kind} and (doubt := doubt_on(its_doubts, day))
    ]


def doubt_on(doubts: Sequence[Doubt], day: date) -> Doubt | None:
    """The doubt that holds on `day`; doubts never overlap."""
    return next((doubt for doubt in doubts if doubt.holds(day)), None)
