"""What is typed on the way from an application to a determination and the waiting list."""

from datetime import date
from typing import Any
from uuid import UUID

from django import forms

from agency.intake.models import Application, IncomeItem, Paper
from agency.people.models import Household
from agency.programs.models import BenefitProgram, County, Fuel, Program

from .fields import AmountField, CodeChoice, CountField, RecordChoice, WordsField, not_after_today
from .forms import ANY, AnyChoice, DayField, ReasonField

MOST_PEOPLE = 30
"""A slip guard of the form; the rule book's number decides. """
MOST_MONEY = 9_999_999
BAND_WORDS = {
    "under_6": "Under 6 years",
    "aged_6_to_17": "6 to 17",
    "aged_18": "18",
    "aged_19_to_59": "19 to 59",
    "aged_60_or_over": "60 or over",
    "with_disability": "Of them with a disability",
    "native_american": "Of them Native American",
}


class Dated(forms.Form):
    """A form that knows what day it is."""

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today


class HouseholdForm(forms.Form):
    """How many people of each age live in the dwelling; no names, no birth dates."""

    under_6 = CountField(label=BAND_WORDS["under_6"], most=MOST_PEOPLE)
    aged_6_to_17 = CountField(label=BAND_WORDS["aged_6_to_17"], most=MOST_PEOPLE)
    aged_18 = CountField(label=BAND_WORDS["aged_18"], most=MOST_PEOPLE)
    aged_19_to_59 = CountField(label=BAND_WORDS["aged_19_to_59"], most=MOST_PEOPLE)
    aged_60_or_over = CountField(label=BAND_WORDS["aged_60_or_over"], most=MOST_PEOPLE)
    with_disability = CountField(label=BAND_WORDS["with_disability"], most=MOST_PEOPLE)
    native_american = CountField(label=BAND_WORDS["native_american"], most=MOST_PEOPLE)

    def clean(self) -> dict[str, int]:
        answers: dict[str, int] = super().clean() or {}
        if self.errors:
            return answers
        size = sum(answers[band] for band in Household.BANDS)
        if size == 0:
            self.add_error(
                "aged_19_to_59", "The household has 0 people. Count everyone who lives there."
            )
        for part in ("with_disability", "native_american"):
            if 0 < size < answers[part]:
                self.add_error(
                    part, f"{answers[part]} cannot be counted of {size} people. Count again."
                )
        return answers


class ApplicationForm(Dated):
    """Under which program, from when, in which tenure."""

    program = RecordChoice(
        Program.objects.all(),
        label="Program",
        empty_label="Choose a program",
        missing="Choose the program applied to.",
    )
    received_on = DayField(label="Received on", missing="Enter the day the application came in.")
    tenure = CodeChoice(
        Application.Tenure.choices,
        label="The household",
        widget=forms.RadioSelect,
        missing="Choose whether the household owns or rents the dwelling.",
    )

    def clean_received_on(self) -> Any:
        return not_after_today(self, "received_on", today=self.today, what="The application")


class FactsForm(forms.Form):
    """How income is shown, and why there is no utility release."""

    tenure = ApplicationForm.base_fields["tenure"]
    income_method = CodeChoice(
        Application.IncomeMethod.choices,
        label="How the income is shown",
        widget=forms.RadioSelect,
        missing="Choose how the income is shown.",
    )
    no_utility_release_reason = WordsField(
        label="Why there is no release of utility bills",
        max_length=240,
        help_text="Leave empty when there is one, or it is still awaited.",
    )


class IncomeForm(Dated):
    """One income."""

    kind = CodeChoice(
        [("", "Choose a kind"), *IncomeItem.Kind.choices],
        label="Kind of income",
        missing="Choose the kind of income.",
    )
    earner = CodeChoice(
        IncomeItem.Earner.choices, label="Received by", missing="Choose who received it."
    )
    amount = AmountField(
        label="Amount received",
        most=MOST_MONEY,
        missing="Enter what was received, before taxes.",
        help_text="For all months looked at, not for one month.",
    )
    proof = WordsField(label="Paper that shows it", max_length=120)
    proof_seen_on = DayField(label="Paper seen on", missing="", required=False)

    def clean_proof_seen_on(self) -> Any:
        return not_after_today(self, "proof_seen_on", today=self.today, what="The day")


