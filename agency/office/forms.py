"""What a person may type at a desk; records and workflows check the rules."""

from typing import Any
from uuid import UUID

from django import forms

from agency.accounts.models import User
from agency.certificates.models import Handover
from agency.diagnostics.models import SideSwap
from agency.jobs.models import Job
from agency.people.models import Crew
from agency.programs.models import Program

ANY = ("", "Any")
LONGEST_LINES = 1500
"""Characters that a certificate still holds on its second page. Own choice, by eye."""


class DayField(forms.DateField):
    """A day, typed in the order people write it here or chosen in a picker."""

    widget = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")

    def __init__(self, *, missing: str, **kwargs: Any) -> None:
        words = {
            "required": missing,
            "invalid": "Enter a real date such as 11/25/2026; the day entered cannot be read.",
        }
        super().__init__(input_formats=["%Y-%m-%d", "%m/%d/%Y"], error_messages=words, **kwargs)


class ReasonField(forms.CharField):
    """A reason in the person's own words; blanks alone are none."""

    widget = forms.Textarea(attrs={"rows": 3})

    def __init__(self, *, missing: str, longest: int = 1000, **kwargs: Any) -> None:
        words = {
            "required": missing,
            "max_length": f"Shorten the reason to {longest} characters; it has %(show_value)s.",
        }
        super().__init__(max_length=longest, error_messages=words, **kwargs)


class AnyChoice(forms.ModelChoiceField):
    """One record of a kind, or any."""

    def __init__(self, queryset: Any, **kwargs: Any) -> None:
        words = {"invalid_choice": "What was chosen is not on the list; choose from the list."}
        super().__init__(
            queryset, required=False, empty_label="Any", error_messages=words, **kwargs
        )


class JobFilter(forms.Form):
    """Filters and order of the jobs list, as they stand in the address."""

    ORDERS = {
        "newest": ("-opened_on", "-number"),
        "oldest": ("opened_on", "number"),
        "client": ("client__name", "number"),
        "address": ("house__address", "house__unit", "number"),
        "status": ("status", "-opened_on", "-number"),
    }

    ORDER_WORDS = {
        "newest": "Newest first",
        "oldest": "Oldest first",
        "client": "By client",
        "address": "By address",
        "status": "By status",
    }

    q = forms.CharField(
        required=False,
        label="Number, name or address",
        max_length=120,
        widget=forms.TextInput(attrs={"type": "search", "autocomplete": "off"}),
    )
    status = forms.ChoiceField(
        required=False,
        choices=[ANY, *Job.Status.choices],
        error_messages={"invalid_choice": "%(value)s is not a status; choose one from the list."},
    )
    crew = AnyChoice(Crew.objects.all())
    program = AnyChoice(Program.objects.all())
    sort = forms.ChoiceField(required=False, label="Order", choices=list(ORDER_WORDS.items()))


class ReturnForm(forms.Form):
    """Why a test run goes back to its crew."""

    reason = ReasonField(
        label="Reason for the crew",
        help_text="Say what is wrong and what to measure again.",
        missing="Write why this test run goes back; the crew reads it on the phone.",
    )


class ConfirmForm(forms.Form):
    """Why an odd value stands as it was sent."""

    code = forms.CharField(widget=forms.HiddenInput, max_length=80)
    reason = ReasonField(
        label="Why does this value stand?",
        help_text="Your name and this reason stay with the test run.",
        missing="Write why the value stands as it was sent; your name is kept beside it.",
    )


class SwapForm(forms.Form):
    """Which channel's sides were swapped, and how one knows."""

    channel = forms.ChoiceField(
        choices=SideSwap.Channel.choices,
        widget=forms.RadioSelect,
        error_messages={"required": "Choose the channel whose sides were swapped."},
    )
    reason = ReasonField(
        label="How do you know?",
        help_text="Your name and this reason stay with the test run; the readings stay as read.",
        missing="Write how you know that the sides were swapped; your name is kept beside it.",
    )


