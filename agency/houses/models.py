"""Dwellings: where they stand, how large they are, how they are heated and cooled."""

import uuid

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from simple_history.models import HistoricalRecords

from agency.programs.models import County, Fuel


class House(models.Model):
    """One dwelling unit. None means not measured."""

    class Dwelling(models.TextChoices):
        SINGLE_FAMILY = "single_family", "Single-family"
        TWO_TO_FOUR = "two_to_four", "2 to 4 units"
        FIVE_OR_MORE = "five_or_more", "5 or more units"
        MOBILE_HOME = "mobile_home", "Mobile home"
        SHELTER = "shelter", "Shelter"

    class Shelter(models.IntegerChoices):
        NONE = 1, "No obstructions"
        RURAL = 2, "Isolated rural house"
        STREET = 3, "Buildings across the street"
        LARGE_LOTS = 4, "Urban, larger lots"
        ADJACENT = 5, "Buildings immediately adjacent"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    address = models.CharField(max_length=160)
    unit = models.CharField(max_length=20, blank=True)
    city = models.CharField(max_length=80)
    state = models.CharField(max_length=2)
    postal_code = models.CharField(max_length=10)
    county = models.ForeignKey(County, on_delete=models.PROTECT, related_name="houses")
    dwelling = models.CharField(max_length=16, choices=Dwelling)
    year_built = models.PositiveSmallIntegerField(
        null=True, blank=True, validators=[MinValueValidator(1700)]
    )
    storeys = models.FloatField(
        null=True, blank=True, validators=[MinValueValidator(1), MaxValueValidator(4)]
    )
    floor_area_sqft = models.FloatField(null=True, blank=True)
    volume_cuft = models.FloatField(null=True, blank=True)
    height_ft = models.FloatField(
        null=True, blank=True, help_text="Lowest above-grade floor to highest ceiling."
    )
    envelope_area_sqft = models.FloatField(null=True, blank=True)
    elevation_ft = models.FloatField(null=True, blank=True)
    bedrooms = models.PositiveSmallIntegerField(null=True, blank=True)
    occupants = models.PositiveSmallIntegerField(null=True, blank=True)
    shelter = models.PositiveSmallIntegerField(choices=Shelter, null=True, blank=True)
    heating_fuel = models.CharField(max_length=12, choices=Fuel, blank=True)
    heating_efficiency = models.FloatField(
        null=True, blank=True, help_text="Heat out per energy in: 0.80, or 3.0 for a heat pump."
    )
    cooling_efficiency = models.FloatField(
        null=True,
        blank=True,
        help_text="Seasonal heat moved per electricity used; blank: no cooling.",
    )
    distribution_efficiency = models.FloatField(null=True, blank=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ["address", "unit", "id"]
        indexes = [models.Index(fields=["county"], name="house_county")]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(**{f"{name}__isnull": True}) | models.Q(**{f"{name}__gt": 0}),
                name=f"house_{name}_positive",
            )
            for name in (
                "floor_area_sqft",
                "volume_cuft",
                "height_ft",
                "envelope_area_sqft",
                "heating_efficiency",
                "cooling_efficiency",
                "distribution_efficiency",
            )
        ]

    def __str__(self) -> str:
        return self.one_line

    @property
    def one_line(self) -> str:
        """The address as it is said aloud."""
        street = f"{self.address}, {self.unit}" if self.unit else self.address
        return f"{street}, {self.city}"
