"""Jobs: read by the crew that works on them and by staff; finished by the crew."""

from uuid import UUID

from django.db.models import QuerySet
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.viewsets import ReadOnlyModelViewSet

from agency import workflows
from agency.houses.models import House
from agency.jobs.models import Job

from .authentication import person


class HouseSerializer(serializers.ModelSerializer):
    """What a crew needs to know of a house."""

    class Meta:
        model = House
        fields = [
            "address",
            "unit",
            "city",
            "state",
            "postal_code",
            "year_built",
            "storeys",
            "floor_area_sqft",
            "volume_cuft",
            "height_ft",
            "envelope_area_sqft",
            "elevation_ft",
            "heating_fuel",
        ]


class JobSerializer(serializers.ModelSerializer):
    """A job with its house and open stops; of the client only name, phone and language."""

    house = HouseSerializer(read_only=True)
    client_name = serializers.CharField(source="client.name", read_only=True)
    client_phone = serializers.CharField(source="client.phone", read_only=True)
    client_language = serializers.CharField(source="client.language", read_only=True)
    crew = serializers.CharField(source="crew.name", read_only=True)
    status_words = serializers.CharField(source="get_status_display", read_only=True)
    open_safety_stops = serializers.SerializerMethodField()

    class Meta:
        model = Job
        fields = [
            "id",
            "number",
            "status",
            "status_words",
            "opened_on",
            "work_started_on",
            "inspection_passed_on",
            "crew",
            "client_name",
            "client_phone",
            "client_language",
            "house",
            "open_safety_stops",
        ]
        read_only_fields = fields

    def get_open_safety_stops(self, job: Job) -> list[UUID]:
        """Ids of the stops to be cleared before the work may be called finished."""
        return [stop.pk for stop in job.open_stops]


class WorkStartedSerializer(serializers.Serializer):
    """The first working day."""

    on = serializers.DateField()


class JobViewSet(ReadOnlyModelViewSet):
    """Jobs this person may see, the newest first."""

    serializer_class = JobSerializer
    queryset = Job.objects.none()

    def get_queryset(self) -> QuerySet[Job]:
        return Job.objects.visible_to(person(self.request)).with_people().with_stops()

    @extend_schema(request=WorkStartedSerializer, responses=JobSerializer)
    @action(detail=True, methods=["post"], url_path="work-started")
    def work_started(self, request: Request, pk: str) -> Response:
        """Say on which day the work began."""
        day = WorkStartedSerializer(data=request.data)
        day.is_valid(raise_exception=True)
        job = workflows.note_work_started(self.get_object().pk, on=day.validated_data["on"])
        return Response(self.get_serializer(job).data)

    @extend_schema(request=None, responses=JobSerializer)
    @action(detail=True, methods=["post"])
    def finish(self, request: Request, pk: str) -> Response:
        """Say that work and test-out are done."""
        job = workflows.finish_work(self.get_object().pk, by=person(request))
        return Response(self.get_serializer(job).data)
