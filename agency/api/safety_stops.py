"""Safety stops: read by the crew they hold up and by staff; acknowledged by name."""

from datetime import datetime
from typing import Any

from django.db.models import QuerySet
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import mixins, serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.viewsets import GenericViewSet

from agency import workflows
from agency.jobs.models import SafetyStop

from .authentication import person


class SafetyStopSerializer(serializers.ModelSerializer):
    """What was found, what to do about it, and how far the stop has come."""

    job_number = serializers.CharField(source="job.number", read_only=True)
    steps = serializers.ListField(child=serializers.CharField(), read_only=True)

    class Meta:
        model = SafetyStop
        fields = [
            "id",
            "job",
            "job_number",
            "raised_at",
            "hazard",
            "words",
            "steps",
            "cautions",
            "source",
            "acknowledged_name",
            "acknowledged_at",
            "cleared_at",
            "cleared_reason",
        ]
        read_only_fields = fields


class ZonedTimeField(serializers.DateTimeField):
    """A time that says its zone; none is guessed."""

    default_error_messages = {
        "no_zone": "The time has no zone. Send it with its offset: 2026-04-14T16:05:00-05:00."
    }

    def enforce_timezone(self, value: datetime) -> datetime:
        if timezone.is_naive(value):
            self.fail("no_zone")
        return value


class AcknowledgementSerializer(serializers.Serializer):
    """Who has read a stop, and when by the phone's clock."""

    name = serializers.CharField(
        max_length=160,
        error_messages={
            "required": "Send the name of whoever has read the stop.",
            "blank": "The name is blank. Type the name of whoever has read the stop.",
        },
    )
    at = ZonedTimeField(required=False, allow_null=True)


class StopQuerySerializer(serializers.Serializer):
    """Which stops are asked for."""

    job = serializers.UUIDField(required=False, help_text="Only this job's stops.")


class SafetyStopViewSet(mixins.ListModelMixin, GenericViewSet):
    """Safety stops this person may see, cleared ones too, the newest first."""

    serializer_class = SafetyStopSerializer
    queryset = SafetyStop.objects.none()

    def get_queryset(self) -> QuerySet[SafetyStop]:
        return SafetyStop.objects.visible_to(person(self.request)).select_related("job")

    def filter_queryset(self, queryset: QuerySet[Any]) -> QuerySet[Any]:
        asked = StopQuerySerializer(data=self.request.query_params)
        asked.is_valid(raise_exception=True)
        return queryset.filter(**asked.validated_data)

    @extend_schema(parameters=[StopQuerySerializer])
    def list(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """All of them, or those of one job."""
        return super().list(request, *args, **kwargs)

    @extend_schema(request=AcknowledgementSerializer, responses=SafetyStopSerializer)
    @action(detail=True, methods=["post"])
    def acknowledge(self, request: Request, pk: str) -> Response:
        """Say by name that the stop was read; sent again, it changes nothing."""
        stop = self.get_object()
        said = AcknowledgementSerializer(data=request.data)
        said.is_valid(raise_exception=True)
        stop = workflows.acknowledge_stop(stop.pk, person(request), **said.validated_data)
        return Response(self.get_serializer(stop).data)
