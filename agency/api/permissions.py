"""Three named rules, combined with & and |."""

from rest_framework.permissions import BasePermission
from rest_framework.request import Request
from rest_framework.views import APIView

from agency.accounts.models import Device


class IsPairedPhone(BasePermission):
    """Sent by a paired phone, not by a browser session."""

    message = "Only a paired phone sends test runs. Pair it first at devices/."

    def has_permission(self, request: Request, view: APIView) -> bool:
        return isinstance(getattr(request.auth, "device", None), Device)


class WorksAtDesk(BasePermission):
    """Everyone but crews."""

    message = "Reports are for office staff and managers."

    def has_permission(self, request: Request, view: APIView) -> bool:
        return bool(request.user.is_authenticated and request.user.works_at_desk)


class ReadOnly(BasePermission):
    """Looking is harmless."""

    def has_permission(self, request: Request, view: APIView) -> bool:
        return request.method in {"GET", "HEAD", "OPTIONS"}
