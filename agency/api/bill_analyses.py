"""Savings measured by bills, and what a grant realized: read at a desk, never by crews."""

from typing import Any

from django.db.models import QuerySet
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers
from rest_framework.exceptions import NotFound
from rest_framework.permissions import IsAuthenticated
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView
from rest_framework.viewsets import ReadOnlyModelViewSet

from agency.estimates.bill_studies import BillAnalysis, BillStudy, ProgramRealization

from .authentication import person
from .permissions import WorksAtDesk


class AnalysisSerializer(serializers.ModelSerializer):
    """A stored analysis with method, weather, figures and hash; its bills stay at the desk."""

    class Meta:
        model = BillAnalysis
        fields = [
            "id",
            "computed_at",
            "method",
            "edition",
            "maths_version",
            "weather",
            "input_hash",
            "figures",
            "refusals",
            "checks",
        ]
        read_only_fields = fields


class BillStudySerializer(serializers.ModelSerializer):
    """One account of one job, and the analysis in force."""

    job_number = serializers.CharField(source="job.number", read_only=True)
    fuel = serializers.CharField(source="account.fuel", read_only=True)
    analysis = serializers.SerializerMethodField()

    class Meta:
        model = BillStudy
        fields = ["id", "job", "job_number", "fuel", "model", "asked_at", "analysis"]
        read_only_fields = fields

    @extend_schema_field(AnalysisSerializer(allow_null=True))
    def get_analysis(self, study: BillStudy) -> dict[str, Any] | None:
        """The newest one; null while a worker has not come to it."""
        newest = next(iter(study.analyses.all()), None)
        return None if newest is None else dict(AnalysisSerializer(newest).data)


class BillStudyViewSet(ReadOnlyModelViewSet):
    """Studies of bills, by job."""

    serializer_class = BillStudySerializer
    permission_classes = (IsAuthenticated & WorksAtDesk,)
    queryset = BillStudy.objects.none()

    def get_queryset(self) -> QuerySet[BillStudy]:
        studies = BillStudy.objects.visible_to(person(self.request))
        return (
            studies.select_related("job", "account")
            .prefetch_related("analyses")
            .order_by("job__number", "account__fuel")
        )


class RealizationSerializer(serializers.ModelSerializer):
    """A stored rate with every home it counts or leaves out."""

    class Meta:
        model = ProgramRealization
        fields = [
            "id",
            "computed_at",
            "method",
            "edition",
            "maths_version",
            "input_hash",
            "inputs",
            "figures",
            "refusals",
        ]
        read_only_fields = fields


class Realization(APIView):
    """Measured over predicted savings of one grant."""

    permission_classes = (IsAuthenticated & WorksAtDesk,)

    @extend_schema(responses={200: RealizationSerializer, 404: OpenApiTypes.OBJECT})
    def get(self, request: Request, grant: str) -> Response:
        """The rate in force of the grant with this number."""
        found = ProgramRealization.objects.filter(program__grant_number=grant).first()
        if found is None:
            raise NotFound(f"Nothing is worked out for a grant {grant} yet.")
        return Response(RealizationSerializer(found).data)
