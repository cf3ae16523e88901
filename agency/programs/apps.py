"""The agency, its grants, counties and fuel prices."""

from django.apps import AppConfig


class ProgramsConfig(AppConfig):
    """The agency, its grants, counties and fuel prices."""

    name = "agency.programs"
    default_auto_field = "django.db.models.BigAutoField"
