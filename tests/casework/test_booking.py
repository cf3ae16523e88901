"""Booking: nothing is at two places at once, and every refusal says what is where."""

import threading
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import timedelta

import pytest
from django.db import IntegrityError, connection, connections, transaction

from agency.casework import booking as bookings
from agency.casework.booking import Plan
from agency.errors import ActionRefused
from agency.instruments.models import Instrument
from agency.jobs.models import Booking, Claim, Rebooking
from agency.people.models import Crew
from tests import builders
from tests.casework_records import MONDAY, at, make_vehicle, make_visit

WANTED = 50
"""Who all want one slot at one moment."""


@pytest.fixture
def plan(cast):
    gauge = Instrument.objects.create(kind="gauge", serial="QG-014")
    return Plan(
        starts_at=at(MONDAY, 9),
        ends_at=at(MONDAY, 12),
        crew=cast.crew,
        vehicle=make_vehicle(),
        instruments=[gauge],
    )


def other(plan, cast, **changes):
    """The same hours with nothing of the first plan but what is named."""
    free = {"crew": cast.other_crew, "vehicle": None, "instruments": []}
    return replace(plan, **(free | changes))


def test_a_booking_holds_crew_vehicle_and_instruments(cast, make_job, plan):
    visit = make_visit(make_job())
    booking = bookings.book(visit.pk, cast.office, plan)
    held = {(claim.kind, claim.name) for claim in booking.claims.all()}
    assert held == {
        ("crew", "Crew Alder"),
        ("vehicle", "Van 1"),
        ("instrument", "Pressure gauge QG-014"),
    }
    visit.refresh_from_db()
    assert (visit.planned_on, visit.crew) == (MONDAY, cast.crew)


@pytest.mark.parametrize("thing", ["crew", "vehicle", "instruments"])
def test_a_thing_that_is_taken_is_refused_by_name_place_and_time(cast, make_job, plan, thing):
    first = make_visit(make_job())
    bookings.book(first.pk, cast.office, plan)
    taken = other(plan, cast, **{thing: getattr(plan, thing)})
    taken = replace(taken, starts_at=at(MONDAY, 11), ends_at=at(MONDAY, 14))
    with pytest.raises(ActionRefused) as refusal:
        bookings.book(make_visit(make_job()).pk, cast.office, taken)
    name = {"crew": "Crew Alder", "vehicle": "Van 1", "instruments": "Pressure gauge QG-014"}[thing]
    assert f"{name} is at {first.job}" in str(refusal.value)
    assert "Choose another time, or something that is free." in str(refusal.value)
    assert Booking.objects.count() == 1


def test_one_visit_may_begin_when_another_ends(cast, make_job, plan):
    bookings.book(make_visit(make_job()).pk, cast.office, plan)
    after = replace(plan, starts_at=plan.ends_at, ends_at=plan.ends_at + timedelta(hours=2))
    bookings.book(make_visit(make_job()).pk, cast.office, after)
    assert Booking.objects.standing().count() == 2


def test_a_visit_is_booked_once(cast, make_job, plan):
    visit = make_visit(make_job())
    bookings.book(visit.pk, cast.office, plan)
    later = replace(plan, starts_at=at(MONDAY, 14), ends_at=at(MONDAY, 16))
    with pytest.raises(ActionRefused, match="has a time already"):
        bookings.book(visit.pk, cast.office, later)


def test_a_move_frees_what_it_held_and_keeps_why(cast, make_job, plan):
    booking = bookings.book(make_visit(make_job()).pk, cast.office, plan)
    later = replace(plan, starts_at=at(MONDAY, 13), ends_at=at(MONDAY, 16))
    moved = bookings.move(booking.pk, cast.office, later, code="weather", said="Gusts.")
    (why,) = moved.rebookings.all()
    assert (why.code, why.words, why.by) == ("weather", "Gusts.", cast.office)
    assert (why.old_starts_at, why.new_starts_at) == (plan.starts_at, later.starts_at)
    assert moved.sequence == 1
    bookings.book(make_visit(make_job()).pk, cast.office, plan)


def test_a_move_may_overlap_its_own_old_time(cast, make_job, plan):
    booking = bookings.book(make_visit(make_job()).pk, cast.office, plan)
    half_hour = timedelta(minutes=30)
    shifted = replace(plan, starts_at=plan.starts_at + half_hour, ends_at=plan.ends_at + half_hour)
    bookings.move(booking.pk, cast.office, shifted, code="crew_short")
    booking.refresh_from_db()
    assert booking.starts_at == shifted.starts_at


def test_a_move_onto_something_taken_leaves_all_as_it_was(cast, make_job, plan):
    bookings.book(make_visit(make_job()).pk, cast.office, plan)
    later = replace(plan, starts_at=at(MONDAY, 13), ends_at=at(MONDAY, 16))
    second = bookings.book(make_visit(make_job()).pk, cast.office, later)
    with pytest.raises(ActionRefused, match="Crew Alder is at"):
        bookings.move(second.pk, cast.office, plan, code="weather")
    second.refresh_from_db()
    assert second.starts_at == later.starts_at
    assert second.claims.count() == 3
    assert not second.rebookings.exists()


