"""Work promised to the workers."""

from django.apps import AppConfig


class OutboxConfig(AppConfig):
    """Work promised to the workers."""

    name = "agency.outbox"
    default_auto_field = "django.db.models.BigAutoField"
