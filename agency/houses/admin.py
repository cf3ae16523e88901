"""Dwellings in the records pages."""

from django.contrib import admin
from simple_history.admin import SimpleHistoryAdmin

from .models import Building, EarlierWork, House, OwnerPermission


@admin.register(House)
class HouseRecords(SimpleHistoryAdmin):
    """Dwelling units."""

    list_display = ("address", "unit", "city", "county", "dwelling", "heating_fuel")
    list_select_related = ("county",)
    list_filter = ("county", "dwelling", "heating_fuel")
    search_fields = ("address", "city", "postal_code")


@admin.register(Building)
class BuildingRecords(SimpleHistoryAdmin):
    """Buildings of several units."""

    list_display = ("name", "address", "city", "units_total", "tested")
    search_fields = ("name", "address")


@admin.register(OwnerPermission)
class OwnerPermissionRecords(SimpleHistoryAdmin):
    """Owners' permissions."""

    list_display = ("house", "owner_name", "signed_on", "rent_held_until", "withdrawn_on")
    list_select_related = ("house",)
    autocomplete_fields = ("house",)


@admin.register(EarlierWork)
class EarlierWorkRecords(SimpleHistoryAdmin):
    """Work done before these records began."""

    list_display = ("address", "unit", "postal_code", "completed_on", "source")
    search_fields = ("address", "parcel")
