"""What a person may type about bills, actual weather and changes in a house."""

from datetime import date
from typing import Any

from django import forms

from agency.estimates.bill_files import LARGEST_FILE, DateOrder, Ending
from agency.estimates.bill_reading import all_units
from agency.estimates.bill_studies import BillStudy, NonRoutineChange
from agency.estimates.billing import UtilityAccount
from agency.estimates.daily_means import Degrees
from agency.estimates.espi import Grouping
from agency.programs.models import Fuel, Program

from .forms import DayField, ReasonField

SEPARATORS = {"comma": ",", "semicolon": ";", "tab": "\t"}
BTU_RANGE = (500, 1500)
"""Heat content of fuel gas. [Btu/ft³]  Common practice, no source: it only catches slips."""


class UploadField(forms.FileField):
    """A file from the sender's own machine."""

    def __init__(self, *, missing: str, **kwargs: Any) -> None:
        words = {
            "required": missing,
            "empty": "The file is empty. Choose another one.",
            "missing": missing,
        }
        super().__init__(error_messages=words, **kwargs)

    def clean(self, data: Any, initial: Any = None) -> Any:
        file = super().clean(data, initial)
        if file is not None and file.size > LARGEST_FILE:
            raise forms.ValidationError(
                f"The file has {file.size:,} bytes; {LARGEST_FILE:,} are allowed. Ask for fewer "
                "years, or for daily in place of hourly readings."
            )
        return file


class AccountForm(forms.Form):
    """Which fuel the house buys."""

    fuel = forms.ChoiceField(
        choices=[("", "Choose a fuel"), *Fuel.choices],
        error_messages={
            "required": "Choose the fuel of the account.",
            "invalid_choice": "%(value)s is not on the list; choose a fuel from it.",
        },
    )


