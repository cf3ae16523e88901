"""Dwellings and buildings: where they stand, how large they are, who owns them, past work."""

import uuid
from datetime import date

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from simple_history.models import HistoricalRecords

from agency.programs.models import County, Fuel


class Building(models.Model):
    """Several dwelling units under one roof."""

    class Tested(models.TextChoices):
        WHOLE = "whole", "Whole building at once"
        UNIT = "unit", "Each unit by itself, neighbours open"
        GUARDED = "guarded", "Each unit with its neighbours guarded"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    name = models.CharField(max_length=80)
    address = models.CharField(max_length=160)
    city = models.CharField(max_length=80)
    state = models.CharField(max_length=2)
    postal_code = models.CharField(max_length=10)
    county = models.ForeignKey(County, on_delete=models.PROTECT, related_name="buildings")
    parcel = models.CharField(max_length=40, blank=True)
    units_total = models.PositiveSmallIntegerField(validators=[MinValueValidator(2)])
    tested = models.CharField(max_length=8, choices=Tested, blank=True)
    units_promised = models.PositiveSmallIntegerField(
        default=0, help_text="Units to become eligible under a rehabilitation program."
    )
    promised_by = models.DateField(null=True, blank=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ["name", "id"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(units_promised=0) | models.Q(promised_by__isnull=False),
                name="building_promise_dated",
            )
        ]

    def __str__(self) -> str:
        return self.name


class House(models.Model):
    """One dwelling unit, or a whole building tested at once. None means not measured."""

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
    parcel = models.CharField(max_length=40, blank=True)
    building = models.ForeignKey(
        Building, on_delete=models.PROTECT, null=True, blank=True, related_name="houses"
    )
    units = models.PositiveSmallIntegerField(
        default=1,
        validators=[MinValueValidator(1)],
        help_text="Dwelling units inside the tested envelope; above 1 for a whole building.",
    )
    is_vacant = models.BooleanField("nobody lives here", default=False)
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
        indexes = [
            models.Index(fields=["county"], name="house_county"),
            models.Index(fields=["parcel"], name="house_parcel"),
            models.Index(fields=["address", "unit", "id"], name="house_by_address"),
        ]
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


class OwnerPermission(models.Model):
    """An owner's written word that a rented dwelling may be worked on."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    house = models.ForeignKey(House, on_delete=models.PROTECT, related_name="owner_permissions")
    owner_name = models.CharField(max_length=160)
    owner_phone = models.CharField(max_length=32, blank=True)
    signed_on = models.DateField()
    rent_held_until = models.DateField(help_text="No rise of the rent because of the work.")
    withdrawn_on = models.DateField(null=True, blank=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ["-signed_on", "id"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(rent_held_until__gt=models.F("signed_on")),
                name="owner_permission_days_in_order",
            )
        ]

    def __str__(self) -> str:
        return f"Permission of {self.owner_name}"

    def holds_on(self, day: date) -> bool:
        """Signed by then and not taken back."""
        return self.signed_on <= day and (self.withdrawn_on is None or day < self.withdrawn_on)


class EarlierWork(models.Model):
    """A dwelling weatherized before these records began, or by someone else."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    address = models.CharField(max_length=160)
    unit = models.CharField(max_length=20, blank=True)
    postal_code = models.CharField(max_length=10)
    parcel = models.CharField(max_length=40, blank=True)
    completed_on = models.DateField()
    source = models.CharField(max_length=240, help_text="The list or file it was read in.")
    history = HistoricalRecords()

    class Meta:
        ordering = ["address", "unit", "-completed_on"]
        verbose_name_plural = "earlier work"
        indexes = [models.Index(fields=["parcel"], name="earlier_work_parcel")]

    def __str__(self) -> str:
        return f"{self.address} {self.unit}".strip()
