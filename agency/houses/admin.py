"""Dwellings in the records pages."""

from django.contrib import admin
from simple_history.admin import SimpleHistoryAdmin

from .models import House


@admin.register(House)
class HouseRecords(SimpleHistoryAdmin):
    """Dwelling units."""

    list_display = ("address", "unit", "city", "county", "dwelling", "heating_fuel")
    list_select_related = ("county",)
    list_filter = ("county", "dwelling", "heating_fuel")
    search_fields = ("address", "city", "postal_code")
