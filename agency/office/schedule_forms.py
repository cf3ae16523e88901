"""What a scheduler types: a booking, a move, a forecast, a visit to plan."""

from datetime import date, datetime, time
from typing import Any

from django import forms
from django.utils import timezone

from agency.accounts.models import User
from agency.casework.booking import Plan
from agency.instruments.models import Instrument
from agency.jobs.models import ContactAttempt, Rebooking, Vehicle, Visit
from agency.people.models import Crew
from agency.programs.models import County

from .forms import DayField


class HourField(forms.TimeField):
    """A time of day, typed or chosen in a picker."""

    widget = forms.TimeInput(attrs={"type": "time"}, format="%H:%M")

    def __init__(self, *, missing: str, **kwargs: Any) -> None:
        words = {
            "required": missing,
            "invalid": "Enter a time such as 8:30 AM or 13:00; the time entered cannot be read.",
        }
        formats = ["%H:%M", "%I:%M %p", "%I:%M%p", "%H:%M:%S"]
        super().__init__(input_formats=formats, error_messages=words, **kwargs)


def one_of(rows: Any, *, label: str, nothing: str, **kwargs: Any) -> forms.ModelChoiceField:
    """One record of a kind, or none."""
    words = {"invalid_choice": "What was chosen is not on the list; choose from the list."}
    return forms.ModelChoiceField(
        rows, required=False, label=label, empty_label=nothing, error_messages=words, **kwargs
    )


class BookForm(forms.Form):
    """When, who and with what."""

    day = DayField(label="Day", missing="Enter the day of the visit.")
    starts = HourField(label="Begins", missing="Enter when the visit begins.")
    ends = HourField(label="Ends", missing="Enter when the visit ends.")
    crew = one_of(Crew.objects.all(), label="Crew", nothing="No crew")
    inspector = one_of(
        User.objects.filter(role=User.Role.INSPECTOR, is_active=True),
        label="Inspector",
        nothing="No inspector",
    )
    vehicle = one_of(Vehicle.objects.filter(retired_on=None), label="Vehicle", nothing="No vehicle")
    instruments = forms.ModelMultipleChoiceField(
        Instrument.objects.filter(retired_on=None),
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text="Each by its serial number; one is at one place at a time.",
    )

    def plan(self) -> Plan:
        """What was typed, in the office's zone."""
        said = self.cleaned_data
        return Plan(
            starts_at=_at(said["day"], said["starts"]),
            ends_at=_at(said["day"], said["ends"]),
            crew=said["crew"],
            inspector=said["inspector"],
            vehicle=said["vehicle"],
            instruments=list(said["instruments"]),
        )


def _at(day: date, hour: time) -> datetime:
    return datetime.combine(day, hour, tzinfo=timezone.get_current_timezone())


REASON = forms.ChoiceField(
    label="Why",
    choices=[("", "Choose a reason"), *Rebooking.Code.choices],
    error_messages={
        "required": "Choose why the booking is changed.",
        "invalid_choice": "Choose a reason from the list.",
    },
)


class CallOffForm(forms.Form):
    """Why a booking is taken out of the schedule."""

    code = REASON
    words = forms.CharField(label="More words", required=False, max_length=240)


class MoveForm(BookForm):
    """Where a booking goes, why, and whether the household knows."""

    code = REASON
    words = forms.CharField(label="More words", required=False, max_length=240)
    told = forms.ChoiceField(
        label="The household was told by",
        required=False,
        choices=[("", "Not told yet"), *ContactAttempt.Channel.choices],
        help_text="Goes to the contact log; until then the board says that it is to be done.",
    )


class ForecastForm(forms.Form):
    """The weather of a day, typed from a forecast."""

    day = DayField(label="Day", missing="Enter the day of the forecast.")
    county = one_of(County.objects.all(), label="County", nothing="All counties")
    wind_mph = forms.FloatField(label="Wind, mph", required=False, min_value=0, max_value=200)
    low_f = forms.FloatField(label="Low, °F", required=False, min_value=-80, max_value=140)
    high_f = forms.FloatField(label="High, °F", required=False, min_value=-80, max_value=140)
    words = forms.CharField(label="In words", required=False, max_length=160)
    source = forms.CharField(
        label="Where it was read",
        max_length=120,
        error_messages={"required": "Write where the forecast was read."},
    )

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        low, high = said.get("low_f"), said.get("high_f")
        if low is not None and high is not None and low > high:
            self.add_error(
                "low_f", f"The low, {low:g} °F, is above the high, {high:g} °F. Enter them anew."
            )
        return said


class PlanVisitForm(forms.Form):
    """A visit that is to be made."""

    kind = forms.ChoiceField(label="Kind of visit", choices=Visit.Kind.choices)
    on = DayField(label="Day", missing="Enter the day of the visit.")
    inspector = one_of(
        User.objects.filter(role=User.Role.INSPECTOR, is_active=True),
        label="Inspector",
        nothing="The job's crew makes it",
        help_text="Needed for a final inspection.",
    )
