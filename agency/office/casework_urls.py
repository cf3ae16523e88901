"""Addresses of the schedule and of a job's way from state to state."""

from django.urls import path

from . import calendars, casework_verbs, follow_ups, letters, schedule, schedule_verbs

urlpatterns = [
    path("schedule", schedule.schedule, name="schedule"),
    path("schedule/day", schedule.schedule_day, name="schedule_day"),
    path("schedule/forecast", schedule_verbs.type_forecast, name="type_forecast"),
    path("schedule/calendars", calendars.calendars, name="calendars"),
    path("schedule/crews/<uuid:pk>/make", calendars.make_calendar, name="make_calendar"),
    path("schedule/crews/<uuid:pk>/revoke", calendars.revoke_calendar, name="revoke_calendar"),
    path("calendar/<str:key>.ics", calendars.calendar_feed, name="calendar_feed"),
    path("visits/<uuid:pk>/book", schedule_verbs.book, name="book_visit"),
    path("bookings/<uuid:pk>/move", schedule_verbs.move, name="move_booking"),
    path("bookings/<uuid:pk>/call-off", schedule_verbs.call_off, name="call_off_booking"),
    path("jobs/<uuid:pk>/take/<slug:step>", casework_verbs.take_step, name="take_step"),
    path("jobs/<uuid:pk>/record-proof", casework_verbs.record_proof, name="record_proof"),
    path("proofs/<uuid:pk>/withdraw", casework_verbs.withdraw_proof, name="withdraw_proof"),
    path("jobs/<uuid:pk>/plan-visit", casework_verbs.plan_visit, name="plan_visit"),
    path("jobs/<uuid:pk>/log-contact", casework_verbs.log_contact, name="log_contact"),
    path("jobs/<uuid:pk>/propose-deferral", casework_verbs.defer, name="propose_deferral"),
    path("deferrals", follow_ups.deferrals, name="deferrals"),
    path("deferrals/<uuid:pk>/decide", casework_verbs.decide_deferral, name="decide_deferral"),
    path("deferrals/<uuid:pk>/end", casework_verbs.end_deferral, name="end_deferral"),
    path("findings", follow_ups.findings, name="findings"),
    path("findings/<uuid:pk>/close", casework_verbs.close_finding, name="close_finding"),
    path("jobs/<uuid:pk>/ask-change", casework_verbs.ask_change, name="ask_change"),
    path("changes/<uuid:pk>/decide", casework_verbs.decide_change, name="decide_change"),
    path("jobs/<uuid:pk>/ask-reopening", casework_verbs.ask_reopening, name="ask_reopening"),
    path("reopenings/<uuid:pk>/decide", casework_verbs.decide_reopening, name="decide_reopening"),
    path("jobs/<uuid:pk>/make-letter", letters.make_letter, name="make_letter"),
    path("letters/<uuid:pk>/file", letters.letter_file, name="letter_file"),
    path("credentials", follow_ups.credentials, name="credentials"),
]
