"""What if: a few figures of an estimate turned at the desk, worked out on the spot."""

from typing import Any
from uuid import UUID

from django import forms
from django.http import HttpResponse, QueryDict

from agency.errors import AgencyError
from agency.estimates.estimating_measures import case_of
from agency.estimates.measures_inputs import MeasuresInputs
from agency.estimates.models import MeasuresEstimate
from agency.estimates.turning import Turned, assumed, turned_figures
from agency.wording import words

from .access import DeskRequest, desk_only
from .job import find_job
from .measures import measure_tabs
from .measures_words import ratio_words
from .pages import render_page


class Slider(forms.NumberInput):
    """A range input; its value stands beside it in words once the server has answered."""

    input_type = "range"


def _slider(label: str, *, low: float, high: float, step: float) -> forms.FloatField:
    return forms.FloatField(
        label=label,
        min_value=low,
        max_value=high,
        widget=Slider(attrs={"step": step}),
        error_messages={
            "required": f"{label}: move the slider, or start again.",
            "invalid": f"{label} cannot be read; move the slider.",
            "min_value": f"{label} must be at least {low:g}; move the slider.",
            "max_value": f"{label} must be at most {high:g}; move the slider.",
        },
    )


class WhatIfForm(forms.Form):
    """The sliders, in the desk's units, and which measures are done."""

    setpoint = _slider("Heating set point, °F", low=55, high=80, step=0.5)
    efficiency = _slider("Efficiency of the heating found, %", low=40, high=400, step=1)
    leakage = _slider("Leakage saved, % of what is expected", low=0, high=150, step=5)
    price = _slider("Energy prices, % of today's", low=50, high=200, step=5)
    rate = _slider("Discount rate, real, %", low=0, high=10, step=0.25)
    measures = forms.MultipleChoiceField(
        label="Measures done",
        required=False,
        widget=forms.CheckboxSelectMultiple,
        error_messages={"invalid_choice": "A measure is not of this estimate; start again."},
    )

    def __init__(self, *args: Any, inputs: MeasuresInputs, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        measures: Any = self.fields["measures"]
        measures.choices = [
            (one.id, one.name) for one in inputs.measures if one.category == "energy"
        ]

    def turned(self) -> Turned:
        """What the sliders say, in SI and fractions."""
        said = self.cleaned_data
        offered: Any = self.fields["measures"]
        return Turned(
            heating_setpoint=(said["setpoint"] - words.ICE_POINT_F) / words.KELVIN_STEP,
            heating_efficiency=said["efficiency"] / 100,
            leakage_saved=said["leakage"] / 100,
            price=said["price"] / 100,
            discount_rate=said["rate"] / 100,
            without=frozenset(code for code, _ in offered.choices) - set(said["measures"]),
        )

    def sliders(self) -> list[dict[str, Any]]:
        """Each slider with where it stands."""
        names = ("setpoint", "efficiency", "leakage", "price", "rate")
        return [{"field": self[name], "value": _plain(self[name].value())} for name in names]


def _plain(value: Any) -> str:
    """Where a slider stands, without a nought behind the point; what cannot be read stays."""
    try:
        return f"{float(value):g}"
    except (TypeError, ValueError):
        return str(value)


@desk_only
def what_if(request: DeskRequest, pk: UUID) -> HttpResponse:
    """Central figures only, nothing stored: the sliders stand in the address."""
    job = find_job(request, pk)
    context: dict[str, Any] = {"job": job, "tabs": measure_tabs(job, "what_if")}
    estimate: MeasuresEstimate | None = job.measures_estimates.first()
    status = 200
    try:
        if estimate is not None:
            told, status = _answer(request.GET, estimate)
            context |= told
    except AgencyError as refusal:
        context["refusal"] = str(refusal)
    return render_page(request, "office/what_if.html", context, section="jobs", status=status)


def _answer(asked: QueryDict, estimate: MeasuresEstimate) -> tuple[dict[str, Any], int]:
    inputs, weather = case_of(estimate)
    form = WhatIfForm(asked if "setpoint" in asked else _where_it_stands(inputs), inputs=inputs)
    if not form.is_valid():
        return {"form": form, "sliders": form.sliders()}, 422
    found = turned_figures(inputs, weather, form.turned())
    names = {one.id: one.name for one in inputs.measures}
    package = found["package"]
    told = {
        "form": form,
        "sliders": form.sliders(),
        "rows": [
            ("First-year saving", f"{words.money(found['dollars'])} a year"),
            (
                "Energy",
                words.quantity(
                    found["mmbtu"], "million Btu a year", 0 if found["mmbtu"] >= 10 else 1
                ),
            ),
            ("Cost with incidental repairs", words.money(package["cost"])),
            ("Savings-to-investment ratio", ratio_words(package["sir"])),
            ("Net present value", words.money(round(package["npv"] / 10) * 10)),
        ],
        "step_columns": ("Measure", "Saves", "Savings to investment"),
        "steps": [
            [names[code], f"{words.money(one['dollars'])} a year", ratio_words(one["sir"])]
            for code, one in found["measures"].items()
        ],
    }
    return told, 200


def _where_it_stands(inputs: MeasuresInputs) -> dict[str, Any]:
    """The sliders at what the estimate itself assumed, all measures done."""
    base = assumed(inputs)
    fahrenheit = base.heating_setpoint * words.KELVIN_STEP + words.ICE_POINT_F
    return {
        "setpoint": round(fahrenheit, 1),
        "efficiency": round(base.heating_efficiency * 100, 1),
        "leakage": 100,
        "price": 100,
        "rate": round(base.discount_rate * 100, 2),
        "measures": [one.id for one in inputs.measures if one.category == "energy"],
    }
