"""Jobs, their history and visits."""

from django.apps import AppConfig


class JobsConfig(AppConfig):
    """Jobs, their history and visits."""

    name = "agency.jobs"
    default_auto_field = "django.db.models.BigAutoField"
