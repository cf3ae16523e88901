"""Gauges, fans and their certificates in the records pages."""

from typing import Any

from django.contrib import admin
from simple_history.admin import SimpleHistoryAdmin

from agency.wording.words import INCH_OF_WATER

from .models import Calibration, FanEquation, Instrument

PRESSURES = {"lowest_pressure", "highest_pressure", "accuracy_pa", "resolution_pa"}


class BothUnits:
    """Each pressure typed in Pa stands in inches of water beside it."""

    class Media:
        js = ("js/pressure.js",)

    def formfield_for_dbfield(self, db_field: Any, request: Any, **kwargs: Any) -> Any:
        """The usual field, marked when it takes a pressure."""
        field = super().formfield_for_dbfield(db_field, request, **kwargs)  # type: ignore[misc]
        if db_field.name in PRESSURES:
            field.widget.attrs["data-pressure"] = INCH_OF_WATER
        return field


class EquationRows(BothUnits, admin.TabularInline):
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
class CalibrationRecords(BothUnits, SimpleHistoryAdmin):
    """Certificates with their equations."""

    list_display = ("instrument", "calibrated_on", "due_on", "laboratory", "certificate_number")
    list_select_related = ("instrument",)
    search_fields = ("instrument__serial", "laboratory", "certificate_number")
    inlines = (EquationRows,)
