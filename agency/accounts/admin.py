"""Log-ins and phones in the records pages."""

from typing import Any

from django.contrib import admin
from django.contrib.auth.admin import UserAdmin
from simple_history.admin import SimpleHistoryAdmin

from .models import Device, PairingCode, User


class LookOnly(admin.ModelAdmin):
    """Records that only their own steps may write: here they are read."""

    def has_add_permission(self, request: Any, obj: Any = None) -> bool:
        return False

    def has_change_permission(self, request: Any, obj: Any = None) -> bool:
        return False

    def has_delete_permission(self, request: Any, obj: Any = None) -> bool:
        return False


@admin.register(User)
class UserRecords(SimpleHistoryAdmin, UserAdmin):
    """Log-ins; a leaver is made inactive, never deleted."""

    list_display = ("username", "first_name", "last_name", "role", "is_active")
    list_filter = ("role", "is_active")
    search_fields = ("username", "first_name", "last_name", "email")
    fieldsets = (*(UserAdmin.fieldsets or ()), ("Role", {"fields": ("role",)}))
    add_fieldsets = (*UserAdmin.add_fieldsets, ("Role", {"fields": ("email", "role")}))


@admin.register(Device)
class DeviceRecords(LookOnly):
    """Phones; they are paired and revoked on the desk's page of phones."""

    list_display = ("label", "user", "paired_at", "revoked_at")
    list_select_related = ("user",)
    search_fields = ("label", "user__username")
    exclude = ("token",)


@admin.register(PairingCode)
class PairingCodeRecords(LookOnly):
    """Codes handed out to pair a phone; the codes themselves are not kept."""

    list_display = ("user", "made_by", "expires_at", "used_at", "device")
    list_select_related = ("user", "made_by", "device__user")
    exclude = ("code_hash",)
