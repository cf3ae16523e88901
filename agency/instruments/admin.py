"""Gauges, fans and their certificates in the records pages."""

from django.contrib import admin
from simple_history.admin import SimpleHistoryAdmin

from .models import Calibration, FanEquation, Instrument


class EquationRows(admin.TabularInline):
    """Flow equations printed on the certificate."""

    model = FanEquation
    extra = 0


@admin.register(Instrument)
class InstrumentRecords(SimpleHistoryAdmin):
    """Devices with a serial number."""

    list_display = ("serial", "kind", "description", "crew", "retired_on")
    list_select_related = ("crew",)
    list_filter = ("kind", "crew")
    search_fields = ("serial", "description")


@admin.register(Calibration)
class CalibrationRecords(SimpleHistoryAdmin):
    """Certificates with their equations."""

    list_display = ("instrument", "calibrated_on", "due_on", "laboratory", "certificate_number")
    list_select_related = ("instrument",)
    search_fields = ("instrument__serial", "laboratory", "certificate_number")
    inlines = (EquationRows,)
