"""Letters in the records pages: read, never written."""

from django.contrib import admin

from agency.accounts.admin import LookOnly

from .models import Letter


@admin.register(Letter)
class LetterRecords(LookOnly):
    """Letters and forms that were made."""

    list_display = ("number", "kind", "language", "job", "made_at", "made_by")
    list_select_related = ("job", "made_by")
    list_filter = ("kind", "language")
    search_fields = ("number", "job__number")
