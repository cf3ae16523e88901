"""The dated rule book: each threshold of a standard or programme with where it was read."""

import uuid
from datetime import date

from django.db import models
from simple_history.models import HistoricalRecords


class RuleQuerySet(models.QuerySet["Rule"]):
    """Questions about rules."""

    def effective_on(self, day: date) -> "RuleQuerySet":
        """Every rule in force on `day`."""
        in_force = models.Q(effective_to=None) | models.Q(effective_to__gte=day)
        return self.filter(in_force, effective_from__lte=day)


class Rule(models.Model):
    """One criterion; a corrected number is a new row with a new first day."""

    class Operator(models.TextChoices):
        AT_LEAST = ">=", "at least"
        AT_MOST = "<=", "at most"
        MORE_THAN = ">", "more than"
        LESS_THAN = "<", "less than"
        BETWEEN = "between", "between"
        EQUALS = "==", "equal to"

    class Severity(models.TextChoices):
        REJECT = "reject", "Reject"
        ADVISORY = "advisory", "Advisory"
        QUESTION = "question", "Question"
        SETTING = "setting", "Setting"

    class Provenance(models.TextChoices):
        READ = "read", "Read in the source"
        MEMORY = "from memory", "From memory, source not read"
        DERIVED = "derived", "Derived"
        COMMON = "common practice, no source", "Common practice, no source"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    code = models.CharField(max_length=80)
    standard = models.CharField(max_length=80)
    edition = models.CharField(max_length=40, blank=True)
    clause = models.CharField(max_length=80, blank=True)
    quantity = models.CharField(max_length=160)
    operator = models.CharField(max_length=8, choices=Operator)
    limit = models.FloatField(null=True, blank=True)
    low = models.FloatField(null=True, blank=True)
    high = models.FloatField(null=True, blank=True)
    unit = models.CharField(max_length=24, blank=True)
    severity = models.CharField(max_length=12, choices=Severity)
    provenance = models.CharField(max_length=32, choices=Provenance)
    source = models.CharField(max_length=300)
    effective_from = models.DateField()
    effective_to = models.DateField(null=True, blank=True)
    next_step = models.CharField(max_length=400)
    history = HistoricalRecords()

    objects = RuleQuerySet.as_manager()

    class Meta:
        ordering = ["code", "effective_from"]
        constraints = [
            models.UniqueConstraint(fields=["code", "effective_from"], name="rule_once_a_day")
        ]

    def __str__(self) -> str:
        return f"{self.code} from {self.effective_from:%Y-%m-%d}"
