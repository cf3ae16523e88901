"""The final inspection's form as an inspector types it."""

from datetime import date
from typing import Any

from django import forms

from agency.casework.inspecting import Found, SignedForm
from agency.jobs.models import Finding, Inspection

from .forms import DayField


class InspectionForm(forms.Form):
    """Outcome of a final inspection."""

    on = DayField(label="Day of the inspection", missing="Enter the day of the inspection.")
    passed = forms.TypedChoiceField(
        label="Outcome",
        choices=[("yes", "Passed"), ("no", "Failed, back to the crew")],
        coerce=lambda answer: answer == "yes",
        widget=forms.RadioSelect,
        error_messages={"required": "Choose whether the inspection was passed or failed."},
    )
    note = forms.CharField(
        label="Findings",
        required=False,
        max_length=4000,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="Needed when the inspection failed: the crew reads it. A line is a finding.",
    )
    severity = forms.ChoiceField(
        label="How grave are these findings?",
        required=False,
        choices=Finding.Severity.choices,
        initial=Finding.Severity.MAJOR,
    )
    touches = forms.ChoiceField(
        label="What do they touch?",
        required=False,
        choices=Finding.Touches.choices,
        help_text="A finding that touches envelope or combustion asks for a new test.",
    )
    basis = forms.ChoiceField(
        label="What does the inspection rest on?",
        required=False,
        choices=Inspection.Basis.choices,
        initial=Inspection.Basis.OWN_TEST,
    )
    basis_reason = forms.CharField(
        label="Why could the crew's test be relied on?",
        required=False,
        max_length=400,
        help_text="Needed only where you did not test yourself.",
    )
    signed_as = forms.CharField(
        label="Signed by",
        required=False,
        max_length=160,
        help_text="As on the signed form; empty: your own name.",
    )

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today

    def signed(self) -> SignedForm:
        """The form as it is kept."""
        said = self.cleaned_data
        severity = said["severity"] or Finding.Severity.MAJOR
        touches = said["touches"] or Finding.Touches.NEITHER
        lines = [line.strip() for line in said["note"].splitlines() if line.strip()]
        return SignedForm(
            on=said["on"],
            passed=said["passed"],
            note=said["note"],
            basis=said["basis"] or Inspection.Basis.OWN_TEST,
            basis_reason=said["basis_reason"],
            signed_as=said["signed_as"],
            findings=[
                Found(words=line[:400], severity=severity, touches=touches) for line in lines
            ],
        )

    def clean_on(self) -> date:
        on: date = self.cleaned_data["on"]
        if on > self.today:
            raise forms.ValidationError(
                f"The inspection cannot lie after today, {self.today:%m/%d/%Y}. "
                f"You entered {on:%m/%d/%Y}."
            )
        return on

    def clean(self) -> dict[str, Any]:
        answers = super().clean() or {}
        if answers.get("passed") is False and not answers.get("note"):
            self.add_error("note", "Write what was found; the crew must know what to put right.")
        return answers
