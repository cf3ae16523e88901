"""Papers handed to the client."""

from django.apps import AppConfig


class CertificatesConfig(AppConfig):
    """Papers handed to the client."""

    name = "agency.certificates"
    default_auto_field = "django.db.models.BigAutoField"
