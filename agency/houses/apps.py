"""Dwellings."""

from django.apps import AppConfig


class HousesConfig(AppConfig):
    """Dwellings."""

    name = "agency.houses"
    default_auto_field = "django.db.models.BigAutoField"
