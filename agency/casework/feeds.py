"""A crew's bookings as an iCalendar file (RFC 5545), for the calendar of a phone or desk."""

from collections.abc import Iterable
from datetime import UTC

from icalendar import Calendar, Event, vText

from agency.jobs.bookings import Booking
from agency.people.models import Crew

PRODUCT = "-//Hearthledger//Crew schedule//EN"


def crew_calendar(crew: Crew, bookings: Iterable[Booking]) -> bytes:
    """Every booking as an event; no household's name or number leaves the office this way."""
    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    calendar.add("x-wr-calname", f"{crew} visits")
    for booking in bookings:
        calendar.add_component(_event(booking))
    written: bytes = calendar.to_ical()
    return written


def _event(booking: Booking) -> Event:
    job, house = booking.visit.job, booking.visit.job.house
    event = Event()
    event.add("uid", f"{booking.pk}@hearthledger")
    # The stamp is that of the booking, so that an unchanged calendar is the same file.
    event.add("dtstamp", booking.changed_at.astimezone(UTC))
    event.add("last-modified", booking.changed_at.astimezone(UTC))
    event.add("sequence", booking.sequence)
    event.add("dtstart", booking.starts_at.astimezone(UTC))
    event.add("dtend", booking.ends_at.astimezone(UTC))
    event.add("summary", f"{booking.visit.get_kind_display()}, {job.number}")
    event.add("location", vText(f"{house.one_line}, {house.state} {house.postal_code}"))
    event.add("description", _description(booking))
    event.add("status", "CANCELLED" if booking.cancelled_at else "CONFIRMED")
    return event


def _description(booking: Booking) -> str:
    lines = [f"Job {booking.visit.job.number}", f"By {booking.who}"]
    if booking.vehicle is not None:
        lines.append(f"Vehicle: {booking.vehicle}")
    if booking.instruments:
        lines.append("Instruments: " + ", ".join(map(str, booking.instruments)))
    return "\n".join(lines)
