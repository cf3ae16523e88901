"""Phones: paired with a code from the office or a person's own sign-in, forgotten by the office."""

from typing import Any

from django.contrib.auth import authenticate
from django.core.cache import cache
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.exceptions import AuthenticationFailed, Throttled, ValidationError
from rest_framework.permissions import AllowAny
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from agency.accounts.models import CODE_LIFE, Device, PairingCode
from agency.people.models import CrewMember

MOST_WRONG_CODES = 20
"""From one address within the life of a code. Own choice: far more than anyone mistypes."""


class PairingSerializer(serializers.Serializer):
    """What a phone says to be paired: a code from the office, or name and password."""

    code = serializers.CharField(max_length=20, required=False)
    username = serializers.CharField(max_length=150, required=False)
    password = serializers.CharField(max_length=256, trim_whitespace=False, required=False)
    label = serializers.CharField(max_length=80)  # type: ignore[assignment]  # also Field's

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if ("code" in attrs) == ("username" in attrs and "password" in attrs):
            raise ValidationError("Send either a code, or a username and a password.")
        return attrs


class PairedSerializer(serializers.Serializer):
    """What it gets: the token is shown this once."""

    device = serializers.UUIDField()
    token = serializers.CharField()
    name = serializers.CharField()
    crew = serializers.CharField(allow_null=True)


class Devices(APIView):
    """Pair a phone."""

    authentication_classes = ()
    permission_classes = (AllowAny,)

    @extend_schema(request=PairingSerializer, responses={201: PairedSerializer})
    def post(self, request: Request) -> Response:
        """Trade a code or a sign-in for a token of this phone."""
        asked = PairingSerializer(data=request.data)
        asked.is_valid(raise_exception=True)
        words = asked.validated_data
        paired = _by_code if "code" in words else _by_password
        device, token = paired(request, words)
        member = CrewMember.objects.filter(user=device.user).select_related("crew").first()
        return Response(
            {
                "device": device.pk,
                "token": token,
                "name": str(device.user),
                "crew": member.crew.name if member else None,
            },
            status=201,
        )


def _by_code(request: Request, words: dict[str, str]) -> tuple[Device, str]:
    """Pair with a code; whoever guesses too often has to wait."""
    seconds = int(CODE_LIFE.total_seconds())
    counter = f"wrong-codes-{request.META.get('REMOTE_ADDR')}"
    wrong = cache.get(counter, 0)
    if wrong >= MOST_WRONG_CODES:
        raise Throttled(seconds, "Too many wrong codes came from here. Ask the office for help.")
    paired = PairingCode.redeem(words["code"], label=words["label"], now=timezone.now())
    if paired is None:
        cache.set(counter, wrong + 1, timeout=seconds)
        refusal = "This code is unknown, used, or too old. Ask the office for a new one."
        raise ValidationError({"code": [refusal]}, code="code_refused")
    return paired


def _by_password(request: Request, words: dict[str, str]) -> tuple[Device, str]:
    user = authenticate(request, username=words["username"], password=words["password"])
    if user is None:
        raise AuthenticationFailed(
            "This name and password do not fit. After ten wrong tries wait 15 minutes."
        )
    return Device.pair(user, words["label"])
