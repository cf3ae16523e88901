"""What a house's energy is worked out from beside its record; blank means not known."""

import uuid
from typing import Any

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from simple_history.models import HistoricalRecords

from agency.houses.models import House
from agency.programs.models import Fuel


def _above_zero(words: str) -> Any:
    smallest = 1e-6
    return models.FloatField(words, null=True, blank=True, validators=[MinValueValidator(smallest)])


def _share(words: str) -> Any:
    return models.FloatField(
        words, null=True, blank=True, validators=[MinValueValidator(0.01), MaxValueValidator(10)]
    )


def _at_least_zero(words: str, **kwargs: Any) -> Any:
    return models.FloatField(
        words, null=True, blank=True, validators=[MinValueValidator(0)], **kwargs
    )


class EnergyDescription(models.Model):
    """One house's shell, plant, fans and billed energy, as far as someone knows them."""

    class Model(models.TextChoices):
        BASIC = "basic", "Basic (Sherman and Grimsrud)"
        ENHANCED = "enhanced", "Enhanced (Walker and Wilson), flows added in quadrature"
        ENHANCED_ORIGINAL = "enhanced_original", "Enhanced, original superposition"

    class Foundation(models.TextChoices):
        BASEMENT_OR_SLAB = "basement or slab", "Basement or slab"
        CRAWL_SPACE = "crawl space", "Crawl space"

    class Flue(models.TextChoices):
        NONE = "no flue", "No flue open to the rooms"
        OPEN = "flue", "A flue open to the rooms"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    house = models.OneToOneField(House, on_delete=models.PROTECT, related_name="description")
    infiltration_model = models.CharField(
        max_length=20,
        choices=Model,
        blank=True,
        help_text="Blank: the agency's own choice, in the rule book.",
    )
    foundation = models.CharField(max_length=20, choices=Foundation, blank=True)
    flue = models.CharField(max_length=20, choices=Flue, blank=True)
    exhaust_cfm = _at_least_zero("Fans that blow out all day, cfm")
    supply_cfm = _at_least_zero("Fans that blow in all day, cfm")
    wall_area_sqft = _above_zero("Wall area without windows, ft²")
    ceiling_area_sqft = _above_zero("Ceiling area, ft²")
    window_area_sqft = _above_zero("Window and door area, ft²")
    wall_r = _above_zero("R of the walls, whole assembly")
    ceiling_r = _above_zero("R of the ceiling, whole assembly")
    floor_r = _above_zero("R of the floor, whole assembly")
    window_u = _above_zero("U of the windows, Btu/(h ft² °F)")
    heating_setpoint_f = _above_zero("Heating set point, °F")
    cooling_setpoint_f = _above_zero("Cooling set point, °F")
    gains_w = _at_least_zero("Gains from people, sun and appliances while heating, W")
    water_fuel = models.CharField(
        "Fuel of the water heater", max_length=12, choices=Fuel, blank=True
    )
    water_efficiency = _share("Efficiency of the water heater")
    hot_water_gal_a_day = _at_least_zero("Hot water drawn, gal a day")
    baseload_kwh = _at_least_zero("Lights and appliances, kWh a year")
    billed_heating = _above_zero("Billed for heating, a year, in the fuel's unit")
    billed_cooling_kwh = _above_zero("Billed for cooling, kWh a year")
    billed_hot_water = _above_zero("Billed for hot water, a year, in the fuel's unit")
    billed_baseload_kwh = _above_zero("Billed for lights and appliances, kWh a year")
    billed_source = models.CharField(
        "Where the billed figures come from", max_length=160, blank=True
    )
    history = HistoricalRecords()

    class Meta:
        ordering = ["house"]

    def __str__(self) -> str:
        return f"Energy description of {self.house}"
