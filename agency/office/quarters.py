"""The quarters a report can be asked for, as choices of a form, and reading the answer."""

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django import forms

from agency.errors import ActionRefused
from agency.programs.models import Program
from agency.reports.periods import Period

from .forms import AnyChoice

YEARS_BACK = 3
"""Calendar years offered besides the present one. Own choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What report is asked for."""

    period: Period
    program: Program | None
    quarter: str
    """As it stands in the address."""


class QuarterForm(forms.Form):
    """A calendar quarter, or a quarter counted from a grant's first day, and a grant."""

    quarter = forms.ChoiceField(
        error_messages={
            "required": "Choose a quarter.",
            "invalid_choice": "%(value)s is not a quarter on the list; choose one from it.",
        }
    )
    program = AnyChoice(Program.objects.all())

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.periods = _periods(today)
        grouped: dict[str, list[tuple[str, str]]] = {}
        for code, (period, program) in self.periods.items():
            group = f"Counted from the first day of {program}" if program else "Calendar quarters"
            grouped.setdefault(group, []).append((code, period.label))
        self.fields["quarter"].choices = list(grouped.items())  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        answers = super().clean() or {}
        _, own = self.periods.get(answers.get("quarter", ""), (None, None))
        other = answers.get("program")
        if own is not None and other is not None and own != other:
            self.add_error(
                "program", f"This quarter belongs to {own}. Choose that program, or Any."
            )
        return answers

    def asked(self) -> Asked:
        """The report asked for, once the form is valid."""
        code = self.cleaned_data["quarter"]
        period, own = self.periods[code]
        return Asked(period=period, program=own or self.cleaned_data["program"], quarter=code)


def last_full_quarter(today: date) -> str:
    """The calendar quarter before the present one: the one usually reported."""
    first_of_this = date(today.year, 3 * ((today.month - 1) // 3) + 1, 1)
    before = first_of_this - timedelta(days=1)
    return f"{before.year}-Q{(before.month - 1) // 3 + 1}"


def _periods(today: date) -> dict[str, tuple[Period, Program | None]]:
    """Every quarter offered, newest first, by its code."""
    calendar = [
        Period.calendar_quarter(year=year, number=number)
        for year in range(today.year, today.year - YEARS_BACK - 1, -1)
        for number in (4, 3, 2, 1)
    ]
    found: dict[str, tuple[Period, Program | None]] = {
        period.code: (period, None) for period in calendar if period.first <= today
    }
    for program in Program.objects.all():
        for period in reversed(list(_quarters_of(program, today))):
            found[period.code] = (period, program)
    return found


def _quarters_of(program: Program, today: date) -> list[Period]:
    """The program's quarters that have begun."""
    quarters: list[Period] = []
    while True:
        try:
            period = Period.program_quarter(program, len(quarters) + 1)
        except ActionRefused:
            return quarters
        if period.first > today:
            return quarters
        quarters.append(period)
