"""Test runs: sent by paired phones one by one or in batches, read back with their results."""

from django.db.models import QuerySet
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import mixins, serializers
from rest_framework.permissions import IsAuthenticated
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView
from rest_framework.viewsets import GenericViewSet

from agency import workflows
from agency.diagnostics.forms.envelope import EnvelopeDocument
from agency.diagnostics.models import Result, TestRun

from .answers import AnswerSerializer, respond
from .authentication import device_of, person
from .permissions import IsPairedPhone, ReadOnly

MOST_RECORDS = 50
"""Records a batch may hold; keeps one request within the body limit and a few seconds."""


class ResultSerializer(serializers.ModelSerializer):
    """The current result; figures in SI units."""

    class Meta:
        model = Result
        fields = [
            "id",
            "computed_at",
            "method",
            "edition",
            "maths_version",
            "input_hash",
            "verdict",
            "answer",
            "flow_50",
            "figures",
            "checks",
        ]
        read_only_fields = fields


class TestRunSerializer(serializers.ModelSerializer):
    """A stored test run; `result` is null until a worker has computed it."""

    result = ResultSerializer(read_only=True, allow_null=True)

    class Meta:
        model = TestRun
        fields = [
            "id",
            "job",
            "client_key",
            "kind",
            "phase",
            "method",
            "operator",
            "taken_at",
            "received_at",
            "document_hash",
            "review",
            "review_reason",
            "result",
        ]
        read_only_fields = fields


class BatchAnswerSerializer(serializers.Serializer):
    """One record's answer within a batch, with the status it would have had alone."""

    http_status = serializers.IntegerField()
    replay = serializers.BooleanField()
    answer = AnswerSerializer()


class BatchSerializer(serializers.Serializer):
    """Records from one phone and its clock at sending."""

    sent_at = serializers.DateTimeField(required=False, allow_null=True)
    records = serializers.ListField(
        child=serializers.JSONField(), min_length=1, max_length=MOST_RECORDS
    )


class BatchRepliesSerializer(serializers.Serializer):
    """Answers in the order of the records."""

    answers = BatchAnswerSerializer(many=True)


class TestRunViewSet(mixins.RetrieveModelMixin, mixins.ListModelMixin, GenericViewSet):
    """Send one test run, or read stored ones."""

    serializer_class = TestRunSerializer
    permission_classes = (IsAuthenticated & (ReadOnly | IsPairedPhone),)
    queryset = TestRun.objects.none()

    def get_queryset(self) -> QuerySet[TestRun]:
        return TestRun.objects.visible_to(person(self.request)).with_result()

    @extend_schema(
        request=EnvelopeDocument,
        responses={201: AnswerSerializer, 400: AnswerSerializer, 422: AnswerSerializer},
    )
    def create(self, request: Request) -> Response:
        """Keep one record; sent again, it gets the first answer again."""
        said = workflows.receive(
            device_of(request), [request.data], sent_at=None, now=timezone.now()
        )[0]
        return respond(said)


class Batches(APIView):
    """Send several test runs at once."""

    permission_classes = (IsPairedPhone,)

    @extend_schema(request=BatchSerializer, responses={200: BatchRepliesSerializer})
    def post(self, request: Request) -> Response:
        """Keep each record by itself: a bad one does not sink the rest."""
        batch = BatchSerializer(data=request.data)
        batch.is_valid(raise_exception=True)
        answers = workflows.receive(
            device_of(request),
            batch.validated_data["records"],
            sent_at=batch.validated_data.get("sent_at"),
            now=timezone.now(),
        )
        return Response(
            {
                "answers": [
                    {"http_status": one.status, "replay": one.replay, "answer": one.body}
                    for one in answers
                ]
            }
        )
