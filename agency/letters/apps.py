"""Letters and forms on a job's way."""

from django.apps import AppConfig


class LettersConfig(AppConfig):
    """Letters and forms on a job's way."""

    name = "agency.letters"
    default_auto_field = "django.db.models.BigAutoField"
