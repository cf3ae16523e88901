"""Certificates in the records pages: read, never written."""

from django.contrib import admin

from agency.accounts.admin import LookOnly

from .models import Certificate


@admin.register(Certificate)
class CertificateRecords(LookOnly):
    """Issued certificates."""

    list_display = ("number", "job", "issued_at", "replaces", "reason")
    list_select_related = ("job", "replaces")
    search_fields = ("number", "job__number")
    exclude = ("file",)
