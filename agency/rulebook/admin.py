"""The rule book in the records pages."""

from django.contrib import admin
from simple_history.admin import SimpleHistoryAdmin

from .models import Rule


@admin.register(Rule)
class RuleRecords(SimpleHistoryAdmin):
    """Dated thresholds; a corrected number is a new row with a new first day."""

    list_display = (
        "code",
        "operator",
        "limit",
        "low",
        "high",
        "unit",
        "severity",
        "provenance",
        "effective_from",
    )
    list_filter = ("severity", "provenance", "standard")
    search_fields = ("code", "quantity", "standard", "clause", "source")
