"""The agency, its grants, counties and fuel prices in the records pages."""

from django.contrib import admin
from simple_history.admin import SimpleHistoryAdmin

from .models import Agency, County, FuelPrice, Program


@admin.register(Agency)
class AgencyRecords(SimpleHistoryAdmin):
    """The agency whose papers these are."""

    list_display = ("name", "phone", "address")


@admin.register(County)
class CountyRecords(admin.ModelAdmin):
    """Counties served."""

    list_display = ("code", "name")
    search_fields = ("code", "name")


@admin.register(Program)
class ProgramRecords(SimpleHistoryAdmin):
    """Grants with their periods."""

    list_display = ("name", "grant_number", "first_day", "last_day")
    search_fields = ("name", "grant_number")


@admin.register(FuelPrice)
class FuelPriceRecords(SimpleHistoryAdmin):
    """Prices by fuel and first day; a new price is a new row."""

    list_display = ("fuel", "price", "unit", "effective_from", "source")
    list_filter = ("fuel",)
