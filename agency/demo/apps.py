"""The invented agency used for trying things out."""

from django.apps import AppConfig


class DemoConfig(AppConfig):
    """The invented agency used for trying things out."""

    name = "agency.demo"
    default_auto_field = "django.db.models.BigAutoField"
