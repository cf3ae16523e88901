"""Which instruments a test run used, and finding the runs of an instrument again."""

from collections.abc import Mapping, Sequence
from datetime import date, datetime, time, timedelta
from typing import TYPE_CHECKING, Any, Self

from django.db import models
from django.db.models import DateTimeField, ExpressionWrapper, F, Q, Value
from django.db.models.functions import Coalesce
from django.utils import timezone

from agency.instruments.doubts import ONE_DAY, Doubt
from agency.instruments.models import Instrument

if TYPE_CHECKING:
    from .models import InstrumentUse, TestRun  # noqa: F401  named in the base class

MADE_AT = ExpressionWrapper(
    F("test_run__taken_at") - Coalesce(F("test_run__clock_ahead_by"), Value(timedelta())),
    output_field=DateTimeField(),
)
"""When the test was made by our clock, as `TestRun.corrected_taken_at` says."""


def serials_of(document: Any) -> list[tuple[str, str]]:
    """Kind and serial number of every instrument a parsed document names, each once."""
    gauge = getattr(document, "gauge", None)
    named = [] if gauge is None else [(Instrument.Kind.GAUGE.value, gauge.serial)]
    fans = getattr(document, "fans", [])
    return list(dict.fromkeys(named + [(Instrument.Kind.FAN.value, fan.serial) for fan in fans]))


class InstrumentUseQuerySet(models.QuerySet["InstrumentUse"]):
    """Uses of instruments, as someone asks who looks back."""

    def note(self, run: "TestRun", document: Any) -> None:
        """Write down what the document of a new run names."""
        self.bulk_create(
            self.model(test_run=run, kind=kind, serial=serial)
            for kind, serial in serials_of(document)
        )

    def of(self, instrument: Instrument) -> Self:
        """Every use of one instrument."""
        return self.filter(_is(instrument))

    def timed(self) -> Self:
        """With `made_at`, when the test was made by our clock."""
        return self.annotate(made_at=MADE_AT)

    def since(self, day: date) -> Self:
        """Made on `day` or later, where the agency works."""
        return self.timed().filter(made_at__gte=_start(day))

    def in_doubt(self, doubts: Mapping[Instrument, Sequence[Doubt]]) -> Self:
        """Made while the instrument could not be vouched for."""
        wanted = Q(pk__in=[])
        for instrument, its_doubts in doubts.items():
            for doubt in its_doubts:
                wanted |= _is(instrument) & _within(doubt)
        return self.timed().filter(wanted)

    def newest_first(self) -> Self:
        """The latest made at the top."""
        return self.timed().order_by("-made_at", "pk")

    def with_job(self) -> Self:
        """Fetched with run, job, house and grant, but without the readings."""
        return self.select_related("test_run__job__house", "test_run__job__program").defer(
            "test_run__document", "test_run__answer"
        )


def day_of(made_at: datetime) -> date:
    """The day a test was made, where the agency works."""
    return timezone.localtime(made_at).date()


def _is(instrument: Instrument) -> Q:
    # A document may leave the kind open; the serial number then decides.
    return Q(serial=instrument.serial, kind__in=["", instrument.kind])


def _within(doubt: Doubt) -> Q:
    wanted = Q()
    if doubt.from_day is not None:
        wanted &= Q(made_at__gte=_start(doubt.from_day))
    if doubt.to_day is not None:
        wanted &= Q(made_at__lt=_start(doubt.to_day + ONE_DAY))
    return wanted


def _start(day: date) -> datetime:
    """Midnight where the agency works."""
    return timezone.make_aware(datetime.combine(day, time.min))
