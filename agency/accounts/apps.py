"""Log-ins, roles and paired phones."""

from django.apps import AppConfig


class AccountsConfig(AppConfig):
    """Log-ins, roles and paired phones."""

    name = "agency.accounts"
    default_auto_field = "django.db.models.BigAutoField"