class WithdrawForm(forms.Form):
    """Why a job ends without being counted; its number is typed to confirm."""

    reason = ReasonField(label="Reason", missing="Write why the job is withdrawn.")
    number = forms.CharField(
        label="Job number, to confirm",
        max_length=20,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
        error_messages={"required": "Type the job number to confirm."},
    )

    def __init__(self, *args: Any, job: Job, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.job = job
        self.fields["number"].help_text = f"Type {job.number}."

    def clean_number(self) -> str:
        typed: str = self.cleaned_data["number"]
        if typed.strip() != self.job.number:
            raise forms.ValidationError(
                f"Type {self.job.number} to withdraw this job. You entered {typed}."
            )
        return typed


class NoBeforeTestForm(forms.Form):
    """Why no test before the work could be made."""

    reason = ReasonField(
        label="Why was no test made before the work?",
        help_text="For example: combustion safety, client refused, work had begun.",
        missing="Write why no test before the work could be made.",
        longest=240,
    )


class WorkStartedForm(forms.Form):
    """First working day."""

    on = DayField(
        label="First working day",
        missing="Enter the day the work began.",
        help_text="Tests from this day on do not count as before the work.",
    )


class AcknowledgeStopForm(forms.Form):
    """Who has read a safety stop."""

    name = forms.CharField(
        label="Name of whoever has read it",
        help_text="The person at the house; your own sign-in is kept beside it.",
        max_length=160,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
        error_messages={
            "required": "Type the name of whoever has read this safety stop.",
            "max_length": "Shorten the name to 160 characters; it has %(show_value)s.",
        },
    )


class ClearStopForm(forms.Form):
    """Why work may go on after a safety stop."""

    reason = ReasonField(
        label="What was found and put right",
        help_text="Your name and this reason stay in the history of the job.",
        missing="Write what was found and put right; without it the stop is not cleared.",
    )


class ExceptRunForm(forms.Form):
    """One test run that may stand although its instrument is in doubt."""

    run = forms.TypedChoiceField(
        label="Test run",
        coerce=UUID,
        error_messages={
            "required": "Choose the test run that may stand.",
            "invalid_choice": "This test run is not in doubt any more; choose one from the list.",
        },
    )
    reason = ReasonField(
        label="Why may it stand?",
        help_text="Your name and this reason are shown wherever the test run is.",
        missing="Write why the readings may stand; your name is kept beside it.",
    )

    def __init__(self, *args: Any, runs: list[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["run"].choices = runs  # type: ignore[attr-defined]


class ExceptPeriodForm(forms.Form):
    """Days on which every test run may stand although the instrument is in doubt."""

    from_day = DayField(label="First day", missing="Enter the first day of the period.")
    to_day = DayField(label="Last day", missing="Enter the last day of the period.")
    reason = ReasonField(
        label="Why may the readings of these days stand?",
        help_text="Your name and this reason are shown wherever these test runs are.",
        missing="Write why the readings may stand; your name is kept beside it.",
    )


class PairForm(forms.Form):
    """Who is to carry a phone."""

    user = forms.ModelChoiceField(
        User.objects.filter(is_active=True),
        label="Carried by",
        empty_label="Choose a person",
        error_messages={
            "required": "Choose who carries the phone.",
            "invalid_choice": "Choose a person from the list; the one sent is not on it.",
        },
    )


class LinesField(forms.CharField):
    """One line a thing, each with a colon between what it is and what is said of it."""

    widget = forms.Textarea(attrs={"rows": 4, "dir": "auto"})

    def __init__(self, *, example: str, **kwargs: Any) -> None:
        self.example = example
        super().__init__(required=False, max_length=LONGEST_LINES, **kwargs)

    def clean(self, value: Any) -> str:
        """The lines without blank ones; the first without a colon is named."""
        lines = [line.strip() for line in super().clean(value).splitlines() if line.strip()]
        for number, line in enumerate(lines, start=1):
            before, colon, after = line.partition(":")
            if not (colon and before.strip() and after.strip()):
                raise forms.ValidationError(
                    f'Line {number}, "{line[:40]}", has no colon between two parts. '
                    f"Write it like this: {self.example}"
                )
        return "\n".join(lines)


class HandoverForm(forms.ModelForm):
    """What the household is told beside its tests, in its own language."""

    work = LinesField(
        label="Work done, one line a room",
        help_text="For example: Attic: sealed around pipes, added insulation",
        example="Attic: sealed around pipes, added insulation",
    )
    ventilation = forms.CharField(
        label="Ventilation fitted, and how to use it",
        required=False,
        max_length=LONGEST_LINES,
        widget=forms.Textarea(attrs={"rows": 2, "dir": "auto"}),
    )
    alarms = LinesField(
        label="Alarms fitted, one line an alarm",
        help_text="With the year to replace it. For example: Smoke alarm, hall: replace in 2036",
        example="Smoke alarm, hall: replace in 2036",
    )

    class Meta:
        model = Handover
        fields = ["work", "ventilation", "alarms", "lead_safe", "inspector_certificate"]
        labels = {
            "lead_safe": "Lead-safe methods",
            "inspector_certificate": "Certificate number of the final inspector",
        }

    def __init__(self, *args: Any, language: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["work"].help_text = f"In {language}. {self.fields['work'].help_text}"
        self.fields["ventilation"].help_text = f"In {language}, as the household will read it."
        self.fields["inspector_certificate"].help_text = ""
        self.fields["lead_safe"].help_text = ""
        self.fields["lead_safe"].choices = [  # type: ignore[attr-defined]
            ("", "Not recorded"),
            *Handover.LeadSafe.choices,
        ]


class ReissueForm(forms.Form):
    """Why a new certificate takes the place of the present one."""

    reason = ReasonField(
        label="Why is it issued again?",
        help_text="The new certificate names the one it replaces; the old one is kept.",
        missing="Write why the certificate is issued again.",
        longest=240,
    )
