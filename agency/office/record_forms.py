"""What is typed to register clients, houses, buildings and jobs."""

from datetime import date
from typing import Any

from django import forms

from agency.houses.models import Building, House
from agency.people.models import Client, Crew
from agency.programs.models import County, Fuel, Program

from .fields import CodeChoice, CountField, RecordChoice, WordsField, not_after_today
from .forms import DayField

FIRST_YEAR = 1700
MOST_UNITS = 500


class ClientForm(forms.Form):
    """Whom the agency deals with."""

    name = WordsField(
        label="Name of the client",
        missing="Enter the name of the client as they write it.",
        widget=forms.TextInput(attrs={"autocomplete": "off", "dir": "auto"}),
    )
    phone = WordsField(label="Telephone", max_length=32)
    email = forms.EmailField(
        label="E-mail",
        required=False,
        error_messages={"invalid": "Enter an address such as name@quillmoor.example."},
    )
    language = CodeChoice(
        Client.Language.choices,
        label="Language",
        missing="Choose the language the household reads.",
    )


class HouseForm(forms.Form):
    """Where a dwelling stands and what kind it is; sizes follow at the audit."""

    address = WordsField(
        label="Street address", missing="Enter the street address, with the house number first."
    )
    unit = WordsField(label="Unit", max_length=20, help_text="For example: Apt 2, Lot 14.")
    city = WordsField(label="Town", max_length=80, missing="Enter the town.")
    state = WordsField(
        label="State", max_length=2, missing="Enter the state in two letters, such as QM."
    )
    postal_code = WordsField(
        label="ZIP code", max_length=10, missing="Enter the ZIP code, 5 or 9 digits."
    )
    county = RecordChoice(
        County.objects.all(),
        label="County",
        empty_label="Choose a county",
        missing="Choose the county the dwelling stands in.",
    )
    parcel = WordsField(
        label="Parcel number", max_length=40, help_text="From the county; finds earlier work."
    )
    dwelling = CodeChoice(
        [("", "Choose a kind"), *House.Dwelling.choices],
        label="Kind of dwelling",
        missing="Choose the kind of dwelling.",
    )
    year_built = forms.IntegerField(
        label="Year built",
        required=False,
        min_value=FIRST_YEAR,
        widget=forms.TextInput(attrs={"inputmode": "numeric"}),
        error_messages={
            "invalid": "Enter the year in four digits, such as 1958.",
            "min_value": f"Enter a year from {FIRST_YEAR} on. You entered %(show_value)s.",
        },
    )
    heating_fuel = forms.ChoiceField(
        label="Heating fuel",
        required=False,
        choices=[("", "Not known"), *Fuel.choices],
        error_messages={"invalid_choice": "%(value)s is not on the list; choose from the list."},
    )

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today

    def clean_state(self) -> str:
        return str(self.cleaned_data["state"]).upper()

    def clean_year_built(self) -> int | None:
        year: int | None = self.cleaned_data["year_built"]
        if year is not None and year > self.today.year:
            raise forms.ValidationError(
                f"The year built cannot lie after {self.today.year}. You entered {year}."
            )
        return year


class UnitForm(forms.Form):
    """One more unit of a building."""

    unit = WordsField(label="Unit", max_length=20, missing="Enter the unit, such as 2B.")
    is_vacant = forms.BooleanField(label="Nobody lives here now", required=False)


class BuildingForm(forms.Form):
    """A building of several units."""

    name = WordsField(label="Name of the building", max_length=80, missing="Enter a name.")
    address = WordsField(label="Street address", missing="Enter the street address.")
    city = WordsField(label="Town", max_length=80, missing="Enter the town.")
    state = WordsField(label="State", max_length=2, missing="Enter the state in two letters.")
    postal_code = WordsField(label="ZIP code", max_length=10, missing="Enter the ZIP code.")
    county = RecordChoice(
        County.objects.all(),
        label="County",
        empty_label="Choose a county",
        missing="Choose the county the building stands in.",
    )
    parcel = WordsField(label="Parcel number", max_length=40)
    units_total = CountField(
        label="Units in the building", most=MOST_UNITS, help_text="Vacant ones too; 2 or more."
    )
    tested = forms.ChoiceField(
        label="How it is tested",
        required=False,
        choices=[("", "Not decided"), *Building.Tested.choices],
        error_messages={"invalid_choice": "%(value)s is not on the list; choose from the list."},
    )
    units_promised = CountField(
        label="Units promised",
        most=MOST_UNITS,
        help_text="To become eligible under a government rehabilitation program.",
    )
    promised_by = DayField(label="Promised by", missing="", required=False)

    def clean_units_total(self) -> int:
        total: int = self.cleaned_data["units_total"]
        if total < 2:
            raise forms.ValidationError(
                f"A building has at least 2 units; you entered {total}. "
                "Register a single dwelling as a house."
            )
        return total

    def clean(self) -> dict[str, Any]:
        answers = super().clean() or {}
        promised, total = answers.get("units_promised", 0), answers.get("units_total")
        if promised and not answers.get("promised_by"):
            self.add_error("promised_by", "Enter the day by which the units become eligible.")
        if total is not None and promised > total:
            self.add_error(
                "units_promised",
                f"The building has {total} units; {promised} cannot be promised.",
            )
        return answers


class PermissionForm(forms.Form):
    """The owner's written permission for a rented dwelling."""

    owner_name = WordsField(label="Name of the owner", missing="Enter the name of the owner.")
    owner_phone = WordsField(label="Telephone of the owner", max_length=32)
    signed_on = DayField(label="Signed on", missing="Enter the day the owner signed.")
    rent_held_until = DayField(
        label="Rent held until",
        missing="Enter the day until which the rent does not rise because of the work.",
    )

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today

    def clean_signed_on(self) -> Any:
        return not_after_today(self, "signed_on", today=self.today, what="The signature")

    def clean(self) -> dict[str, Any]:
        answers = super().clean() or {}
        signed, held = answers.get("signed_on"), answers.get("rent_held_until")
        if signed and held and held <= signed:
            self.add_error(
                "rent_held_until",
                f"It must lie after the signature of {signed:%m/%d/%Y}. "
                f"You entered {held:%m/%d/%Y}.",
            )
        return answers


class OpenJobForm(forms.Form):
    """A job's number, crew and first day."""

    number = WordsField(
        label="Job number", max_length=20, missing="Enter a job number, such as QC-26-0123."
    )
    crew = RecordChoice(
        Crew.objects.all(),
        label="Crew",
        empty_label="Choose a crew",
        missing="Choose the crew that gets the job.",
    )
    on = DayField(label="Opened on", missing="Enter the day the job is opened.")

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today

    def clean_on(self) -> Any:
        return not_after_today(self, "on", today=self.today, what="The day")


class NewJobForm(OpenJobForm):
    """A job without an application: its program is chosen too."""

    program = RecordChoice(
        Program.objects.all(),
        label="Program",
        empty_label="Choose a program",
        missing="Choose the program that pays for the job.",
    )
    field_order = ["program", "number", "crew", "on"]
