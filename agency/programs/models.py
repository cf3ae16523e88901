"""The agency, its grants and their income tests, its counties and its dated fuel prices."""

import uuid
from datetime import date
from decimal import Decimal
from typing import Any

from django.db import models
from simple_history.models import HistoricalRecords


class Fuel(models.TextChoices):
    """Heating and water-heating fuels, in the trade's words."""

    GAS = "natural_gas", "Natural gas"
    PROPANE = "propane", "Propane"
    OIL = "fuel_oil", "Fuel oil"
    ELECTRICITY = "electricity", "Electricity"
    KEROSENE = "kerosene", "Kerosene"
    WOOD = "wood", "Wood"


class Agency(models.Model):
    """The agency whose papers these are."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    name = models.CharField(max_length=160, unique=True)
    address = models.CharField(max_length=240)
    phone = models.CharField(max_length=32)
    complaint_route = models.CharField(max_length=240)
    history = HistoricalRecords()

    class Meta:
        ordering = ["name"]
        verbose_name_plural = "agencies"

    def __str__(self) -> str:
        return self.name


class County(models.Model):
    """A county the agency serves; the code is the five-digit county code."""

    code = models.CharField(primary_key=True, max_length=5)
    name = models.CharField(max_length=80)

    class Meta:
        ordering = ["code"]
        verbose_name_plural = "counties"

    def __str__(self) -> str:
        return self.name


class Program(models.Model):
    """One grant with its period; report quarters count from its first day."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    name = models.CharField(max_length=120)
    grant_number = models.CharField(max_length=40, unique=True)
    first_day = models.DateField()
    last_day = models.DateField()
    final_report_on = models.DateField(
        null=True, blank=True, help_text="Final expenditure report; case files are kept from here."
    )
    history = HistoricalRecords()

    class Meta:
        ordering = ["-first_day", "grant_number"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(last_day__gt=models.F("first_day")), name="program_days_in_order"
            )
        ]

    def __str__(self) -> str:
        return f"{self.name} ({self.grant_number})"


class FuelPriceQuerySet(models.QuerySet["FuelPrice"]):
    """Questions about prices."""

    def on(self, fuel: str, day: date) -> "FuelPrice | None":
        """The newest price of `fuel` that held on `day`; None when none was entered."""
        return self.filter(fuel=fuel, effective_from__lte=day).order_by("-effective_from").first()


class FuelPrice(models.Model):
    """Price of one fuel from a day on, with where it was read."""

    class Unit(models.TextChoices):
        THERM = "therm", "therm"
        KILOWATT_HOUR = "kWh", "kWh"
        GALLON = "gal", "gal"
        CORD = "cord", "cord"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    fuel = models.CharField(max_length=12, choices=Fuel)
    unit = models.CharField(max_length=8, choices=Unit)
    price: "models.DecimalField[Decimal, Decimal]" = models.DecimalField(
        max_digits=9, decimal_places=4
    )
    effective_from = models.DateField()
    source = models.CharField(max_length=240)
    history = HistoricalRecords()

    objects = FuelPriceQuerySet.as_manager()

    class Meta:
        ordering = ["fuel", "-effective_from"]
        constraints = [
            models.UniqueConstraint(
                fields=["fuel", "effective_from"], name="fuel_price_once_a_day"
            ),
            models.CheckConstraint(condition=models.Q(price__gt=0), name="fuel_price_positive"),
        ]

    def __str__(self) -> str:
        return f"{self.get_fuel_display()} {self.price} $/{self.unit}"


class InForceQuerySet(models.QuerySet[Any]):
    """Questions about dated rows."""

    def in_force(self, day: date) -> "InForceQuerySet":
        """Rows that hold on `day`."""
        open_ended = models.Q(effective_to=None) | models.Q(effective_to__gte=day)
        return self.filter(open_ended, effective_from__lte=day)


class IncomeTest(models.Model):
    """What a grant holds a household's income against, from a day on."""

    class Basis(models.TextChoices):
        POVERTY = "poverty", "Poverty guideline"
        STATE_MEDIAN = "state_median", "State median income"

    class Region(models.TextChoices):
        CONTIGUOUS = "contiguous", "48 states and DC"
        ALASKA = "alaska", "Alaska"
        HAWAII = "hawaii", "Hawaii"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    program = models.ForeignKey(Program, on_delete=models.PROTECT, related_name="income_tests")
    basis = models.CharField(max_length=16, choices=Basis)
    percent = models.PositiveSmallIntegerField(help_text="200 of poverty, 60 of state median.")
    region = models.CharField(max_length=12, choices=Region, default=Region.CONTIGUOUS)
    state = models.CharField(max_length=2, blank=True, help_text="For the state median.")
    effective_from = models.DateField()
    effective_to = models.DateField(null=True, blank=True)
    source = models.CharField(max_length=240)
    history = HistoricalRecords()

    objects = InForceQuerySet.as_manager()

    class Meta:
        ordering = ["program", "-effective_from"]
        constraints = [
            models.UniqueConstraint(
                fields=["program", "effective_from"], name="income_test_once_a_day"
            ),
            models.CheckConstraint(
                condition=~models.Q(basis="state_median") | ~models.Q(state=""),
                name="income_test_state_named",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.percent} % of the {self.get_basis_display().lower()}"


class StateMedian(models.Model):
    """Median income of a four-person household in a state, from a day on."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    state = models.CharField(max_length=2)
    four_person: "models.DecimalField[Decimal, Decimal]" = models.DecimalField(
        max_digits=9, decimal_places=0
    )
    effective_from = models.DateField()
    effective_to = models.DateField(null=True, blank=True)
    source = models.CharField(max_length=240)
    history = HistoricalRecords()

    objects = InForceQuerySet.as_manager()

    class Meta:
        ordering = ["state", "-effective_from"]
        constraints = [
            models.UniqueConstraint(
                fields=["state", "effective_from"], name="state_median_once_a_day"
            )
        ]

    def __str__(self) -> str:
        return f"State median of {self.state} from {self.effective_from:%Y-%m-%d}"


class BenefitProgram(models.Model):
    """A benefit that makes a household eligible without an income test, in a state and time."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    name = models.CharField(max_length=120)
    state = models.CharField(max_length=2, blank=True, help_text="Empty: in every state.")
    window_months = models.PositiveSmallIntegerField(
        help_text="The benefit counts when paid within so many months before the determination."
    )
    proof = models.CharField(max_length=160, help_text="The paper that shows it.")
    effective_from = models.DateField()
    effective_to = models.DateField(null=True, blank=True)
    source = models.CharField(max_length=240)
    history = HistoricalRecords()

    objects = InForceQuerySet.as_manager()

    class Meta:
        ordering = ["name", "state", "-effective_from"]
        constraints = [
            models.UniqueConstraint(
                fields=["name", "state", "effective_from"], name="benefit_program_once_a_day"
            )
        ]

    def __str__(self) -> str:
        return self.name
