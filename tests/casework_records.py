"""Records of a job's way for tests: vehicles, bookings, deferrals, findings and the rest."""

from datetime import UTC, date, datetime, timedelta
from typing import Any

from agency.accounts.models import User
from agency.jobs.models import (
    Booking,
    CalendarAddress,
    ChangeOrder,
    Claim,
    Deferral,
    Finding,
    Job,
    Proof,
    Reopening,
    Vehicle,
    Visit,
)
from agency.letters.models import Letter

MONDAY = date(2026, 11, 23)


def at(day: date, hour: int, minute: int = 0) -> datetime:
    """An hour of the office's winter: Quillmoor keeps US Central time, UTC-6."""
    midnight = datetime(day.year, day.month, day.day, tzinfo=UTC)
    return midnight + timedelta(hours=hour + 6, minutes=minute)


def make_vehicle(name: str = "Van 1", **changes: Any) -> Vehicle:
    """A van."""
    return Vehicle.objects.create(name=name, **changes)


def make_visit(job: Job, kind: str = "work", on: date = MONDAY, **changes: Any) -> Visit:
    """A visit to be made by the job's crew."""
    values = {"crew": job.crew} | changes
    return Visit.objects.create(job=job, kind=kind, planned_on=on, **values)


def make_booking(visit: Visit, by: User, *, hour: int = 9, hours: int = 3) -> Booking:
    """A booking with its claims, made without the workflow."""
    booking = Booking.objects.create(
        visit=visit,
        crew=visit.crew,
        starts_at=at(visit.planned_on, hour),
        ends_at=at(visit.planned_on, hour + hours),
        booked_by=by,
    )
    if visit.crew is not None:
        booking.claim([Claim.to(Claim.Kind.CREW, visit.crew)])
    return booking


def make_deferral(job: Job, by: User, **changes: Any) -> Deferral:
    """A deferral as an auditor proposes it."""
    values: dict[str, Any] = {
        "reasons": ["moisture", "electrical"],
        "words": "The roof leaks over the bathroom; wires lie bare in the attic.",
        "cure": "A roofer mends the roof. An electrician covers the wires.",
        "referral": "County repair fund, 555-0188.",
        "notice_given_on": date(2026, 11, 20),
        "language": "en",
        "review_on": date(2027, 2, 1),
    }
    return Deferral.objects.create(job=job, proposed_by=by, **(values | changes))


def make_finding(job: Job, by: User, **changes: Any) -> Finding:
    """An open finding."""
    values = {"severity": "major", "words": "Attic hatch is not sealed."} | changes
    return Finding.objects.create(job=job, found_by=by, **values)


def make_proof(job: Job, by: User, piece: str, **changes: Any) -> Proof:
    """A piece of evidence on file."""
    values: dict[str, Any] = {"words": "In the file.", "dated_on": date(2026, 11, 1)}
    return Proof.objects.create(job=job, by=by, piece=piece, **(values | changes))


def make_letter(job: Job, by: User, kind: str = "permission", **figures: Any) -> Letter:
    """A letter with what every letter tells."""
    told = {
        "agency": {
            "name": "Quillmoor County Home Energy Office",
            "address": "12 Assembly Row, Tarn Hollow, QM 00155",
            "phone": "555-0100",
            "complaint_route": "Write to the board at the same address.",
        },
        "home": {"street": "27 Larkspur Lane", "place": "Tarn Hollow, QM 00155"},
        "client": "Odalys Fenwright",
        "job": job.number,
        "number": f"{job.number}-L{job.letters.count() + 1}",
        "written_on": "2026-11-25",
        "paper": "letter",
    }
    return Letter.objects.create(
        job=job,
        kind=kind,
        language=figures.pop("language", "en"),
        number=told["number"],
        figures=told | figures,
        made_by=by,
    )


def one_of_each(job: Job, run: Any, cast: Any) -> dict[str, Any]:
    """One record for every address of a job's way, by its place in the address."""
    return {
        "bookings": make_booking(make_visit(job), cast.office),
        "proofs": make_proof(job, cast.office, "materials"),
        "deferrals": make_deferral(job, cast.inspector),
        "findings": make_finding(job, cast.inspector),
        "changes": ChangeOrder.objects.create(job=job, asked_by=cast.office, words="Add a fan."),
        "reopenings": Reopening.objects.create(
            job=job, asked_by=cast.office, reason="Wrong crew.", goal="inspection_passed"
        ),
        "crews": cast.crew,
        "letters": make_letter(job, cast.office),
        "confirmations": run.confirmations.create(
            code="size.large", by=cast.inspector, reason="Measured twice."
        ),
    }


def make_address(cast: Any) -> str:
    """The key of a living calendar address of the crew."""
    return CalendarAddress.make(cast.crew, made_by=cast.office, now=datetime.now(UTC))
