"""The quarter report as JSON, figure for figure what the screen shows."""

from dataclasses import asdict

from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework.generics import get_object_or_404
from rest_framework.permissions import IsAuthenticated
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from agency.programs.models import Program
from agency.reports.locking import report_for
from agency.reports.periods import Period

from .permissions import WorksAtDesk


class Quarter(APIView):
    """Before/after results of one quarter."""

    permission_classes = (IsAuthenticated & WorksAtDesk,)

    @extend_schema(
        parameters=[OpenApiParameter("grant", str, description="Only this grant's jobs.")],
        responses={200: OpenApiTypes.OBJECT},
    )
    def get(self, request: Request, quarter: str) -> Response:
        """A calendar quarter as 2026-Q3, or with `grant` the number of the grant's quarter.

        A locked quarter is told as it was locked, with its hash under `lock`.
        """
        grant = request.query_params.get("grant")
        program = get_object_or_404(Program, grant_number=grant) if grant else None
        period = Period.parse(quarter, program=program)
        return Response(asdict(report_for(period, program, now=timezone.now())))
