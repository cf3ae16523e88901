"""Gauges and fans, their calibrations, and the flow equations on a fan's certificate."""

import uuid
from datetime import date

from django.db import models
from simple_history.models import HistoricalRecords

from agency.people.models import Crew

from .doubts import Doubt, doubts_from


class Instrument(models.Model):
    """One device with a serial number."""

    class Kind(models.TextChoices):
        GAUGE = "gauge", "Pressure gauge"
        FAN = "fan", "Test fan"
        THERMOMETER = "thermometer", "Thermometer"

    class State(models.TextChoices):
        CURRENT = "current", "Calibrated"
        OVERDUE = "overdue", "Calibration overdue"
        NEVER = "never", "Never calibrated"
        RETIRED = "retired", "Retired"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    kind = models.CharField(max_length=12, choices=Kind)
    serial = models.CharField(max_length=40)
    description = models.CharField(max_length=120, blank=True)
    crew = models.ForeignKey(
        Crew, on_delete=models.PROTECT, null=True, blank=True, related_name="instruments"
    )
    retired_on = models.DateField(null=True, blank=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ["kind", "serial"]
        constraints = [
            models.UniqueConstraint(fields=["kind", "serial"], name="instrument_serial_once_a_kind")
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.serial}"

    def calibration_on(self, day: date) -> "Calibration | None":
        """The calibration that spoke for this instrument on `day`, even if overdue by then."""
        known = [one for one in self.calibrations.all() if one.calibrated_on <= day]
        return max(known, key=lambda one: one.calibrated_on, default=None)

    def is_calibrated_on(self, day: date) -> bool:
        """True while the newest calibration on `day` was not yet due again."""
        calibration = self.calibration_on(day)
        return calibration is not None and day <= calibration.due_on

    def state_on(self, day: date) -> "Instrument.State":
        """Whether it may be used on `day`, and if not, why not."""
        if self.retired_on is not None and self.retired_on <= day:
            return self.State.RETIRED
        if self.calibration_on(day) is None:
            return self.State.NEVER
        return self.State.CURRENT if self.is_calibrated_on(day) else self.State.OVERDUE

    def last_good_calibration(self, on: date) -> "Calibration | None":
        """The newest one known on `on` that did not find the instrument out of tolerance.

        A finding out of tolerance discredits the time before it, so a look-back starts earlier.
        """
        known = [
            one
            for one in self.calibrations.all()
            if one.calibrated_on <= on and one.as_found_good is not False
        ]
        return max(known, key=lambda one: one.calibrated_on, default=None)

    def doubts(self, on: date) -> list[Doubt]:
        """The days on which nothing vouches for it, as far as was known on `on`."""
        return doubts_from(self.calibrations.all(), on)


class Calibration(models.Model):
    """One certificate of a laboratory. None means the certificate does not say."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    instrument = models.ForeignKey(
        Instrument, on_delete=models.PROTECT, related_name="calibrations"
    )
    calibrated_on = models.DateField()
    due_on = models.DateField()
    laboratory = models.CharField(max_length=120)
    certificate_number = models.CharField(max_length=60, blank=True)
    as_found_good = models.BooleanField(
        "found good",
        null=True,
        blank=True,
        help_text="Within tolerance as it came in, before any adjustment.",
    )
    as_found_error_percent = models.FloatField(null=True, blank=True)
    accuracy_percent = models.FloatField(null=True, blank=True)
    accuracy_pa = models.FloatField(null=True, blank=True)
    resolution_pa = models.FloatField(null=True, blank=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ["instrument", "-calibrated_on"]
        constraints = [
            models.UniqueConstraint(
                fields=["instrument", "calibrated_on"], name="calibration_once_a_day"
            ),
            models.CheckConstraint(
                condition=models.Q(due_on__gt=models.F("calibrated_on")),
                name="calibration_due_after_date",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.instrument}, {self.calibrated_on:%Y-%m-%d}"


class FanEquation(models.Model):
    """Flow = coefficient x fan pressure ^ exponent, within the printed range of pressures."""

    class Direction(models.TextChoices):
        DEPRESSURIZATION = "depressurization", "Depressurization"
        PRESSURIZATION = "pressurization", "Pressurization"

    class FlowUnit(models.TextChoices):
        CFM = "cfm", "cfm"
        CUBIC_METRES_PER_HOUR = "m3/h", "m³/h"
        LITRES_PER_SECOND = "L/s", "L/s"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    calibration = models.ForeignKey(Calibration, on_delete=models.CASCADE, related_name="equations")
    configuration = models.CharField(max_length=20)
    direction = models.CharField(
        max_length=16, choices=Direction, blank=True, help_text="Blank: both directions."
    )
    coefficient = models.FloatField(help_text="In the flow unit per Pa to the exponent.")
    exponent = models.FloatField()
    lowest_pressure = models.FloatField(help_text="Pa")
    highest_pressure = models.FloatField(help_text="Pa")
    flow_unit = models.CharField(max_length=4, choices=FlowUnit)
    air_density = models.FloatField(help_text="Air density the certificate refers to, kg/m³.")
    history = HistoricalRecords()

    class Meta:
        ordering = ["calibration", "configuration", "direction"]
        constraints = [
            models.UniqueConstraint(
                fields=["calibration", "configuration", "direction"],
                name="fan_equation_once_a_configuration",
            ),
            models.CheckConstraint(
                condition=models.Q(coefficient__gt=0, exponent__gt=0, air_density__gt=0),
                name="fan_equation_positive",
            ),
            models.CheckConstraint(
                condition=models.Q(highest_pressure__gt=models.F("lowest_pressure")),
                name="fan_equation_range_in_order",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.configuration}: {self.coefficient} P^{self.exponent} {self.flow_unit}"
