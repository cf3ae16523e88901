"""Promised work in the records pages: read, never written."""

from typing import Any

from django.contrib import admin

from .models import Errand


@admin.register(Errand)
class ErrandRecords(admin.ModelAdmin):
    """Work for the workers."""

    list_display = ("task", "subject", "state", "attempts", "created_at", "finished_at")
    list_filter = ("state", "task")

    def has_add_permission(self, request: Any, obj: Any = None) -> bool:
        return False

    def has_change_permission(self, request: Any, obj: Any = None) -> bool:
        return False

    def has_delete_permission(self, request: Any, obj: Any = None) -> bool:
        return False
