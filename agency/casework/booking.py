"""Booking a visit: time, people, vehicle and instruments, none of them twice at once."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django.db import IntegrityError, transaction
from django.utils import timezone

from agency.accounts.models import User
from agency.errors import ActionRefused
from agency.instruments.models import Instrument
from agency.jobs.bookings import Booking, Claim, Rebooking, Vehicle, overlapping
from agency.jobs.models import ENDED, Visit
from agency.people.models import Crew
from agency.wording.templatetags.wording import clock, moment

LONGEST = timedelta(hours=14)
"""A visit longer than a day's work is a slip of the pen. Own choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """When, who and with what."""

    starts_at: datetime
    ends_at: datetime
    crew: Crew | None = None
    inspector: User | None = None
    vehicle: Vehicle | None = None
    instruments: Sequence[Instrument] = ()

    def claims(self) -> list[Claim]:
        """Everything that can be at one place only."""
        wanted: list[tuple[str, Any]] = [
            (Claim.Kind.CREW, self.crew),
            (Claim.Kind.INSPECTOR, self.inspector),
            (Claim.Kind.VEHICLE, self.vehicle),
            *((Claim.Kind.INSTRUMENT, one) for one in self.instruments),
        ]
        return [Claim.to(kind, record) for kind, record in wanted if record is not None]


def book(visit_id: UUID, by: User, plan: Plan) -> Booking:
    """Give a visit its time; refused in words when anything of it is taken."""
    _refuse_nonsense(by, plan)
    return _unless_taken(plan, lambda: _book(visit_id, by, plan), booking=None)


def move(booking_id: UUID, by: User, plan: Plan, *, code: str, said: str = "") -> Booking:
    """Move a booking, for a reason that is kept."""
    _refuse_nonsense(by, plan)
    _refuse_unknown(code)
    return _unless_taken(
        plan, lambda: _move(booking_id, by, plan, code=code, said=said), booking=booking_id
    )


@transaction.atomic
def call_off(booking_id: UUID, by: User, *, code: str, said: str = "") -> Booking:
    """Take a booking out of the schedule; its visit waits for another."""
    _refuse_unknown(code)
    _refuse_strangers(by)
    booking = _held(booking_id)
    booking.rebookings.create(
        code=code, words=said, by=by, old_starts_at=booking.starts_at, old_who=booking.who
    )
    booking.claims.all().delete()
    booking.cancelled_at = booking.changed_at = timezone.now()
    booking.sequence += 1
    booking.save(update_fields=["cancelled_at", "changed_at", "sequence"])
    return booking


def _unless_taken(plan: Plan, make: Any, *, booking: UUID | None) -> Booking:
    """The database has the last word; what it refuses is said as people say it."""
    try:
        with transaction.atomic():
            _hold_things(plan)
            _refuse_taken(plan, booking)
            made: Booking = make()
    except IntegrityError:
        with transaction.atomic():
            _refuse_taken(plan, booking)
        raise ActionRefused(
            "Someone has booked this visit, or something it needs, at the same moment. "
            "Look at the schedule and choose again."
        ) from None
    return made


def _hold_things(plan: Plan) -> None:
    """Two who want the same thing at the same moment come one after the other, in one order."""
    if plan.crew is not None:
        Crew.objects.select_for_update(no_key=True).get(pk=plan.crew.pk)
    if plan.inspector is not None:
        User.objects.select_for_update(no_key=True).get(pk=plan.inspector.pk)
    if plan.vehicle is not None:
        Vehicle.objects.select_for_update(no_key=True).get(pk=plan.vehicle.pk)
    kit = [one.pk for one in plan.instruments]
    list(Instrument.objects.select_for_update(no_key=True).filter(pk__in=kit).order_by("pk"))


def _book(visit_id: UUID, by: User, plan: Plan) -> Booking:
    visit = Visit.objects.select_for_update(of=("self",)).select_related("job").get(pk=visit_id)
    _refuse_over(visit)
    if visit.bookings.standing().exists():
        raise ActionRefused(f"{visit} has a time already. Move that booking instead.")
    booking = Booking.objects.create(
        visit=visit,
        crew=plan.crew,
        inspector=plan.inspector,
        vehicle=plan.vehicle,
        starts_at=plan.starts_at,
        ends_at=plan.ends_at,
        booked_by=by,
    )
    booking.claim(plan.claims())
    _tell_visit(visit, plan)
    return booking


