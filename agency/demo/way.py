"""Credentials, vehicles, bookings, deferrals and findings of the invented agency."""

from collections import Counter
from collections.abc import Iterable
from datetime import date, timedelta

import numpy as np

from agency.accounts.models import User
from agency.houses.models import House
from agency.jobs.models import (
    Booking,
    Claim,
    ContactAttempt,
    Deferral,
    Finding,
    Forecast,
    Job,
    Proof,
    Vehicle,
    Visit,
)
from agency.people.models import Client, Credential, Crew, CrewMember
from agency.programs.models import Program

from . import people
from .histories import Life, Staff
from .homes import invent_home
from .registers import fixed_id, local_time

FIRST_NUMBER = 8000
"""Numbers of the jobs made here, far from those of the stories."""
EARLY = (
    # status, what is on file already
    (Job.Status.APPLICATION, ()),
    (Job.Status.APPLICATION, ("determination",)),
    (Job.Status.WAITLISTED, ("determination", "priority", "owner_permission")),
    (Job.Status.AUDIT_REVIEW, ("measures", "costs_by_fund", "client_signature")),
    (Job.Status.AUDIT_REVIEW, ()),
    (Job.Status.AUDIT_REVIEW, ()),
    (Job.Status.WORK_ORDERED, ("materials", "pamphlet")),
    (Job.Status.AUDIT_REVIEW, ()),
    (Job.Status.INFO_NEEDED, ()),
    (Job.Status.AUDIT_IN_PROGRESS, ("arrival", "consent")),
    (Job.Status.APPLICATION, ()),
    (Job.Status.WAITLISTED, ()),
)
DENIED, CANCELLED = 10, 11
"""Rows of EARLY that come to nothing."""
PROPOSED = 7
"""Row of EARLY whose deferral still waits for the manager."""
SAID = {
    "determination": "Income papers of three months; household of 3, under the limit.",
    "priority": "46 points: child under 6, high energy burden.",
    "owner_permission": "The household owns the home; deed seen.",
    "measures": "Air sealing to 1,900 cfm\nAttic insulation to R-49\nBath fan, 50 cfm",
    "costs_by_fund": "Grant: $3,150; repair fund: $420",
    "client_signature": "Signed work order in the file.",
    "materials": "Cellulose and foam are in the store.",
    "pamphlet": "Given by hand at the audit.",
    "arrival": "9:05 AM, cards shown at the door.",
    "consent": "Signed on the phone's form.",
}
DEFERRALS = (
    # row of EARLY, reasons, found, cure, days until the review
    (4, ["moisture", "structure"], "The roof leaks over the back bedroom; the ceiling sags.",
     "A roofer mends the roof and the ceiling dries.", -3),
    (5, ["electrical"], "Bare wires lie in the attic beside the hatch.",
     "An electrician encloses the wires.", 40),
    (7, ["pests"], "Squirrels nest in the attic insulation.",
     "A pest service clears the attic; the owner closes the hole in the eave.", 60),
)  # fmt: skip
SLOTS = ((8, 30, 3.5), (12, 45, 3.0), (16, 15, 2.0))
"""Begin by hour and minute, and hours, of a crew's first, second and third visit of a day."""
LOOK_AHEAD = timedelta(days=13)


def write_way(lives: list[Life], staff: Staff, grants: list[Program], *, today: date) -> None:
    """All that a week board, a gate and the follow-up lists show."""
    _credentials(staff, today)
    vans = _vehicles()
    _findings(lives, staff)
    early = [_early_job(place, status, grants, today) for place, (status, _) in enumerate(EARLY)]
    for job, (_, pieces) in zip(early, EARLY, strict=True):
        _proofs(job, pieces, staff.office, today)
    for row in DEFERRALS:
        _deferral(early[row[0]], row, staff, today)
    early[DENIED].deny(staff.office, "Income above the limit; letter with the way to appeal.")
    early[CANCELLED].cancel(staff.manager, "Three attempts by telephone and letter, no answer.")
    waiting = Job.objects.filter(status=Job.Status.TESTED_OUT).order_by("number").first()
    if waiting is not None:
        waiting.schedule_inspection(staff.office)
        _date_last_event(waiting, today)
    for job in early:
        _date_last_event(job, today)
    _early_visits(early, today)
    _bookings(vans, staff.office, today)
    _forecasts(staff.office, today)


