"""Test runs and their results."""

from django.apps import AppConfig


class DiagnosticsConfig(AppConfig):
    """Test runs and their results."""

    name = "agency.diagnostics"
    default_auto_field = "django.db.models.BigAutoField"
