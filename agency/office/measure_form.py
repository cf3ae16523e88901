"""The form of one measure: what every measure has, and what its kind is asked for."""

import types
from collections.abc import Mapping
from typing import Any, Literal, Union, get_args, get_origin

from django import forms
from pydantic.fields import FieldInfo

from agency.diagnostics.document_parts import asked_of
from agency.estimates.measure_kinds import KINDS
from agency.estimates.measures import Measure, refuse_wrong_properties
from agency.jobs.models import Job
from agency.programs.models import Fuel
from agency.wording import words

from .forms import DayField

FUELS = dict(Fuel.choices)
COMMON = (
    "name",
    "place",
    "quantity",
    "material_cost",
    "labour_cost",
    "supervision_cost",
    "remaining_life",
)
CHOSEN_WITHOUT_A_SAVING = ("category", "repairs_for")


class MeasureForm(forms.ModelForm):
    """A measure of a known kind on a known job."""

    installed_on = DayField(
        label="Installed on", required=False, missing="", help_text="Empty while it is planned."
    )

    class Meta:
        model = Measure
        fields = [*COMMON, *CHOSEN_WITHOUT_A_SAVING]
        labels = {
            "name": "Name",
            "place": "Place in the order of installation",
            "material_cost": "Material, $",
            "labour_cost": "Labour, $",
            "supervision_cost": "On-site supervision, $",
            "remaining_life": "Remaining life of what it is attached to, years",
            "category": "Why it is done",
            "repairs_for": "Measure it makes possible",
        }
        help_texts = {
            "place": "Lower comes first; the usual order is filled in.",
            "repairs_for": "Only for an incidental repair; its cost joins that measure's package.",
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.kind = self.instance.kind
        self.asked: dict[str, FieldInfo] = KINDS[self.kind].model_fields
        self.fields["quantity"].label = f"Quantity, {self.instance.about.unit}"
        if self.kind == "no_saving":
            self._offer_reasons(self.instance.job)
        else:
            for name in CHOSEN_WITHOUT_A_SAVING:
                del self.fields[name]
        for name, field in self.asked.items():
            self.fields[name] = _field(name, field)
            self.initial.setdefault(name, self.instance.properties.get(name))
        self.order_fields(["name", *self.asked, *CHOSEN_WITHOUT_A_SAVING, *COMMON, "installed_on"])
        self.initial.setdefault("installed_on", self.instance.installed_on)

    def _offer_reasons(self, job: Job) -> None:
        category: Any = self.fields["category"]
        category.choices = [
            one for one in Measure.Category.choices if one[0] != Measure.Category.ENERGY
        ]
        repairs: Any = self.fields["repairs_for"]
        repairs.queryset = job.measures.filter(category=Measure.Category.ENERGY)
        repairs.empty_label = "None"

    def clean(self) -> dict[str, Any]:
        """The properties as the form of the kind takes them; what is empty is left out."""
        said: dict[str, Any] = super().clean() or self.cleaned_data
        if not any(name in self.errors for name in self.asked):
            properties = {
                name: said[name] for name in self.asked if said.get(name) not in {None, ""}
            }
            try:
                refuse_wrong_properties(self.kind, properties)
            except forms.ValidationError as refused:
                self.add_error(None, refused)
            self.instance.properties = properties
        self.instance.unit = self.instance.about.unit
        self.instance.installed_on = said.get("installed_on")
        return said

    def _post_clean(self) -> None:
        """The record is only asked once its properties can be read."""
        if not self.errors:
            super()._post_clean()  # type: ignore[misc]


def _field(name: str, field: FieldInfo) -> forms.Field:
    asked = asked_of(field)
    if asked is None:
        raise LookupError(f"The kind asks for {name} without saying what it is.")
    about: dict[str, Any] = {
        "label": asked.label,
        "help_text": asked.hint,
        "required": field.is_required(),
    }
    choices = _choices(field.annotation)
    missing = {"required": f"{asked.label}: choose or enter it."}
    if choices:
        named = [(code, FUELS.get(code) or words.coded(code)) for code in choices]
        return forms.ChoiceField(choices=[("", "Choose"), *named], error_messages=missing, **about)
    unread = f"{asked.label} cannot be read; enter a plain number such as 12.5."
    return forms.FloatField(error_messages=missing | {"invalid": unread}, **about)


def _choices(annotation: Any) -> tuple[str, ...]:
    """The codes of a literal, also of one that may be left empty."""
    if get_origin(annotation) in {Union, types.UnionType}:
        annotation = next(one for one in get_args(annotation) if one is not type(None))
    return get_args(annotation) if get_origin(annotation) is Literal else ()


def started(job: Job, kind: str) -> Measure:
    """A measure of this kind, not yet kept, at its usual place."""
    about = KINDS[kind].kind
    category = Measure.Category.ENERGY
    if kind == "no_saving":
        category = Measure.Category.HEALTH_AND_SAFETY
    return Measure(
        job=job,
        kind=kind,
        name=about.title,
        place=about.rank,
        unit=about.unit,
        quantity=1,
        category=category,
    )


def property_rows(measure: Measure) -> list[tuple[str, str]]:
    """What the measure changes, as rows of words."""
    rows = []
    asked: Mapping[str, FieldInfo] = KINDS[measure.kind].model_fields
    for name, field in asked.items():
        value, label = measure.properties.get(name), asked_of(field)
        if value is not None and label is not None:
            rows.append((label.label, _shown(value)))
    return rows


def _shown(value: Any) -> str:
    if isinstance(value, str):
        return str(FUELS.get(value) or words.coded(value))
    return f"{value:,.10g}"
