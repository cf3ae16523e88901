"""Visit reports: sent by paired phones on arrival and on leaving."""

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from agency import workflows
from agency.diagnostics.visit_documents import VisitReportDocument

from .answers import AnswerSerializer, respond
from .authentication import device_of
from .permissions import IsPairedPhone


class VisitReports(APIView):
    """Say how a visit went."""

    permission_classes = (IsPairedPhone,)

    @extend_schema(
        request=VisitReportDocument,
        responses={201: AnswerSerializer, 400: AnswerSerializer, 422: AnswerSerializer},
    )
    def post(self, request: Request) -> Response:
        """Keep one report; sent again, it gets the first answer again."""
        return respond(
            workflows.receive_visit_report(device_of(request), request.data, now=timezone.now())
        )
