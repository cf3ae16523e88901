"""The dated rule book."""

from django.apps import AppConfig


class RulebookConfig(AppConfig):
    """The dated rule book."""

    name = "agency.rulebook"
    default_auto_field = "django.db.models.BigAutoField"