def _move(booking_id: UUID, by: User, plan: Plan, *, code: str, said: str) -> Booking:
    booking = _held(booking_id)
    _refuse_over(booking.visit)
    old_starts_at, old_who = booking.starts_at, booking.who
    booking.crew, booking.inspector, booking.vehicle = plan.crew, plan.inspector, plan.vehicle
    booking.starts_at, booking.ends_at = plan.starts_at, plan.ends_at
    booking.sequence, booking.changed_at = booking.sequence + 1, timezone.now()
    booking.save()
    booking.claim(plan.claims())
    booking.rebookings.create(
        code=code,
        words=said,
        by=by,
        old_starts_at=old_starts_at,
        old_who=old_who,
        new_starts_at=booking.starts_at,
        new_who=booking.who,
    )
    _tell_visit(booking.visit, plan)
    return booking


def _held(booking_id: UUID) -> Booking:
    bookings = Booking.objects.select_related("visit__job", "crew", "inspector", "vehicle")
    booking = bookings.select_for_update(of=("self",)).get(pk=booking_id)
    if booking.cancelled_at is not None:
        raise ActionRefused(f"{booking} was called off {moment(booking.cancelled_at)}.")
    return booking


def _tell_visit(visit: Visit, plan: Plan) -> None:
    """The day and the people of the visit follow its booking; phones read the visit."""
    visit.planned_on = timezone.localdate(plan.starts_at)
    visit.crew, visit.inspector = plan.crew, plan.inspector or visit.inspector
    visit.save(update_fields=["planned_on", "crew", "inspector"])


def _refuse_nonsense(by: User, plan: Plan) -> None:
    _refuse_strangers(by)
    if plan.crew is None and plan.inspector is None:
        raise ActionRefused("The booking names nobody. Choose a crew or an inspector.")
    if plan.ends_at <= plan.starts_at:
        raise ActionRefused(
            f"The visit ends {clock(plan.ends_at)} and begins {clock(plan.starts_at)}. "
            "Enter an end after the beginning."
        )
    if plan.ends_at - plan.starts_at > LONGEST:
        hours = (plan.ends_at - plan.starts_at).total_seconds() / 3600
        raise ActionRefused(
            f"The visit takes {hours:.1f} hours; {LONGEST.total_seconds() / 3600:.0f} are the "
            "most. Book each day by itself."
        )
    _refuse_retired(plan)


def _refuse_retired(plan: Plan) -> None:
    day = timezone.localdate(plan.starts_at)
    things: Iterable[Instrument | Vehicle] = (
        *plan.instruments,
        *([plan.vehicle] if plan.vehicle else []),
    )
    for thing in things:
        if thing.retired_on is not None and thing.retired_on <= day:
            raise ActionRefused(f"{thing} is retired since {thing.retired_on}. Choose another.")


def _refuse_strangers(by: User) -> None:
    if not by.may_review:
        raise ActionRefused(
            f"The schedule is kept by office staff and managers. You are signed in as {by}, "
            f"{by.get_role_display().lower()}; ask the office."
        )


def _refuse_unknown(code: str) -> None:
    if code not in Rebooking.Code.values:
        raise ActionRefused(f"{code!r} is no reason on the list. Choose one from the list.")


def _refuse_over(visit: Visit) -> None:
    if visit.outcome:
        raise ActionRefused(
            f"{visit} is over: {visit.get_outcome_display().lower()}. Plan a new visit."
        )
    if visit.job.status in ENDED:
        raise ActionRefused(
            f"{visit.job} is {visit.job.get_status_display().lower()}; no visit is booked."
        )


def _refuse_taken(plan: Plan, booking: UUID | None) -> None:
    wanted = [claim.thing for claim in plan.claims()]
    taken = overlapping(wanted, plan.starts_at, plan.ends_at).exclude(booking=booking)
    rows = list(taken.select_related("booking__visit__job").order_by("name"))
    if not rows:
        return
    said = "; ".join(
        f"{claim.name} is at {claim.booking.visit.job} {moment(claim.starts_at)} to "
        f"{clock(claim.ends_at)}"
        for claim in rows
    )
    raise ActionRefused(f"{said}. Choose another time, or something that is free.")
