"""Tests a programme requires on each kind of visit; kept by the administrator."""

import uuid
from typing import get_args

from django.core.exceptions import ValidationError
from django.db import models
from simple_history.models import HistoricalRecords

from agency.jobs.models import Visit
from agency.programs.models import Program

from .documents import KINDS, title_of


def kinds_of_tests() -> list[tuple[str, str]]:
    """Every kind of test there is, with its title."""
    return [(kind, title_of(kind)) for kind in KINDS]


class RequiredTest(models.Model):
    """One kind of test, asked for on one kind of visit."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    program = models.ForeignKey(Program, on_delete=models.PROTECT, related_name="required_tests")
    visit_kind = models.CharField(max_length=20, choices=Visit.Kind)
    kind = models.CharField(max_length=24, choices=kinds_of_tests)
    method = models.CharField(max_length=24, blank=True, help_text="Blank: any of its methods.")
    place = models.PositiveSmallIntegerField(
        default=1, help_text="Where it comes in the order of the visit."
    )
    history = HistoricalRecords()

    class Meta:
        ordering = ["program", "visit_kind", "place", "kind", "method"]
        constraints = [
            models.UniqueConstraint(
                fields=["program", "visit_kind", "kind", "method"], name="required_test_once"
            )
        ]

    def __str__(self) -> str:
        return f"{self.title}, {self.get_visit_kind_display().lower()}"

    @property
    def title(self) -> str:
        """The kind of test in words."""
        return title_of(self.kind)

    def clean(self) -> None:
        """The method is one that the kind knows."""
        if not self.method or self.kind not in KINDS:
            return
        known = get_args(KINDS[self.kind].model_fields["method"].annotation)
        if self.method not in known:
            refusal = f"{self.title} is made by {', '.join(known)}, not {self.method}."
            raise ValidationError({"method": f"{refusal} Choose one of these, or leave it blank."})
