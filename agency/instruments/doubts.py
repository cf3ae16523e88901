"""Days on which nothing vouches for an instrument, worked out from its calibrations."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise
from typing import TYPE_CHECKING

from django.db.models import TextChoices

from agency.wording import words

if TYPE_CHECKING:
    from .models import Calibration

ONE_DAY = timedelta(days=1)


class Cause(TextChoices):
    """Why an instrument is in doubt; an exception is given for one cause only."""

    NEVER_CALIBRATED = "never_calibrated", "No calibration"
    OUT_OF_TOLERANCE = "out_of_tolerance", "Out of tolerance as found"
    OVERDUE = "overdue", "Calibration overdue"


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """A run of days, both ends included, on which the readings cannot be vouched for."""

    cause: Cause
    from_day: date | None
    """None: since the instrument was first used."""
    to_day: date | None
    """None: still going on."""
    reason: str

    @property
    def days(self) -> str:
        """The days in words."""
        if self.to_day is None:
            return f"since {words.day(self.from_day)}" if self.from_day else "at all times"
        if self.from_day is None:
            return f"up to {words.day(self.to_day)}"
        return f"{words.day(self.from_day)} to {words.day(self.to_day)}"

    def holds(self, day: date) -> bool:
        """True when a reading of `day` is in doubt."""
        return self.spans(day, day)

    def spans(self, first: date, last: date) -> bool:
        """True when every day from `first` to `last` is in doubt."""
        begun = self.from_day is None or self.from_day <= first
        return begun and (self.to_day is None or last <= self.to_day)


def doubts_from(calibrations: "Iterable[Calibration]", on: date) -> list[Doubt]:
    """What is in doubt as far as was known on `on`, oldest first; no two overlap.

    The day of a calibration already belongs to it.
    """
    known = sorted(
        (one for one in calibrations if one.calibrated_on <= on), key=lambda one: one.calibrated_on
    )
    if not known:
        return [_never("No calibration is entered, so nothing vouches for its readings.", None)]
    found = [
        _before(known[0]),
        *(_between(earlier, later) for earlier, later in pairwise(known)),
        _since(known[-1], on),
    ]
    return [doubt for doubt in found if doubt is not None]


def _never(reason: str, to_day: date | None) -> Doubt:
    return Doubt(cause=Cause.NEVER_CALIBRATED, from_day=None, to_day=to_day, reason=reason)


def _before(first: "Calibration") -> Doubt | None:
    """Days before the first calibration entered."""
    if first.as_found_good:
        return None
    if first.as_found_good is False:
        return _out_of_tolerance(None, first)
    day = words.day(first.calibrated_on)
    return _never(f"No calibration before {day} is entered.", first.calibrated_on - ONE_DAY)


def _between(earlier: "Calibration", later: "Calibration") -> Doubt | None:
    """Days between two calibrations: what the later one found speaks for all of them."""
    if later.as_found_good:
        return None
    if later.as_found_good is False:
        return _out_of_tolerance(earlier.calibrated_on, later)
    last = later.calibrated_on - ONE_DAY
    if last <= earlier.due_on:
        return None
    day = words.day(later.calibrated_on)
    return _overdue(earlier, last, f", and the certificate of {day} does not say how it was found.")


def _since(newest: "Calibration", on: date) -> Doubt | None:
    """Days after the newest calibration ran out."""
    if on <= newest.due_on:
        return None
    return _overdue(newest, None, ".")


def _out_of_tolerance(from_day: date | None, finding: "Calibration") -> Doubt:
    return Doubt(
        cause=Cause.OUT_OF_TOLERANCE,
        from_day=from_day,
        to_day=finding.calibrated_on - ONE_DAY,
        reason=f"It was found out of tolerance on {words.day(finding.calibrated_on)}.",
    )


def _overdue(run_out: "Calibration", to_day: date | None, ending: str) -> Doubt:
    return Doubt(
        cause=Cause.OVERDUE,
        from_day=run_out.due_on + ONE_DAY,
        to_day=to_day,
        reason=f"Its calibration was due again on {words.day(run_out.due_on)}{ending}",
    )