def test_calling_off_frees_everything_and_leaves_the_visit(cast, make_job, plan):
    visit = make_visit(make_job())
    booking = bookings.book(visit.pk, cast.office, plan)
    bookings.call_off(booking.pk, cast.office, code="client_sick")
    assert not Claim.objects.exists()
    assert visit.bookings.standing().count() == 0
    bookings.book(visit.pk, cast.office, plan)
    with pytest.raises(ActionRefused, match="was called off"):
        bookings.call_off(booking.pk, cast.office, code="client_sick")


@pytest.mark.parametrize("code", Rebooking.Code.values)
def test_every_reason_of_the_list_moves_a_booking(cast, make_job, plan, code):
    booking = bookings.book(make_visit(make_job()).pk, cast.office, plan)
    later = replace(plan, starts_at=at(MONDAY, 13), ends_at=at(MONDAY, 16))
    assert bookings.move(booking.pk, cast.office, later, code=code).rebookings.get().code == code


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"crew": None}, "The booking names nobody. Choose a crew or an inspector."),
        ({"ends_at": at(MONDAY, 8)}, "Enter an end after the beginning."),
        ({"ends_at": at(MONDAY, 24)}, "The visit takes 15.0 hours; 14 are the most."),
    ],
)
def test_a_plan_that_cannot_be_is_refused(cast, make_job, plan, changes, words):
    with pytest.raises(ActionRefused, match=words):
        bookings.book(make_visit(make_job()).pk, cast.office, replace(plan, **changes))


def test_retired_things_are_not_booked(cast, make_job, plan):
    van = make_vehicle("Van 9", retired_on=MONDAY)
    with pytest.raises(ActionRefused, match="Van 9 is retired since 2026-11-23"):
        bookings.book(make_visit(make_job()).pk, cast.office, replace(plan, vehicle=van))


@pytest.mark.parametrize("role", ["crew_lead", "inspector"])
def test_the_schedule_is_kept_by_the_office(cast, make_job, plan, role):
    with pytest.raises(ActionRefused, match="The schedule is kept by office staff and managers"):
        bookings.book(make_visit(make_job()).pk, getattr(cast, role), plan)


def test_an_ended_job_or_visit_is_not_booked(cast, make_job, plan):
    with pytest.raises(ActionRefused, match="is withdrawn; no visit is booked"):
        bookings.book(make_visit(make_job(status="withdrawn")).pk, cast.office, plan)
    with pytest.raises(ActionRefused, match="is over: done"):
        bookings.book(make_visit(make_job(), outcome="done").pk, cast.office, plan)


def test_the_database_itself_refuses_two_claims_at_once(cast, make_job, plan):
    booking = bookings.book(make_visit(make_job()).pk, cast.office, plan)
    twin = Claim.to("crew", cast.crew)
    twin.booking, twin.starts_at, twin.ends_at = booking, at(MONDAY, 11), at(MONDAY, 14)
    with pytest.raises(IntegrityError), transaction.atomic():
        twin.save(force_insert=True)
    twin.starts_at = plan.ends_at
    twin.save(force_insert=True)
    with pytest.raises(IntegrityError), transaction.atomic():
        Claim.objects.filter(pk=twin.pk).update(starts_at=at(MONDAY, 11))


@pytest.mark.django_db(transaction=True, serialized_rollback=True)
def test_fifty_who_want_one_slot_get_it_once():
    """Real connections at one moment on PostgreSQL; one after the other on SQLite."""
    crews = [Crew.objects.create(name=f"Crew {number:02}") for number in range(WANTED)]
    office = builders.make_user("office", "odette")
    van = make_vehicle()
    gauge = Instrument.objects.create(kind="gauge", serial="QG-014")
    visits = [make_visit(builders.make_job(crew=crew)) for crew in crews]
    gate = threading.Barrier(WANTED) if connection.vendor == "postgresql" else None

    def want(number: int) -> str:
        plan = Plan(
            starts_at=at(MONDAY, 9),
            ends_at=at(MONDAY, 12),
            crew=crews[number],
            vehicle=van,
            instruments=[gauge],
        )
        try:
            if gate is not None:
                gate.wait(timeout=60)
            bookings.book(visits[number].pk, office, plan)
        except ActionRefused as refusal:
            return str(refusal)
        finally:
            if gate is not None:
                connections.close_all()
        return ""

    if gate is None:
        answers = [want(number) for number in range(WANTED)]
    else:
        with ThreadPoolExecutor(WANTED) as pool:
            answers = list(pool.map(want, range(WANTED)))
    assert answers.count("") == 1
    assert all("Van 1 is at Job" in said for said in answers if said)
    assert Booking.objects.count() == 1
    assert Claim.objects.count() == 3
