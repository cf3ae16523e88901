"""Measures planned or installed on a job, with what they cost and what they change."""

import uuid
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from pydantic import ValidationError as PropertiesRefused
from simple_history.models import HistoricalRecords

from agency.diagnostics.document_words import reasons_from
from agency.jobs.models import Job

from .measure_kinds import KIND_CHOICES, KINDS, Kind, Properties

if TYPE_CHECKING:
    from agency.accounts.models import User

LONGEST_LIFE = 100
"""Above it months were typed for years. [a]"""


def _dollars(**kwargs: Any) -> "models.DecimalField[Decimal, Decimal]":
    return models.DecimalField(
        max_digits=10, decimal_places=2, validators=[MinValueValidator(0)], **kwargs
    )


class MeasureQuerySet(models.QuerySet["Measure"]):
    """Measures as those speak of them who plan them."""

    def visible_to(self, user: "User") -> "MeasureQuerySet":
        """Desk staff see every measure, a crew member those of the own crew's jobs."""
        if user.works_at_desk:
            return self
        return self.filter(job__crew__members__user=user)

    def of_job(self, job: Job) -> "MeasureQuerySet":
        """Those of one job, in the order of installation."""
        return self.filter(job=job).select_related("repairs_for")


class Measure(models.Model):
    """One measure of one job; the order of installation decides what each step saves."""

    class Category(models.TextChoices):
        ENERGY = "energy", "Saves energy"
        HEALTH_AND_SAFETY = "health_and_safety", "Health and safety"
        REPAIR = "incidental_repair", "Incidental repair"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="measures")
    kind = models.CharField(max_length=20, choices=KIND_CHOICES)
    name = models.CharField(max_length=80)
    category = models.CharField(max_length=20, choices=Category, default=Category.ENERGY)
    repairs_for = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="repairs"
    )
    place = models.PositiveSmallIntegerField(help_text="Place in the order of installation.")
    quantity = models.DecimalField(
        max_digits=10, decimal_places=2, validators=[MinValueValidator(Decimal("0.01"))]
    )
    unit = models.CharField(max_length=12)
    properties = models.JSONField(default=dict, blank=True)
    material_cost = _dollars()
    labour_cost = _dollars()
    supervision_cost = _dollars(default=0)
    remaining_life = models.PositiveSmallIntegerField(
        null=True,
        blank=True,
        validators=[MinValueValidator(1), MaxValueValidator(LONGEST_LIFE)],
        help_text="Years that what it is attached to will still last, where that is shorter.",
    )
    installed_on = models.DateField(null=True, blank=True)
    history = HistoricalRecords()

    objects = MeasureQuerySet.as_manager()

    class Meta:
        ordering = ["job", "place", "name", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["job"],
                condition=models.Q(kind="air_sealing"),
                name="measure_air_sealing_once",
                violation_error_message=(
                    "The job already has air sealing. The fan tests show all of it together: "
                    "add this work to that measure."
                ),
            ),
            models.CheckConstraint(
                condition=models.Q(material_cost__gte=0)
                & models.Q(labour_cost__gte=0)
                & models.Q(supervision_cost__gte=0),
                name="measure_costs_not_negative",
            ),
            models.CheckConstraint(
                condition=(
                    models.Q(category="incidental_repair", repairs_for__isnull=False)
                    | (~models.Q(category="incidental_repair") & models.Q(repairs_for=None))
                ),
                name="measure_repair_names_its_measure",
                violation_error_message=(
                    "An incidental repair names the measure it makes possible, and nothing else "
                    "does. Choose the measure, or another category."
                ),
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def cost(self) -> Decimal:
        """Material, labour and on-site supervision. [$]"""
        return self.material_cost + self.labour_cost + self.supervision_cost

    @property
    def about(self) -> Kind:
        """What its kind is called and counted in."""
        return KINDS[self.kind].kind

    def read_properties(self) -> Properties:
        """What it changes, checked by the form of its kind."""
        return KINDS[self.kind].model_validate(self.properties)

    def clean(self) -> None:
        """The form of the kind, and what category and kind say of each other."""
        if (self.kind == "no_saving") == (self.category == self.Category.ENERGY):
            raise ValidationError(
                {
                    "category": "Work without a saving is health and safety or a repair; every "
                    "other kind saves energy. Choose the category that fits the kind."
                }
            )
        refuse_wrong_properties(self.kind, self.properties)


def refuse_wrong_properties(kind: str, properties: dict[str, Any]) -> None:
    """Raise what is wrong with the properties of a kind, by field."""
    try:
        KINDS[kind].model_validate(properties)
    except PropertiesRefused as refused:
        told: dict[str, list[str]] = {}
        for one in reasons_from(refused):
            limit = f" It may be {one.limit}." if one.limit else ""
            told.setdefault(one.field, []).append(f"{one.message}{limit} {one.next_step}")
        raise ValidationError({name or "__all__": said for name, said in told.items()}) from None
