"""A quarter is locked once: evidence, figures and hash are frozen, and anyone can check them."""

from dataclasses import dataclass, replace
from datetime import datetime

from django.utils import timezone

from agency.accounts.models import User
from agency.errors import ActionRefused
from agency.jobs.models import Job
from agency.programs.models import Program
from agency.wording import words

from .canonical import canonical_text, exact_text, revived, sha256
from .corrections import correction_rows, note_corrections
from .evidence import Evidence, gather
from .models import LockedQuarter
from .periods import Period
from .quarter import EDITION, Lock, QuarterReport, quarter_report, report_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Recomputed:
    """A locked quarter worked out again from its frozen evidence."""

    stored: str
    """SHA-256 that was written down at the lock."""
    kept: str
    """SHA-256 of the figures kept in the database."""
    anew: str
    """SHA-256 of the figures worked out from the evidence now."""
    evidence_holds: bool
    """Whether the evidence still has the hash written down at the lock."""
    edition: str

    @property
    def agrees(self) -> bool:
        """Nothing was changed and the same bytes come out."""
        return self.evidence_holds and self.stored == self.kept == self.anew


def lock(period: Period, program: Program | None, by: User, *, now: datetime) -> LockedQuarter:
    """Freeze the report of a quarter that has ended; the caller holds the transaction."""
    _refuse_to_lock(period, program, now)
    note_corrections(now)
    # Read back before it is counted: what is checked later starts from the same text.
    evidence = exact_text(
        gather(period, program=program, corrections=correction_rows(period, program), now=now)
    )
    figures = canonical_text(report_of(revived(Evidence, evidence)))
    return LockedQuarter.objects.create(
        code=period.code,
        grant="" if program is None else program.grant_number,
        program=program,
        label=period.label,
        first_day=period.first,
        last_day=period.last,
        locked_at=now,
        locked_by=by,
        edition=EDITION,
        evidence=evidence,
        evidence_hash=sha256(evidence),
        figures=figures,
        figures_hash=sha256(figures),
    )


def _refuse_to_lock(period: Period, program: Program | None, now: datetime) -> None:
    locked = LockedQuarter.objects.of(period, program)
    if locked is not None:
        raise ActionRefused(
            f"{locked} was locked by {locked.locked_by} on {_day(locked.locked_at)}. It stays as "
            "it is; later changes stand in the report of the quarter in which they were noted."
        )
    if timezone.localdate(now) <= period.last:
        raise ActionRefused(
            f"{period.code} runs until {words.day(period.last)}. Lock it from the day after on."
        )


def not_approved_yet(period: Period, program: Program | None) -> int:
    """Jobs that would count in the period, were they approved; later they are corrections."""
    waiting = Job.objects.ready_to_approve().filter(
        inspection_passed_on__range=(period.first, period.last)
    )
    return (waiting if program is None else waiting.filter(program=program)).count()


def report_for(period: Period, program: Program | None, *, now: datetime) -> QuarterReport:
    """The report as it was locked, else as things stand now."""
    locked = LockedQuarter.objects.of(period, program)
    if locked is not None:
        return locked_report(locked)
    corrections = correction_rows(period, program)
    return quarter_report(period, program=program, corrections=corrections, now=now)


def locked_report(locked: LockedQuarter) -> QuarterReport:
    """The frozen figures themselves; nothing is worked out again."""
    seal = Lock(by=str(locked.locked_by), at=locked.locked_at, sha256=locked.figures_hash)
    return replace(revived(QuarterReport, locked.figures), lock=seal)


def recomputed(locked: LockedQuarter) -> Recomputed:
    """Work the figures out again from nothing but the frozen evidence."""
    return Recomputed(
        stored=locked.figures_hash,
        kept=sha256(locked.figures),
        anew=sha256(canonical_text(report_of(revived(Evidence, locked.evidence)))),
        evidence_holds=sha256(locked.evidence) == locked.evidence_hash,
        edition=locked.edition,
    )


def _day(at: datetime) -> str:
    return words.day(timezone.localdate(at))
