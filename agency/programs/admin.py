"""The agency, its grants, counties and fuel prices in the records pages."""

from django.contrib import admin
from simple_history.admin import SimpleHistoryAdmin

from .models import (
    Agency,
    BenefitProgram,
    County,
    FuelPrice,
    IncomeTest,
    Program,
    StateMedian,
)


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


@admin.register(IncomeTest)
class IncomeTestRecords(SimpleHistoryAdmin):
    """Income tests by grant and first day; a new test is a new row."""

    list_display = ("program", "basis", "percent", "effective_from", "effective_to", "source")
    list_select_related = ("program",)
    list_filter = ("program", "basis")


@admin.register(StateMedian)
class StateMedianRecords(SimpleHistoryAdmin):
    """State median incomes by state and first day."""

    list_display = ("state", "four_person", "effective_from", "effective_to", "source")


@admin.register(BenefitProgram)
class BenefitProgramRecords(SimpleHistoryAdmin):
    """Benefits that stand for an income test, by state and time."""

    list_display = ("name", "state", "window_months", "effective_from", "effective_to", "source")
    list_filter = ("state",)