class OfAccount(forms.Form):
    """A form about one of the house's accounts."""

    account = forms.ModelChoiceField(
        UtilityAccount.objects.none(),
        empty_label=None,
        error_messages={
            "required": "Choose the account.",
            "invalid_choice": "The account chosen is not of this house; choose from the list.",
        },
    )

    def __init__(self, *args: Any, accounts: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["account"].queryset = accounts  # type: ignore[attr-defined]


class UploadForm(OfAccount):
    """What every bill file needs."""

    file = UploadField(label="File", missing="Choose the file of bills.")
    btu_per_cubic_foot = forms.FloatField(
        label="Heat content of gas, Btu per cubic foot",
        required=False,
        min_value=BTU_RANGE[0],
        max_value=BTU_RANGE[1],
        help_text="Only when the file counts volumes: it is printed on the bill.",
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
        error_messages={
            "invalid": "Enter the heat content as a number such as 1036.",
            "min_value": f"The heat content must be {BTU_RANGE[0]} to {BTU_RANGE[1]} Btu per "
            "cubic foot. Look at the bill again.",
            "max_value": f"The heat content must be {BTU_RANGE[0]} to {BTU_RANGE[1]} Btu per "
            "cubic foot. Look at the bill again.",
        },
    )
    corrections = forms.BooleanField(
        label="Energies below 0 in this file are corrections", required=False
    )


class CsvForm(UploadForm):
    """How a CSV file names its columns and writes its values."""

    field_order = ["account", "file", "start", "end", "energy", "estimated", "unit"]

    start = forms.CharField(
        label="Heading of the start date",
        max_length=80,
        error_messages={"required": "Enter the heading of the column with the start dates."},
    )
    end = forms.CharField(
        label="Heading of the end date",
        max_length=80,
        error_messages={"required": "Enter the heading of the column with the end dates."},
    )
    energy = forms.CharField(
        label="Heading of the energy",
        max_length=80,
        error_messages={"required": "Enter the heading of the column with the energy billed."},
    )
    estimated = forms.CharField(
        label="Heading of the reading's kind",
        max_length=80,
        required=False,
        help_text="The column that tells estimated readings from real ones.",
    )
    unit = forms.ChoiceField(
        choices=[(unit, unit) for unit in all_units()],
        error_messages={"required": "Choose the unit of the energy."},
    )
    ending = forms.ChoiceField(
        label="The end date is",
        choices=[
            (Ending.READING_DAY.value, "the day of the closing reading"),
            (Ending.LAST_DAY.value, "the last day billed"),
        ],
    )
    order = forms.ChoiceField(
        label="In dates such as 03/04/2025",
        choices=[
            (DateOrder.SHOWN_BY_THE_FILE.value, "the file itself shows which comes first"),
            (DateOrder.MONTH_FIRST.value, "the month comes first"),
            (DateOrder.DAY_FIRST.value, "the day comes first"),
        ],
    )
    delimiter = forms.ChoiceField(
        label="Values are parted by a",
        choices=[(name, name) for name in SEPARATORS],
    )


class EspiForm(UploadForm):
    """Which element of an ESPI feed is one bill."""

    field_order = ["account", "file", "grouping"]

    grouping = forms.ChoiceField(
        label="One bill is",
        choices=[
            (Grouping.SUMMARY.value, "a billed period (UsageSummary)"),
            (Grouping.BLOCK.value, "a block of readings (IntervalBlock)"),
            (Grouping.READING.value, "a single reading (IntervalReading)"),
        ],
    )


class StudyForm(OfAccount):
    """By which model the bills of an account are compared."""

    model = forms.ChoiceField(
        label="What the energy is used for",
        choices=BillStudy.Model.choices,
        error_messages={"required": "Choose the model."},
    )


class ChangeForm(forms.Form):
    """What else changed in the house."""

    kind = forms.ChoiceField(label="What changed", choices=NonRoutineChange.Kind.choices)
    since = DayField(label="Since", missing="Enter the day since which it is so.")
    note = forms.CharField(
        label="In words",
        max_length=240,
        help_text="For example: two people moved in; an electric car is charged at home.",
        error_messages={"required": "Write what changed, so that others understand it."},
    )

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today

    def clean_since(self) -> date:
        since: date = self.cleaned_data["since"]
        if since > self.today:
            raise forms.ValidationError(
                f"The change cannot lie after today, {self.today:%m/%d/%Y}. "
                f"You entered {since:%m/%d/%Y}."
            )
        return since


class ConfirmChangeForm(forms.Form):
    """Why a job counts in spite of a change."""

    reason = ReasonField(
        label="Why does the job count all the same?",
        help_text="Your name and this reason stand beside the change.",
        missing="Write why the job counts all the same; your name is kept beside it.",
    )


class UndoForm(forms.Form):
    """Why an import is taken back."""

    reason = ReasonField(
        label="Why is the import undone?",
        help_text="Every row of the file is taken out; the file itself stays.",
        missing="Write why the import is undone; the file keeps the reason.",
    )


DEGREES = [(Degrees.FAHRENHEIT.value, "°F"), (Degrees.CELSIUS.value, "°C")]


class DaysForm(forms.Form):
    """A file of daily means."""

    file = UploadField(
        label="CSV file",
        help_text='Columns "day" (2025-01-31) and "mean". Leave out days that were not measured.',
        missing="Choose the file of daily means.",
    )
    degrees = forms.ChoiceField(label="Unit of the means", choices=DEGREES)


class TypedDayForm(forms.Form):
    """One day read elsewhere."""

    day = DayField(label="Day", missing="Enter the day.")
    mean = forms.FloatField(
        label="Mean temperature",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
        error_messages={
            "required": "Enter the mean temperature of the day.",
            "invalid": "Enter the mean as a number such as 41.5 or -3.",
        },
    )
    degrees = forms.ChoiceField(label="Unit", choices=DEGREES)

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today

    def clean_day(self) -> date:
        day: date = self.cleaned_data["day"]
        if day >= self.today:
            raise forms.ValidationError(
                f"A mean is known once the day is over. You entered {day:%m/%d/%Y}."
            )
        return day


class GrantForm(forms.Form):
    """Which grant's homes."""

    program = forms.ModelChoiceField(
        Program.objects.all(),
        empty_label=None,
        error_messages={
            "required": "Choose a program.",
            "invalid_choice": "What was chosen is not on the list; choose from the list.",
        },
    )
