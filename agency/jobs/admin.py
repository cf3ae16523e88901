"""Jobs, their events, visits and safety stops in the records pages."""

from django.contrib import admin
from simple_history.admin import SimpleHistoryAdmin

from agency.accounts.admin import LookOnly

from .models import (
    Booking,
    ChangeOrder,
    ContactAttempt,
    Deferral,
    Finding,
    Inspection,
    Job,
    JobEvent,
    Proof,
    Reopening,
    SafetyStop,
    Vehicle,
    Visit,
)


@admin.register(Job)
class JobRecords(SimpleHistoryAdmin):
    """Jobs are opened here; their state changes only by the steps of the job page."""

    list_display = ("number", "client", "house", "crew", "status", "opened_on")
    list_select_related = ("client", "house", "crew")
    list_filter = ("status", "crew", "program")
    search_fields = ("number", "client__name", "house__address")
    autocomplete_fields = ("client", "house")
    readonly_fields = ("status", "inspection_passed_on", "approved_at")


@admin.register(JobEvent)
class JobEventRecords(LookOnly):
    """Changes of state, written by the steps themselves."""

    list_display = ("job", "at", "by", "role", "old", "new")
    list_select_related = ("job", "by")
    search_fields = ("job__number",)


@admin.register(Visit)
class VisitRecords(SimpleHistoryAdmin):
    """Trips to houses."""

    list_display = ("job", "kind", "planned_on", "crew", "inspector", "outcome")
    list_select_related = ("job", "crew", "inspector")
    list_filter = ("kind", "outcome", "crew")
    search_fields = ("job__number",)
    autocomplete_fields = ("job",)


@admin.register(SafetyStop)
class SafetyStopRecords(LookOnly):
    """Safety stops; they are acknowledged and cleared on the page of their job."""

    list_display = ("job", "hazard", "raised_at", "acknowledged_name", "cleared_by", "cleared_at")
    list_select_related = ("job", "cleared_by")
    list_filter = ("hazard",)
    search_fields = ("job__number", "words")


@admin.register(Vehicle)
class VehicleRecords(SimpleHistoryAdmin):
    """Vans and cars."""

    list_display = ("name", "crew", "retired_on")
    list_select_related = ("crew",)
    search_fields = ("name",)


@admin.register(
    Booking, Deferral, Finding, Inspection, Proof, ContactAttempt, ChangeOrder, Reopening
)
class WayRecords(LookOnly):
    """A job's way; each is written by its own steps at the desk."""
