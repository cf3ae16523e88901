"""How the answer to a kept or refused record leaves: the same for all that phones send."""

from rest_framework import serializers
from rest_framework.response import Response

from agency.diagnostics.keeping import Answer


class FieldErrorSerializer(serializers.Serializer):
    """Why one field was refused and what to do next."""

    field = serializers.CharField()
    code = serializers.CharField()
    message = serializers.CharField()
    value = serializers.JSONField(required=False)
    limit = serializers.CharField(required=False, allow_null=True)
    next_step = serializers.CharField(required=False)


class AnswerSerializer(serializers.Serializer):
    """The answer to one record: stored with an id, or refused with reasons."""

    client_key = serializers.CharField(allow_null=True)
    status = serializers.ChoiceField(choices=["stored", "refused"])
    id = serializers.UUIDField(required=False)
    received_at = serializers.DateTimeField(required=False)
    looks_like = serializers.UUIDField(required=False, allow_null=True)
    errors = FieldErrorSerializer(many=True, required=False)  # type: ignore[assignment]


def respond(said: Answer) -> Response:
    """The answer, marked where it had been given before."""
    headers = {"Idempotent-Replay": "true"} if said.replay else {}
    return Response(said.body, status=said.status, headers=headers)
