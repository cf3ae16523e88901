"""Certificates and hand-overs in the records pages: read, never written."""

from django.contrib import admin

from agency.accounts.admin import LookOnly

from .models import Certificate, Handover


@admin.register(Certificate)
class CertificateRecords(LookOnly):
    """Issued certificates."""

    list_display = ("number", "position", "job", "issued_at", "replaces", "reason")
    list_select_related = ("job", "replaces")
    search_fields = ("number", "job__number")
    exclude = ("file",)


@admin.register(Handover)
class HandoverRecords(LookOnly):
    """What households are told beside their tests."""

    list_display = ("job", "written_by", "written_at")
    list_select_related = ("job", "written_by")
    search_fields = ("job__number",)
