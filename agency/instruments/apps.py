"""Gauges and fans with their calibrations."""

from django.apps import AppConfig


class InstrumentsConfig(AppConfig):
    """Gauges and fans with their calibrations."""

    name = "agency.instruments"
    default_auto_field = "django.db.models.BigAutoField"
