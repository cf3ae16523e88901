"""The style page: every component in every state, with invented content from Quillmoor County."""

from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from django import forms
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from agency.charts.distribution import Bar, draw_distribution
from agency.charts.drawing import NARROW, WIDE
from agency.charts.fit import BandPoint, FitPoint, FitSeries, draw_fit
from agency.charts.pairs import PairedHome, draw_pairs
from agency.wording import words

OFFICE_ZONE = ZoneInfo("America/Chicago")


class SampleForm(forms.Form):
    """A desk form with each kind of field."""

    client = forms.CharField(
        label="Client's name", help_text="As the client writes it.", max_length=80
    )
    floor_area = forms.DecimalField(
        label="Floor area",
        help_text="Heated floor, outside dimensions.",
        widget=forms.TextInput(attrs={"inputmode": "decimal"}),
        min_value=100,
        max_value=20000,
        error_messages={
            "min_value": "Floor area must be 100 ft² or more. You entered 14; check for a "
            "missing digit."
        },
    )
    tested_on = forms.DateField(
        label="Date of the test",
        help_text="mm/dd/yyyy",
        error_messages={"invalid": 'Enter the date as mm/dd/yyyy. You entered "yesterday".'},
    )
    phase = forms.ChoiceField(
        label="Phase",
        choices=[("before", "Before work"), ("after", "After work")],
        widget=forms.RadioSelect,
        error_messages={"required": "Choose when the test was made: before or after the work."},
    )
    note = forms.CharField(label="Note to the crew", widget=forms.Textarea, required=False)
    ask_first = forms.BooleanField(label="Call the client before the visit", required=False)


class SampleFilters(forms.Form):
    """The filters of a job list."""

    name = forms.CharField(label="Name, address or number", required=False)
    state = forms.ChoiceField(
        label="State", choices=[("", "Any"), ("tested_out", "Tested out")], required=False
    )
    crew = forms.ChoiceField(
        label="Crew", choices=[("", "Any"), ("north", "North crew")], required=False
    )


STATES_SHOWN = [
    ("Jobs", ["scheduled", "in_progress", "tested_out", "rework", "inspection_passed", "approved"]),
    ("Jobs that ended early", ["withdrawn"]),
    ("Review", ["to_review", "accepted", "returned", "superseded"]),
    ("Results", ["valid", "advisory", "rejected", "provisional", "not_computed"]),
    ("Checks", ["pass", "advisory", "reject", "not_verifiable"]),
    ("Background work", ["waiting", "running", "done", "failed"]),
    ("Calibrations and certificates", ["current", "due", "expired", "issued"]),
]

JOBS = [
    ("QM-1042", "Ottoline Brandvold", "tested_out", 2310.4, 1898.2),
    ("QM-1043", "Nguyễn Thị Hòa", "inspection_passed", 3105.0, 1742.6),
    ("QM-1044", "Thaddeus O'Rourke-Whitcombe", "in_progress", 1880.0, None),
    ("QM-1045", "Maribel Castañeda", "rework", 1412.3, 1436.9),
    ("QM-1046", "Wendell Frost", "scheduled", None, None),
    ("QM-1047", "نورا الحداد", "approved", 2655.2, 1388.0),
]

CHECKS = [
    {
        "status": "pass",
        "message": "5 readings or more are needed; 8 were taken.",
        "standard": "ASTM E779",
        "edition": "19",
        "clause": "8.7",
        "provenance": "from memory",
    },
    {
        "status": "advisory",
        "message": "Wind should be 4 mph or less; 9 mph was recorded. The result stands, with a "
        "wider interval.",
        "standard": "ASTM E779",
        "edition": "19",
        "clause": "8.3",
        "provenance": "from memory",
        "field": "wind-speed",
    },
    {
        "status": "reject",
        "message": "The exponent must lie between 0.5 and 1; it is 0.43. Check the fan "
        "configuration of the two lowest readings.",
        "standard": "ISO 9972",
        "edition": "2015",
        "clause": "7.2",
        "provenance": "from memory",
        "field": "points",
    },
    {
        "status": "not_verifiable",
        "message": "The outdoor temperature was not measured, so the limit on the temperature "
        "difference cannot be checked.",
        "standard": "ASTM E779",
        "edition": "19",
        "clause": "8.4",
        "provenance": "from memory",
    },
]

HISTORY = [
    {
        "at": datetime(2026, 11, 24, 14, 14, tzinfo=OFFICE_ZONE),
        "who": "Priscilla Tamm",
        "role": "office",
        "what": "Floor area",
        "old": "1,480 ft²",
        "new": "1,408 ft²",
        "reason": "Digits were swapped on the intake form.",
    },
    {
        "at": datetime(2026, 11, 20, 16, 2, tzinfo=OFFICE_ZONE),
        "who": "Desmond Achterberg",
        "role": "crew",
        "what": "State",
        "old": "In progress",
        "new": "Tested out",
    },
    {
        "at": datetime(2026, 7, 2, 9, 5, tzinfo=OFFICE_ZONE),
        "who": "Priscilla Tamm",
        "role": "office",
        "what": "Job opened",
    },
]


def _pairs() -> list[dict[str, str]]:
    """The pair device: improved, worse, unchanged, half missing."""
    sides = [(2310.0, 1898.0), (1412.0, 1437.0), (1880.0, 1880.0), (1880.0, None)]
    return [
        {
            "before": words.quantity(before, "cfm"),
            "after": words.quantity(after, "cfm"),
            "difference": words.difference(before, after, unit="cfm"),
        }
        for before, after in sides
    ]


