"""Weather years and savings estimates in the records pages."""

from django.contrib import admin
from simple_history.admin import SimpleHistoryAdmin

from agency.accounts.admin import LookOnly

from .bill_studies import BillAnalysis, BillStudy, NonRoutineChange, ProgramRealization
from .billing import BillFile, UtilityAccount
from .models import SavingsEstimate, WeatherStation


@admin.register(WeatherStation)
class WeatherStationRecords(SimpleHistoryAdmin):
    """Typical-year weather files and the counties they stand for."""

    list_display = ("name", "format")
    search_fields = ("name",)
    filter_horizontal = ("counties",)


@admin.register(SavingsEstimate)
class SavingsEstimateRecords(LookOnly):
    """Stored estimates."""

    list_display = ("job", "method", "edition", "maths_version", "computed_at")
    list_select_related = ("job",)
    search_fields = ("job__number",)


@admin.register(UtilityAccount)
class UtilityAccountRecords(LookOnly):
    """Accounts; they are opened on the page of a job's bills."""

    list_display = ("house", "fuel", "opened_by", "opened_at")
    list_select_related = ("house", "opened_by")
    search_fields = ("house__address",)


@admin.register(BillFile)
class BillFileRecords(LookOnly):
    """Bill files kept as they came."""

    list_display = ("name", "account", "sent_by", "sent_at", "imported_at", "undone_at")
    list_select_related = ("account", "sent_by")
    search_fields = ("name", "sha256")


@admin.register(BillStudy)
class BillStudyRecords(LookOnly):
    """Whose bills are measured, and by which model."""

    list_display = ("job", "account", "model", "asked_by", "asked_at")
    list_select_related = ("job", "account", "asked_by")
    search_fields = ("job__number",)


@admin.register(BillAnalysis)
class BillAnalysisRecords(LookOnly):
    """Stored analyses of bills."""

    list_display = ("study", "method", "maths_version", "computed_at")
    list_select_related = ("study__job", "study__account")
    search_fields = ("study__job__number",)


@admin.register(NonRoutineChange)
class NonRoutineChangeRecords(LookOnly):
    """What else changed in a house."""

    list_display = ("job", "kind", "since", "noted_by", "confirmed_by")
    list_select_related = ("job", "noted_by", "confirmed_by")
    search_fields = ("job__number", "note")


@admin.register(ProgramRealization)
class ProgramRealizationRecords(LookOnly):
    """Stored rates of what grants realized."""

    list_display = ("program", "maths_version", "computed_at")
    list_select_related = ("program",)
