"""Clients and crews in the records pages."""

from django.contrib import admin
from simple_history.admin import SimpleHistoryAdmin

from .models import Client, Credential, Crew, CrewMember


@admin.register(Client)
class ClientRecords(SimpleHistoryAdmin):
    """Household members."""

    list_display = ("name", "phone", "email", "language")
    search_fields = ("name", "phone", "email")


@admin.register(Crew)
class CrewRecords(SimpleHistoryAdmin):
    """Crews."""

    list_display = ("name",)
    search_fields = ("name",)


@admin.register(CrewMember)
class CrewMemberRecords(SimpleHistoryAdmin):
    """People of a crew."""

    list_display = ("name", "crew", "user")
    list_select_related = ("crew", "user")
    search_fields = ("name", "crew__name")


@admin.register(Credential)
class CredentialRecords(SimpleHistoryAdmin):
    """What people are certified for."""

    list_display = ("holder", "kind", "number", "issued_on", "expires_on", "revoked_on")
    list_select_related = ("member", "user")
    list_filter = ("kind",)
    search_fields = ("number", "member__name", "user__username")
