"""Savings estimates."""

from django.apps import AppConfig


class EstimatesConfig(AppConfig):
    """Savings estimates."""

    name = "agency.estimates"
    default_auto_field = "django.db.models.BigAutoField"