READINGS = [  # Pa and cfm of an invented test in each direction
    (
        "depressurization",
        [(-12.1, 923), (-20.4, 1297), (-30.2, 1668), (-41.0, 2035), (-52.3, 2379)],
    ),
    ("pressurization", [(11.8, 815), (21.2, 1203), (29.7, 1502), (40.6, 1851), (51.1, 2142)]),
]
BAND = {"depressurization": (185.0, 0.645), "pressurization": (160.0, 0.66)}
BARS = [
    Bar(name="below 0 %", homes=1, worse=True),
    Bar(name="0 to 20 %", homes=5),
    Bar(name="20 to 40 %", homes=7),
    Bar(name="40 % or more", homes=3),
]


def _series(direction: str, readings: list[tuple[float, int]]) -> FitSeries:
    coefficient, exponent = BAND[direction]
    band = []
    for pressure in (12.0, 20.0, 30.0, 40.0, 52.0):
        flow = coefficient * pressure**exponent
        spread = 0.02 + 0.001 * abs(pressure - 30.0)
        low, high = flow * (1 - spread), flow * (1 + spread)
        band.append(BandPoint(pressure=pressure, flow_cfm=flow, low_cfm=low, high_cfm=high))
    points = [
        FitPoint(pressure=pressure, flow_cfm=flow, used=rank != 3)
        for rank, (pressure, flow) in enumerate(readings)
    ]
    return FitSeries(direction=direction, points=points, band=band)


def _charts() -> list[dict[str, Any]]:
    """One of each chart, with the table that says the same."""
    return [_fit_chart(), _pairs_chart(), _spread_chart()]


def _fit_chart() -> dict[str, Any]:
    title = "Fan test of QM-1042, after work"
    series = [_series(direction, readings) for direction, readings in READINGS]
    rows = [
        (point.pressure, one.direction, point.flow_cfm, point.used)
        for one in series
        for point in one.points
    ]
    return {
        "id": "chart-fit",
        "title": title,
        "svg": draw_fit(series, title=title, width=WIDE),
        "narrow": draw_fit(series, title=title, width=NARROW),
        "caption": "Shaded: 95 % interval of the line. The dotted line marks 50 Pa.",
        "columns": ["Pressure, Pa", "Direction", "Air flow, cfm", "Used"],
        "rows": [
            [
                words.number(pressure, 1),
                words.coded(direction),
                words.number(flow),
                "yes" if used else "excluded",
            ]
            for pressure, direction, flow, used in rows
        ],
    }


def _pairs_chart() -> dict[str, Any]:
    title, flow = "Paired homes", "Air flow at 50 Pa"
    homes = [
        PairedHome(label=job, before=before, after=after)
        for job, _, _, before, after in JOBS
        if before is not None and after is not None
    ]
    return {
        "id": "chart-pairs",
        "title": title,
        "svg": draw_pairs(homes, title=title, measure=flow, unit="cfm", width=WIDE),
        "narrow": draw_pairs(homes, title=title, measure=flow, unit="cfm", width=NARROW),
        "caption": "Hatched: before work. Solid: after work. Jobs without both tests are "
        "listed apart.",
        "columns": ["Job", "Before, cfm", "After, cfm"],
        "rows": [[h.label, words.number(h.before), words.number(h.after)] for h in homes],
    }


def _spread_chart() -> dict[str, Any]:
    title, share = "Reduction by home", "Reduction of air flow at 50 Pa"
    return {
        "id": "chart-spread",
        "title": title,
        "svg": draw_distribution(BARS, title=title, measure=share, width=WIDE),
        "narrow": draw_distribution(BARS, title=title, measure=share, width=NARROW),
        "caption": "16 homes with both tests. Hatched: homes that got worse.",
        "columns": ["Reduction", "Homes"],
        "rows": [[one.name, words.number(one.homes)] for one in BARS],
    }


def _bound_form() -> SampleForm:
    typed = {"client": "Wendell Frost", "floor_area": "14", "tested_on": "yesterday"}
    return SampleForm({f"wrong-{name}": text for name, text in typed.items()}, prefix="wrong")


@require_GET
def style_page(request: HttpRequest) -> HttpResponse:
    """Show the components side by side, for whoever changes them."""
    page = Paginator(range(1204), 50).get_page(request.GET.get("page", 12))
    context: dict[str, Any] = {
        "states_shown": STATES_SHOWN,
        "jobs": JOBS,
        "checks": CHECKS,
        "history": HISTORY,
        "pairs": _pairs(),
        "clean_form": SampleForm(prefix="clean"),
        "wrong_form": _bound_form(),
        "filters": SampleFilters(prefix="f"),
        "page": page,
        "charts": _charts(),
        "ledger": [
            ("House", "114 Old Tannery Road, Apt 3, Quillmoor"),
            ("Floor area", words.quantity(1408, "ft²"), "Corrected Nov 24, 2026"),
            ("Outdoor temperature", None),
            ("Pressure at the last reading", words.pressure_both(-50.1)),
        ],
        "tabs": [
            {"url": "#tabs", "word": "Overview", "current": True},
            {"url": "#tabs", "word": "Tests", "count": 4},
            {"url": "#tabs", "word": "Visits", "count": 0},
            {"url": "#tabs", "word": "History"},
        ],
    }
    return render(request, "office/style.html", context)