def _credentials(staff: Staff, today: date) -> None:
    """Each crew's first member audits and leads; one certificate ends within the month."""
    rows: list[tuple[str, CrewMember | None, User | None, str, int]] = [
        ("inspector", None, staff.inspector, Credential.Kind.INSPECTOR, 410)
    ]
    for place, members in enumerate(people.CREWS.values()):
        first = CrewMember.objects.get(pk=fixed_id("member", members[0]))
        rows += [
            (members[0], first, None, Credential.Kind.AUDITOR, 300 + 50 * place),
            (members[0], first, None, Credential.Kind.CREW_LEADER, 300 + 50 * place),
            (members[0], first, None, Credential.Kind.RENOVATOR, 20 + 200 * place),
        ]
    for number, (name, member, user, kind, days) in enumerate(rows):
        Credential.objects.create(
            id=fixed_id("credential", name, kind),
            member=member,
            user=user,
            kind=kind,
            number=f"QM-{4100 + number}",
            issued_on=today - timedelta(days=900),
            expires_on=today + timedelta(days=days),
        )


def _vehicles() -> dict[str, Vehicle]:
    """A van for each crew."""
    return {
        crew: Vehicle.objects.create(
            id=fixed_id("vehicle", crew), name=f"Van {number}", crew_id=fixed_id("crew", crew)
        )
        for number, crew in enumerate(people.CREWS, start=1)
    }


def _findings(lives: Iterable[Life], staff: Staff) -> None:
    """Both findings of a failed inspection; the first is closed where the crew came back."""
    for life in lives:
        if not life.story.failed_on:
            continue
        for place, said in enumerate(life.story.finding.rstrip(".").split("; ")):
            finding = Finding.objects.create(
                id=fixed_id("finding", life.story.number, place),
                job=life.job,
                severity=Finding.Severity.MAJOR if place else Finding.Severity.MINOR,
                words=f"{said[:1].upper()}{said[1:]}.",
                found_by=staff.inspector,
                found_at=local_time(life.story.failed_on, hour=15),
            )
            if life.story.inspected_on or place == 0:
                finding.close(staff.office, "Put right by the crew; photo in the file.")


def _early_job(place: int, status: str, grants: list[Program], today: date) -> Job:
    number = FIRST_NUMBER + place
    home = invent_home(np.random.default_rng([2026, number]), number=number)
    house = House.objects.create(
        id=fixed_id("house", number), state=people.STATE, county_id=home.county, **home.record
    )
    name = people.CLIENTS[number % len(people.CLIENTS)]
    client = Client.objects.create(
        id=fixed_id("client", number),
        name=name,
        phone=f"555-01{number % 90 + 10:02}",
        language="es" if name in people.SPANISH_SPEAKERS else "en",
    )
    opened = today - timedelta(days=20 + place)
    return Job.objects.create(
        id=fixed_id("job", number),
        number=f"QC-{opened:%y}-{number}",
        house=house,
        client=client,
        crew_id=fixed_id("crew", list(people.CREWS)[place % len(people.CREWS)]),
        program=grants[-1],
        opened_on=opened,
        status=status,
    )


def _proofs(job: Job, pieces: Iterable[str], by: User, today: date) -> None:
    for piece in pieces:
        Proof.objects.create(
            id=fixed_id("proof", job.number, piece),
            job=job,
            piece=piece,
            words=SAID[piece],
            dated_on=today - timedelta(days=6),
            by=by,
        )


