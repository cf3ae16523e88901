"""What stands in the file of a test run beside its readings: instruments, and who overrode what."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from agency.diagnostics.doubting import DoubtedUse
from agency.diagnostics.models import InstrumentUse, TestRun
from agency.diagnostics.uses import day_of
from agency.instruments.models import Instrument
from agency.wording import words

NOT_LISTED = "not in the register"


@dataclass(frozen=True, slots=True, kw_only=True)
class Used:
    """One instrument of a run, and what vouched for it on that day."""

    name: str
    description: str
    calibration: str
    as_found: str
    doubt: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Override:
    """Somebody's word by which a reading stands, is turned, or is judged."""

    at: datetime
    who: str
    what: str
    reason: str


def instruments_of(run: TestRun, doubted: Sequence[DoubtedUse]) -> list[Used]:
    """Every instrument the document names, as it stood on the day of the test."""
    day = day_of(run.corrected_taken_at)
    uses = list(run.instrument_uses.all())
    serials = [use.serial for use in uses]
    known = list(Instrument.objects.filter(serial__in=serials).prefetch_related("calibrations"))
    return [_used(use, known, day, doubted) for use in uses]


def _used(
    use: InstrumentUse, known: Sequence[Instrument], day: date, doubted: Sequence[DoubtedUse]
) -> Used:
    # A document may leave the kind open; the serial number then decides.
    instrument = next(
        (one for one in known if one.serial == use.serial and use.kind in {"", one.kind}), None
    )
    if instrument is None:
        return Used(name=str(use), description="", calibration=NOT_LISTED, as_found="", doubt="")
    calibration = instrument.calibration_on(day)
    doubt = next((one.doubt for one in doubted if one.instrument == instrument), None)
    return Used(
        name=str(instrument),
        description=instrument.description,
        calibration=_calibration_words(instrument, day),
        as_found="" if calibration is None else _as_found(calibration.as_found_good),
        doubt=f"In doubt {doubt.days}. {doubt.reason}" if doubt else "",
    )


def _calibration_words(instrument: Instrument, day: date) -> str:
    calibration = instrument.calibration_on(day)
    if calibration is None:
        return "none before the test"
    done, due = words.day(calibration.calibrated_on), words.day(calibration.due_on)
    state = "current" if instrument.is_calibrated_on(day) else "overdue"
    return f"{done}, due {due}: {state}"


def _as_found(good: bool | None) -> str:
    if good is None:
        return "the certificate does not say"
    return "within tolerance" if good else "out of tolerance"


def overrides_of(run: TestRun, doubted: Sequence[DoubtedUse]) -> list[Override]:
    """Confirmations, turned channels and exceptions, in the order given."""
    found = [*_confirmations(run), *_swaps(run), *_exceptions(doubted)]
    return sorted(found, key=lambda one: one.at)


def _confirmations(run: TestRun) -> Iterator[Override]:
    checks = run.result.checks if run.result else []
    asked = {check["code"]: check.get("message") or "" for check in checks}
    for one in run.confirmations.select_related("by"):
        told = asked.get(one.code) or one.code
        yield Override(at=one.at, who=_person(one.by), what=f"Confirmed: {told}", reason=one.reason)


def _swaps(run: TestRun) -> Iterator[Override]:
    for one in run.side_swaps.select_related("by"):
        what = f"{one.get_channel_display()}: input and reference side turned"
        yield Override(at=one.at, who=_person(one.by), what=what, reason=one.reason)


def _exceptions(doubted: Sequence[DoubtedUse]) -> Iterator[Override]:
    for use in doubted:
        one = use.exception
        if one is not None:
            what = f"{use.instrument} may stand although {use.doubt.cause.label.lower()}"
            yield Override(at=one.at, who=_person(one.by), what=what, reason=one.reason)


def _person(user: object) -> str:
    role = getattr(user, "get_role_display", str)()
    return f"{user}, {str(role).lower()}"
