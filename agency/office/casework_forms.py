"""What is typed about a job on its way: evidence, deferrals, contacts, findings, changes."""

from typing import Any

from django import forms

from agency.casework.gates import Gate
from agency.jobs.models import ContactAttempt, Deferral, Finding, Job, Reopening
from agency.letters.models import Letter
from agency.people.models import Client

from .forms import DayField, ReasonField


class StepForm(forms.Form):
    """Why a step is taken that ends a job early."""

    reason = ReasonField(label="Reason", missing="Write why; the reason stays in the history.")


class ProofForm(forms.Form):
    """A piece of evidence, or why this job needs none."""

    piece = forms.ChoiceField(
        label="What is it?",
        error_messages={
            "required": "Choose what is recorded.",
            "invalid_choice": "This is not asked for now; choose from the list.",
        },
    )
    said = forms.CharField(
        label="What it says, or where it is",
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 3}),
        error_messages={"required": "Write what the paper says or where it is."},
    )
    dated_on = DayField(label="Its day", missing="Enter the day of the paper or of the act.")
    not_needed = forms.BooleanField(
        label="This job needs none: the words above say why", required=False
    )

    def __init__(self, *args: Any, gates: list[Gate], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        asked = {one.code: one.name for gate in gates for one in gate.pieces if one.may_be_recorded}
        choices = [("", "Choose"), *asked.items()]
        self.fields["piece"].choices = choices  # type: ignore[attr-defined]

    @property
    def has_choices(self) -> bool:
        """Whether anything can be recorded now."""
        return len(self.fields["piece"].choices) > 1  # type: ignore[attr-defined]


class DeferralForm(forms.ModelForm):
    """A deferral as it is proposed."""

    reasons = forms.MultipleChoiceField(
        label="Reasons",
        choices=Deferral.Reason.choices,
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Choose at least one reason."},
    )
    notice_given_on = DayField(
        label="Notice given on", missing="Enter the day the household was told."
    )
    review_on = DayField(label="Look again on", missing="Enter the day to look again.")

    class Meta:
        model = Deferral
        fields = (
            "reasons",
            "words",
            "cure",
            "referral",
            "notice_given_on",
            "language",
            "review_on",
        )
        labels = {
            "words": "What was found, in plain words",
            "cure": "What puts it right, and who does it",
            "referral": "Who may help",
            "language": "Language of the notice",
        }
        help_texts = {
            "words": "In the language of the notice: the letter prints it as it is written.",
            "cure": "In the language of the notice.",
        }
        widgets = {
            name: forms.Textarea(attrs={"rows": 3}) for name in ("words", "cure", "referral")
        }
        error_messages = {
            "words": {"required": "Write what was found; the household reads it."},
            "cure": {"required": "Write what puts it right; the household reads it."},
        }


class EndDeferralForm(forms.Form):
    """How a deferral ended, and where its job goes."""

    how = forms.ChoiceField(
        label="How did it end?",
        choices=Deferral.End.choices,
        widget=forms.RadioSelect,
        error_messages={"required": "Choose whether it was cured or its time is up."},
    )
    proof = ReasonField(
        label="Proof of the cure, or the letter",
        missing="Write how the cure was seen, or which letter was sent.",
    )
    goal = forms.ChoiceField(
        label="The job goes to",
        choices=[
            ("audit_review", "Audit review"),
            ("waitlisted", "The waiting list"),
            ("cancelled", "Cancelled"),
        ],
        widget=forms.RadioSelect,
        error_messages={"required": "Choose where the job goes."},
    )


class ContactForm(forms.ModelForm):
    """One attempt to reach a household."""

    class Meta:
        model = ContactAttempt
        fields = ("channel", "outcome", "language", "with_interpreter", "visit", "summary")
        labels = {
            "language": "Language spoken or written",
            "with_interpreter": "With an interpreter",
            "visit": "About the visit",
            "summary": "What was said",
        }

    def __init__(self, *args: Any, job: Job, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["visit"].queryset = job.visits.all()  # type: ignore[attr-defined]
        self.fields["visit"].empty_label = "No visit in particular"  # type: ignore[attr-defined]
        self.initial.setdefault("language", job.client.language or Client.Language.ENGLISH)


class CloseFindingForm(forms.Form):
    """What shows that a finding is put right."""

    evidence = ReasonField(
        label="What was done, and how it can be seen",
        missing="Write what was done and how it can be seen; without it the finding stays open.",
    )
    photo = forms.TypedChoiceField(
        label="Photo that shows it", required=False, coerce=str, empty_value=None
    )

    def __init__(self, *args: Any, finding: Finding, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        photos = finding.job.photos.only("pk", "caption")
        named = [(str(one.pk), one.caption or str(one.pk)[:8]) for one in photos]
        self.fields["photo"].choices = [("", "No photo"), *named]  # type: ignore[attr-defined]


class ChangeForm(forms.Form):
    """Work other than ordered."""

    said = ReasonField(
        label="What is to be done otherwise?",
        missing="Write what is to be done otherwise than ordered.",
        longest=400,
    )


class ReopenForm(forms.Form):
    """Why a closed job is opened again."""

    reason = ReasonField(
        label="Reason",
        help_text="A second manager decides; a job in a report is corrected in the next one.",
        missing="Write why the job is opened again.",
    )
    goal = forms.ChoiceField(
        label="What is to be done?",
        choices=Reopening.Goal.choices,
        widget=forms.RadioSelect,
        error_messages={"required": "Choose what is to be done."},
    )


class DecisionForm(forms.Form):
    """Yes or no."""

    decision = forms.ChoiceField(
        choices=[("yes", "Approve"), ("no", "Refuse")],
        error_messages={
            "required": "Press Approve or Refuse.",
            "invalid_choice": "Press Approve or Refuse.",
        },
    )


class LetterForm(forms.Form):
    """Which letter, in which language."""

    kind = forms.ChoiceField(
        label="Letter or form",
        choices=Letter.Kind.choices,
        error_messages={
            "required": "Choose a letter or form.",
            "invalid_choice": "Choose a letter or form from the list.",
        },
    )
    language = forms.ChoiceField(
        label="Language",
        choices=Client.Language.choices,
        error_messages={
            "required": "Choose the language of the household.",
            "invalid_choice": "Choose a language from the list.",
        },
    )
