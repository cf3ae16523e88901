"""Measures of jobs and what they are estimated to save: read only."""

from django.db.models import QuerySet
from rest_framework import serializers
from rest_framework.viewsets import ReadOnlyModelViewSet

from agency.estimates.models import Measure, MeasuresEstimate

from .authentication import person


class MeasureSerializer(serializers.ModelSerializer):
    """One planned or installed measure; costs in dollars."""

    class Meta:
        model = Measure
        fields = [
            "id",
            "job",
            "kind",
            "name",
            "category",
            "repairs_for",
            "place",
            "quantity",
            "unit",
            "properties",
            "material_cost",
            "labour_cost",
            "supervision_cost",
            "remaining_life",
            "installed_on",
        ]
        read_only_fields = fields


class MeasuresEstimateSerializer(serializers.ModelSerializer):
    """What the measures of a job save, with all it rests on."""

    class Meta:
        model = MeasuresEstimate
        fields = [
            "id",
            "job",
            "computed_at",
            "method",
            "edition",
            "maths_version",
            "weather",
            "input_hash",
            "inputs",
            "figures",
            "refusals",
        ]
        read_only_fields = fields


class MeasureViewSet(ReadOnlyModelViewSet):
    """Measures of the jobs this person may see."""

    serializer_class = MeasureSerializer
    queryset = Measure.objects.none()

    def get_queryset(self) -> QuerySet[Measure]:
        return Measure.objects.visible_to(person(self.request))


class MeasuresEstimateViewSet(ReadOnlyModelViewSet):
    """Estimates of measures of the jobs this person may see, the newest first."""

    serializer_class = MeasuresEstimateSerializer
    queryset = MeasuresEstimate.objects.none()

    def get_queryset(self) -> QuerySet[MeasuresEstimate]:
        return MeasuresEstimate.objects.visible_to(person(self.request))
