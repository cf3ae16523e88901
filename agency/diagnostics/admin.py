"""Test runs and what was made of them in the records pages: read, never written."""

from django.contrib import admin
from simple_history.admin import SimpleHistoryAdmin

from agency.accounts.admin import LookOnly

from .excepting import InstrumentException
from .models import Comparison, Confirmation, RefusedUpload, Result, TestRun
from .photos import Photo
from .requiring import RequiredTest
from .visit_reports import VisitReport


@admin.register(TestRun)
class TestRunRecords(LookOnly):
    """Uploaded tests."""

    list_display = ("job", "phase", "method", "taken_at", "received_at", "review")
    list_select_related = ("job",)
    list_filter = ("review", "phase", "method")
    search_fields = ("job__number", "operator")


@admin.register(Result)
class ResultRecords(LookOnly):
    """Stored results."""

    list_display = ("test_run", "method", "edition", "maths_version", "verdict", "computed_at")
    list_select_related = ("test_run__job",)
    list_filter = ("verdict", "maths_version")
    search_fields = ("test_run__job__number",)


@admin.register(Confirmation)
class ConfirmationRecords(LookOnly):
    """Odd values someone stands for."""

    list_display = ("test_run", "code", "by", "at")
    list_select_related = ("test_run__job", "by")


@admin.register(Comparison)
class ComparisonRecords(LookOnly):
    """Before against after."""

    list_display = ("job", "verdict", "reduction", "maths_version", "computed_at")
    list_select_related = ("job",)
    list_filter = ("verdict",)
    search_fields = ("job__number",)


@admin.register(RefusedUpload)
class RefusedUploadRecords(LookOnly):
    """What could not be stored."""

    list_display = ("device", "received_at", "client_key")
    list_select_related = ("device__user",)


@admin.register(InstrumentException)
class InstrumentExceptionRecords(LookOnly):
    """Readings in doubt that someone lets stand."""

    list_display = ("instrument", "cause", "test_run", "from_day", "to_day", "by", "at")
    list_select_related = ("instrument", "test_run__job", "by")
    search_fields = ("instrument__serial", "reason")


@admin.register(VisitReport)
class VisitReportRecords(LookOnly):
    """How visits went, as their crews sent it."""

    list_display = ("visit", "arrived_at", "left_at", "not_safe", "sent_by", "received_at")
    list_select_related = ("visit__job", "sent_by")
    search_fields = ("visit__job__number",)


@admin.register(RequiredTest)
class RequiredTestRecords(SimpleHistoryAdmin):
    """What each programme asks for on each kind of visit."""

    list_display = ("program", "visit_kind", "place", "kind", "method")
    list_select_related = ("program",)
    list_filter = ("visit_kind", "kind")
    search_fields = ("program__name", "program__grant_number")


@admin.register(Photo)
class PhotoRecords(LookOnly):
    """Photos; the pictures are shown on the page of their job."""

    list_display = ("job", "caption", "taken_at", "sent_by", "width", "height", "bytes")
    list_select_related = ("job", "sent_by")
    search_fields = ("job__number", "caption")
    exclude = ("file", "small")
