"""What is handed to the funder: reports, locked quarters, and files to take away."""

from django.apps import AppConfig


class ReportsConfig(AppConfig):
    """Reports, locked quarters and exports."""

    name = "agency.reports"
    default_auto_field = "django.db.models.BigAutoField"
