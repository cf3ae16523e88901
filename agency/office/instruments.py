"""Gauges and fans: which may be used today, and what their certificates say."""

from collections import Counter
from dataclasses import dataclass
from datetime import date
from typing import Any
from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.utils import timezone

from agency.diagnostics.doubting import doubted_uses
from agency.instruments.models import Calibration, Instrument
from agency.wording import words
from agency.wording.templatetags.wording import day

from .access import DeskRequest, desk_only
from .pages import render_page
from .readings import as_read

EQUATION_COLUMNS = (
    "Configuration",
    "Direction",
    "Coefficient",
    "Exponent",
    "Flow unit",
    "From, Pa",
    "To, Pa",
    "Air density, kg/m³",
)

STATES = {
    Instrument.State.NEVER: "never_calibrated",
    Instrument.State.OVERDUE: "expired",
    Instrument.State.CURRENT: "current",
    Instrument.State.RETIRED: "retired",
}
"""State codes with words of their own, the most urgent first."""
FOUND = {True: "within tolerance", False: "out of tolerance", None: ""}
"""How an instrument came in, by what the certificate says; nothing when it does not."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """An instrument and what its newest calibration allows today."""

    instrument: Instrument
    calibration: Calibration | None
    state: str
    """One of `STATES`."""
    in_doubt: int
    """Test runs in doubt that nobody lets stand."""


@desk_only
def instruments(request: DeskRequest) -> HttpResponse:
    """Every instrument, those that may not be used first."""
    today = timezone.localdate()
    known = Instrument.objects.select_related("crew").prefetch_related("calibrations")
    standings = sorted(_standings(list(known), today), key=_urgency)
    context = {"standings": standings, "day": today}
    return render_page(request, "office/instruments.html", context, section="instruments")


@desk_only
def instrument(request: DeskRequest, pk: UUID) -> HttpResponse:
    """One instrument with its calibrations and flow equations, newest first."""
    known = Instrument.objects.select_related("crew").prefetch_related("calibrations__equations")
    found = get_object_or_404(known, pk=pk)
    context = {
        "standing": _standings([found], timezone.localdate())[0],
        "instrument": found,
        "columns": EQUATION_COLUMNS,
        "calibrations": [_worded(one) for one in found.calibrations.all()],
    }
    return render_page(request, "office/instrument.html", context, section="instruments")


def _worded(calibration: Calibration) -> dict[str, Any]:
    """One certificate as rows of words; what it does not say stays unsaid."""
    unsaid = "the certificate does not say"
    facts: list[tuple[str, str]] = [
        ("Laboratory", calibration.laboratory),
        ("Certificate", calibration.certificate_number or "no number given"),
        ("Due again", day(calibration.due_on)),
        ("As found", FOUND[calibration.as_found_good] or unsaid),
    ]
    for name, value, unit in (
        ("Error as found", calibration.as_found_error_percent, "%"),
        ("Accuracy, share of the reading", calibration.accuracy_percent, "%"),
        ("Accuracy, at best", calibration.accuracy_pa, "Pa"),
        ("Resolution", calibration.resolution_pa, "Pa"),
    ):
        shown = unsaid if value is None else f"{as_read(value)}{words.THIN_SPACE}{unit}"
        facts.append((name, shown))
    equations = [
        [
            one.configuration,
            one.get_direction_display() or "Both",
            as_read(one.coefficient),
            as_read(one.exponent),
            one.get_flow_unit_display(),
            as_read(one.lowest_pressure),
            as_read(one.highest_pressure),
            as_read(one.air_density),
        ]
        for one in calibration.equations.all()
    ]
    return {"record": calibration, "facts": facts, "equations": equations}


def _standings(instruments: list[Instrument], on: date) -> list[Standing]:
    """Where each of them stands, in a constant number of queries."""
    uses = doubted_uses(instruments, on=on)
    in_doubt = Counter(use.instrument.pk for use in uses if use.exception is None)
    return [_standing(one, on, in_doubt[one.pk]) for one in instruments]


def _standing(instrument: Instrument, on: date, in_doubt: int) -> Standing:
    return Standing(
        instrument=instrument,
        calibration=instrument.calibration_on(on),
        state=STATES[instrument.state_on(on)],
        in_doubt=in_doubt,
    )


def _urgency(standing: Standing) -> tuple[int, date, str]:
    order = list(STATES.values())
    due = standing.calibration.due_on if standing.calibration else date.min
    return order.index(standing.state), due, standing.instrument.serial
