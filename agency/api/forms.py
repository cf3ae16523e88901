"""Form definitions: what a phone asks for in each kind of test."""

from django.http import Http404
from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from agency.diagnostics.documents import KINDS
from agency.diagnostics.form_definitions import definition_of
from agency.rulebook.models import Rule


class Forms(APIView):
    """Every kind of test there is."""

    @extend_schema(operation_id="forms_list", responses={200: OpenApiTypes.OBJECT})
    def get(self, request: Request) -> Response:
        """Kinds with their titles and purposes."""
        return Response(
            [
                {"kind": kind, "title": one.form.title, "purpose": one.form.purpose}
                for kind, one in KINDS.items()
            ]
        )


class Form(APIView):
    """The form of one kind of test."""

    @extend_schema(responses={200: OpenApiTypes.OBJECT})
    def get(self, request: Request, kind: str) -> Response:
        """Methods, cautions, hook-up cards, units and fields, with today's plausible ranges."""
        if kind not in KINDS:
            raise Http404
        return Response(definition_of(kind, Rule.objects.effective_on(timezone.localdate())))
