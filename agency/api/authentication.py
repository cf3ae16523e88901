"""Who is calling: a paired phone by its token."""

from typing import Any, cast

from knox.auth import TokenAuthentication
from rest_framework.exceptions import AuthenticationFailed
from rest_framework.request import Request

from agency.accounts.models import Device, User


class DeviceAuthentication(TokenAuthentication):
    """`Authorization: Token ...` of a paired phone; a revoked phone is told that it is."""

    def validate_user(self, auth_token: Any) -> tuple[Any, Any]:
        device = Device.objects.filter(token=auth_token).first()
        if device is None or device.is_revoked:
            raise AuthenticationFailed(
                "This phone is no longer paired. Keep the readings on it and call the office.",
                code="device_revoked",
            )
        auth_token.device = device
        return super().validate_user(auth_token)


def device_of(request: Request) -> Device:
    """The paired phone behind an authenticated request."""
    return cast(Device, getattr(request.auth, "device"))  # noqa: B009  knox's token is untyped


def person(request: Request) -> User:
    """Who is signed in; the permissions have turned everyone else away."""
    return cast(User, request.user)
