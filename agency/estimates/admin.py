"""Weather years and savings estimates in the records pages."""

from django.contrib import admin
from simple_history.admin import SimpleHistoryAdmin

from agency.accounts.admin import LookOnly

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