def _deferral(
    job: Job, row: tuple[int, list[str], str, str, int], staff: Staff, today: date
) -> None:
    """Proposed by the inspector, approved by the manager but for the newest."""
    _, reasons, found, cure, days = row
    deferral = Deferral.objects.create(
        id=fixed_id("deferral", job.number),
        job=job,
        reasons=reasons,
        words=found,
        cure=cure,
        referral="County repair fund, 555-0188.",
        notice_given_on=today - timedelta(days=10),
        language=job.client.language,
        review_on=today + timedelta(days=days),
        proposed_by=staff.inspector,
    )
    if row[0] == PROPOSED:
        return
    deferral.decide(staff.manager, as_approved=True)
    job.defer(staff.manager, deferral.reason_words)
    ContactAttempt.objects.create(
        id=fixed_id("contact", job.number),
        job=job,
        by=staff.office,
        channel=ContactAttempt.Channel.PHONE,
        outcome=ContactAttempt.Outcome.REACHED,
        language=job.client.language,
        with_interpreter=job.client.language != "en",
        summary="Told why the work waits, and whom to call for help.",
        at=local_time(today - timedelta(days=10), hour=14),
    )


def _date_last_event(job: Job, today: date) -> None:
    """Written just now, it happened the day before yesterday."""
    newest = job.events.order_by("-at", "-id").first()
    if newest is not None:
        job.events.filter(pk=newest.pk).update(at=local_time(today - timedelta(days=2), hour=15))


def _early_visits(jobs: list[Job], today: date) -> None:
    """A test-in for the waiting list, a working day for what is ordered."""
    for job in jobs:
        kind = {"waitlisted": Visit.Kind.TEST_IN, "work_ordered": Visit.Kind.WORK}.get(job.status)
        if kind is not None:
            Visit.objects.create(
                id=fixed_id("visit", job.number),
                job=job,
                kind=kind,
                planned_on=today + timedelta(days=6),
                crew=job.crew,
            )


def _bookings(vans: dict[str, Vehicle], by: User, today: date) -> None:
    """Most visits of this week and the next have their time; every fifth still waits for one."""
    last = today + LOOK_AHEAD
    visits = Visit.objects.filter(planned_on__range=(today - timedelta(days=4), last), outcome="")
    on_the_day: Counter[tuple[object, date]] = Counter()
    for place, visit in enumerate(visits.select_related("crew", "inspector").order_by("id")):
        who = visit.crew or visit.inspector
        if place % 5 == 4 or who is None:
            continue
        slot = on_the_day[who.pk, visit.planned_on]
        if slot == len(SLOTS):
            continue
        on_the_day[who.pk, visit.planned_on] += 1
        _booking(visit, slot, vans, by)


def _booking(visit: Visit, slot: int, vans: dict[str, Vehicle], by: User) -> None:
    hour, minute, hours = SLOTS[slot]
    starts_at = local_time(visit.planned_on, hour=hour, minute=minute)
    crew: Crew | None = visit.crew
    van = vans[crew.name] if crew else None
    booking = Booking.objects.create(
        id=fixed_id("booking", str(visit.pk)),
        visit=visit,
        crew=crew,
        inspector=None if crew else visit.inspector,
        vehicle=van,
        starts_at=starts_at,
        ends_at=starts_at + timedelta(hours=hours),
        booked_by=by,
        booked_at=local_time(visit.planned_on - timedelta(days=6), hour=11),
    )
    claims = [] if crew is None else [Claim.to("crew", crew), Claim.to("vehicle", van)]
    if crew is None:
        claims.append(Claim.to("inspector", visit.inspector))
    elif visit.kind != Visit.Kind.WORK:
        kit = crew.instruments.filter(retired_on=None)
        claims += [Claim.to("instrument", one) for one in kit]
    booking.claim(claims)


def _forecasts(by: User, today: date) -> None:
    """A calm day, a gusty one, and no word of the rest."""
    for days, wind, low, high in ((0, 6.0, 31.0, 47.0), (1, 24.0, 28.0, 40.0)):
        Forecast.objects.create(
            id=fixed_id("forecast", days),
            day=today + timedelta(days=days),
            wind_mph=wind,
            low_f=low,
            high_f=high,
            source="County weather service, typed at 7 AM",
            typed_by=by,
        )