class BenefitForm(Dated):
    """One benefit."""

    program = RecordChoice(
        BenefitProgram.objects.none(),
        label="Benefit",
        empty_label="Choose a benefit",
        missing="Choose the benefit; the list holds those that count here today.",
    )
    last_paid_on = DayField(label="Last paid on", missing="Enter the day it was last paid.")
    proof_seen_on = DayField(label="Proof seen on", missing="", required=False)

    def __init__(self, *args: Any, state: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        counting = BenefitProgram.objects.in_force(self.today).filter(state__in=["", state])
        self.fields["program"].queryset = counting  # type: ignore[attr-defined]

    def clean_last_paid_on(self) -> Any:
        return not_after_today(self, "last_paid_on", today=self.today, what="The payment")

    def clean_proof_seen_on(self) -> Any:
        return not_after_today(self, "proof_seen_on", today=self.today, what="The day")


class EnergyForm(forms.Form):
    """Energy of one fuel in 12 months."""

    fuel = CodeChoice(
        [("", "Choose a fuel"), *Fuel.choices], label="Fuel", missing="Choose the fuel."
    )
    used = AmountField(
        label="Used in 12 months",
        most=999_999,
        decimal_places=1,
        help_text="Gas in Mcf, electricity in kWh, propane and oil in gallons, wood in cords.",
    )
    cost = AmountField(
        label="Paid in 12 months, $", most=99_999, missing="Enter what was paid in 12 months."
    )


class PaperForm(Dated):
    """A paper that was seen."""

    kind = CodeChoice(
        [("", "Choose a paper"), *Paper.Kind.choices],
        label="Paper",
        missing="Choose which paper was seen.",
    )
    seen_on = DayField(label="Seen on", missing="Enter the day it was seen.")
    note = WordsField(label="Note", max_length=240, help_text="For example: lease of May 2026.")

    def clean_seen_on(self) -> Any:
        return not_after_today(self, "seen_on", today=self.today, what="The day")


class AskForm(Dated):
    """What the household is asked for."""

    what = ReasonField(
        label="What is missing", missing="Write which papers the household is asked for."
    )
    due_on = DayField(label="Due on", missing="Enter the day by which the papers are due.")

    def clean_due_on(self) -> Any:
        due: date = self.cleaned_data["due_on"]
        if due <= self.today:
            raise forms.ValidationError(
                f"The papers must be due after today, {self.today:%m/%d/%Y}. "
                f"You entered {due:%m/%d/%Y}."
            )
        return due


class DetermineForm(forms.Form):
    """The worker's word that nobody decides for the own family."""

    is_unrelated = forms.BooleanField(
        label="I am not related to anyone in this household, and nobody in it works with me.",
        error_messages={
            "required": "Tick this if it is true. If it is not, ask a colleague to determine."
        },
    )


class DenyForm(forms.Form):
    """Why an application is denied."""

    reason = ReasonField(
        label="Reason, as the letter says it",
        missing="Write the reason; the household reads it and may appeal.",
    )


class EndForm(forms.Form):
    """Why an application ends; its number is typed to confirm."""

    reason = ReasonField(label="Reason", missing="Write why the application is withdrawn.")
    number = WordsField(
        label="Application number, to confirm",
        max_length=20,
        missing="Type the application number to confirm.",
    )

    def __init__(self, *args: Any, expected: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.expected = expected
        self.fields["number"].help_text = f"Type {expected}."

    def clean_number(self) -> str:
        typed: str = self.cleaned_data["number"]
        if typed.strip() != self.expected:
            raise forms.ValidationError(
                f"Type {self.expected} to withdraw it. You entered {typed}."
            )
        return typed


class EmergencyForm(forms.Form):
    """Why a household goes first."""

    reason = ReasonField(
        label="Emergency",
        longest=240,
        missing="Write what the emergency is; it stays beside the rank.",
    )


class DisasterForm(forms.Form):
    """What damaged a dwelling that was weatherized before."""

    reason = ReasonField(
        label="Disaster",
        longest=240,
        missing="Write which disaster damaged the dwelling, and when.",
    )


class TakeOutForm(forms.Form):
    """An income or a benefit that was entered by mistake."""

    kind = forms.ChoiceField(choices=[("income", "Income"), ("benefit", "Benefit")])
    item = forms.TypedChoiceField(coerce=UUID)

    def __init__(self, *args: Any, items: list[UUID], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choices = [(str(item), "") for item in items]
        self.fields["item"].choices = choices  # type: ignore[attr-defined]
        self.fields["item"].error_messages["invalid_choice"] = (
            "This entry is not in the application any more. Load the page again."
        )


class ApplicationFilter(forms.Form):
    """Filters and order of the applications list, as they stand in the address."""

    SHOWN = {
        "": "All",
        "open": "Open",
        "undecided": "To be decided",
        "overdue": "Papers overdue",
        "renew": "To renew",
        "no_permission": "Rental without permission",
    }
    ORDERS = {
        "newest": ("-received_on", "-number"),
        "oldest": ("received_on", "number"),
        "client": ("client__name", "number"),
        "address": ("house__address", "house__unit", "number"),
    }
    ORDER_WORDS = {
        "newest": "Newest first",
        "oldest": "Oldest first",
        "client": "By client",
        "address": "By address",
    }

    q = forms.CharField(
        required=False,
        label="Number, name or address",
        max_length=120,
        widget=forms.TextInput(attrs={"type": "search", "autocomplete": "off"}),
    )
    show = forms.ChoiceField(
        required=False,
        label="Show",
        choices=list(SHOWN.items()),
        error_messages={"invalid_choice": "%(value)s is not a list; choose one from the list."},
    )
    status = forms.ChoiceField(
        required=False,
        choices=[ANY, *Application.Status.choices],
        error_messages={"invalid_choice": "%(value)s is not a status; choose one from the list."},
    )
    program = AnyChoice(Program.objects.all())
    sort = forms.ChoiceField(required=False, label="Order", choices=list(ORDER_WORDS.items()))


class WaitingFilter(forms.Form):
    """Whose waiting list."""

    program = AnyChoice(Program.objects.all())
    county = AnyChoice(County.objects.all())
