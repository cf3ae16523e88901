"""How long case files are kept, and their erasure."""

from django.apps import AppConfig


class RetentionConfig(AppConfig):
    """How long case files are kept, and their erasure."""

    name = "agency.retention"
    default_auto_field = "django.db.models.BigAutoField"
