"""Phones: paired with a person's own sign-in, forgotten by the office."""

from django.contrib.auth import authenticate
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.exceptions import AuthenticationFailed
from rest_framework.permissions import AllowAny
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from agency.accounts.models import Device


class PairingSerializer(serializers.Serializer):
    """What a phone says to be paired."""

    username = serializers.CharField(max_length=150)
    password = serializers.CharField(max_length=256, trim_whitespace=False)
    label = serializers.CharField(max_length=80)  # type: ignore[assignment]  # also Field's


class PairedSerializer(serializers.Serializer):
    """What it gets: the token is shown this once."""

    device = serializers.UUIDField()
    token = serializers.CharField()


class Devices(APIView):
    """Pair a phone."""

    authentication_classes = ()
    permission_classes = (AllowAny,)

    @extend_schema(request=PairingSerializer, responses={201: PairedSerializer})
    def post(self, request: Request) -> Response:
        """Trade a sign-in for a token of this phone."""
        asked = PairingSerializer(data=request.data)
        asked.is_valid(raise_exception=True)
        words = asked.validated_data
        user = authenticate(request, username=words["username"], password=words["password"])
        if user is None:
            raise AuthenticationFailed(
                "This name and password do not fit. After ten wrong tries wait 15 minutes."
            )
        device, token = Device.pair(user, words["label"])
        return Response({"device": device.pk, "token": token}, status=201)
