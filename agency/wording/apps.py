"""Registers the wording filters with Django."""

from django.apps import AppConfig


class WordingConfig(AppConfig):
    """Makes `{% load wording %}` available."""

    name = "agency.wording"
    label = "wording"
    default_auto_field = "django.db.models.BigAutoField"
