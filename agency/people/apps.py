"""Clients and crews."""

from django.apps import AppConfig


class PeopleConfig(AppConfig):
    """Clients and crews."""

    name = "agency.people"
    default_auto_field = "django.db.models.BigAutoField"
