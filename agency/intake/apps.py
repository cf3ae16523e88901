"""Applications, determinations and the waiting list."""

from django.apps import AppConfig


class IntakeConfig(AppConfig):
    """Applications, determinations and the waiting list."""

    name = "agency.intake"
    default_auto_field = "django.db.models.BigAutoField"
