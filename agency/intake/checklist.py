"""What an application needs before each step, and which of it is there."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from agency.rulebook.shipped import RuleSet
from agency.wording import words

from .book import whole
from .days import months_before
from .dwelling_check import bar_on
from .models import Application, Paper


class Gate(StrEnum):
    """The step a piece is needed for."""

    DETERMINATION = "to determine"
    WAITING_LIST = "for the waiting list"
    JOB = "to open a job"
    POINTS = "for its points"


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """One thing an application needs: whether it is there, and what to do when it is not."""

    name: str
    gate: Gate
    is_there: bool
    detail: str

    @property
    def state(self) -> str:
        """A state code with words of its own."""
        return "done" if self.is_there else "missing"


BEFORE = {
    Gate.DETERMINATION: {Gate.DETERMINATION},
    Gate.WAITING_LIST: {Gate.DETERMINATION, Gate.WAITING_LIST},
    Gate.JOB: {Gate.DETERMINATION, Gate.WAITING_LIST, Gate.JOB},
}
"""Which pieces must be there for a step: its own, and those of the steps before it."""


def checklist(application: Application, *, on: date, rules: RuleSet) -> list[Piece]:
    """Every piece in the order in which it is asked for."""
    return [
        _household(application, on=on, rules=rules),
        *_income(application, on=on),
        _occupancy(application),
        _dwelling(application, on=on, rules=rules),
        _determined(application, on=on),
        *_owner(application, on=on),
        _utility(application),
        _bills(application),
    ]


def missing_for(gate: Gate, pieces: list[Piece]) -> list[Piece]:
    """The pieces that keep an application from a step."""
    return [piece for piece in pieces if piece.gate in BEFORE[gate] and not piece.is_there]


def _household(application: Application, *, on: date, rules: RuleSet) -> Piece:
    size, most = application.household.size, whole(rules, "eligibility.household_most", on=on)
    disabled = application.household.with_disability
    if not 1 <= size <= most:
        detail = f"{words.number(size)} people; it must be 1 to {most}. Count who lives there."
        return _piece("Household counted", Gate.DETERMINATION, detail, is_there=False)
    if disabled > size:
        detail = f"{disabled} with a disability of {size} people. Count again."
        return _piece("Household counted", Gate.DETERMINATION, detail, is_there=False)
    people = words.count(size, "person", "people")
    return _piece("Household counted", Gate.DETERMINATION, f"{people}.", is_there=True)


def _income(application: Application, *, on: date) -> Iterator[Piece]:
    method = application.income_method
    methods = Application.IncomeMethod
    if not method:
        detail = "Not chosen. Choose how the income is shown."
        yield _piece("Income method", Gate.DETERMINATION, detail, is_there=False)
    elif method == methods.NONE:
        yield _paper(application, Paper.Kind.NO_INCOME, Gate.DETERMINATION)
    elif method == methods.BENEFIT:
        yield _benefit(application, on=on)
    else:
        yield from _receipts(application)


def _receipts(application: Application) -> Iterator[Piece]:
    items = list(application.incomes.all())
    if not items:
        detail = "No income is entered. Enter each, or choose “no income” with a signed statement."
        yield _piece("Income", Gate.DETERMINATION, detail, is_there=False)
    for item in items:
        seen = item.proof_seen_on is not None
        detail = (
            f"{item.proof or 'Paper'} seen {words.day(item.proof_seen_on)}."
            if seen
            else "No paper seen. Ask for pay stubs, an award letter or a tax return."
        )
        name = f"Proof of income: {item.get_kind_display().lower()}"
        yield _piece(name, Gate.DETERMINATION, detail, is_there=seen)


def _benefit(application: Application, *, on: date) -> Piece:
    """One benefit paid within its window whose proof was seen is enough."""
    name, problems = "Proof of a benefit", []
    for benefit in application.benefits.all():
        first = months_before(on, benefit.program.window_months)
        if not first <= benefit.last_paid_on <= on:
            paid = words.day(benefit.last_paid_on)
            problems.append(
                f"{benefit.program} was last paid {paid}; it counts from {words.day(first)}."
            )
        elif benefit.proof_seen_on is None:
            problems.append(f"{benefit.program}: ask for the {benefit.program.proof.lower()}.")
        else:
            detail = f"{benefit.program}, proof seen {words.day(benefit.proof_seen_on)}."
            return _piece(name, Gate.DETERMINATION, detail, is_there=True)
    detail = " ".join(problems) or "No benefit is entered. Enter which one and when it was paid."
    return _piece(name, Gate.DETERMINATION, detail, is_there=False)


def _occupancy(application: Application) -> Piece:
    return _paper(application, Paper.Kind.OCCUPANCY, Gate.WAITING_LIST)


def _paper(application: Application, kind: Paper.Kind, gate: Gate) -> Piece:
    seen = next((paper for paper in application.papers.all() if paper.kind == kind), None)
    if seen is None:
        return _piece(kind.label, gate, "Not seen. Ask the household for it.", is_there=False)
    detail = f"Seen {words.day(seen.seen_on)} by {seen.seen_by}."
    return _piece(kind.label, gate, detail, is_there=True)


def _dwelling(application: Application, *, on: date, rules: RuleSet) -> Piece:
    years = whole(rules, "reweatherization.years", on=on)
    name = f"Dwelling not weatherized in the last {years} years"
    bar = bar_on(application.house, on=on, years=years, besides=application.job_id)
    if bar is None:
        return _piece(name, Gate.WAITING_LIST, "No earlier work is on record.", is_there=True)
    if application.disaster_reason:
        detail = f"{bar.completion.words()}. Disaster: {application.disaster_reason}"
        return _piece(name, Gate.WAITING_LIST, detail, is_there=True)
    detail = (
        f"{bar.completion.words()}; barred until {words.day(bar.ends_on)}. "
        "Deny it, or have a manager enter the disaster that damaged the dwelling."
    )
    return _piece(name, Gate.WAITING_LIST, detail, is_there=False)


def _determined(application: Application, *, on: date) -> Piece:
    name, newest = "Determination", application.determination
    if newest is None:
        detail = "Not made yet. Determine once the papers above are there."
        return _piece(name, Gate.WAITING_LIST, detail, is_there=False)
    if not newest.is_eligible:
        detail = f"{newest.get_outcome_display()} on {words.day(newest.made_on)}."
        return _piece(name, Gate.WAITING_LIST, detail, is_there=False)
    ends = words.day(newest.expires_on)
    if not newest.holds_on(on):
        detail = f"Ended {ends}. Determine again with papers of today."
        return _piece(name, Gate.WAITING_LIST, detail, is_there=False)
    return _piece(name, Gate.WAITING_LIST, f"Eligible, until {ends}.", is_there=True)


def _owner(application: Application, *, on: date) -> Iterator[Piece]:
    if not application.is_rental:
        return
    signed = application.house.owner_permissions.all()
    holds = next((one for one in signed if one.holds_on(on)), None)
    if holds is None:
        detail = "Not signed. Record it on the page of the house."
        yield _piece("Permission of the owner", Gate.JOB, detail, is_there=False)
    else:
        detail = (
            f"{holds.owner_name}, signed {words.day(holds.signed_on)}; "
            f"rent held until {words.day(holds.rent_held_until)}."
        )
        yield _piece("Permission of the owner", Gate.JOB, detail, is_there=True)


def _utility(application: Application) -> Piece:
    if application.no_utility_release_reason:
        detail = f"None: {application.no_utility_release_reason}"
        return _piece("Release of utility bills", Gate.JOB, detail, is_there=True)
    return _paper(application, Paper.Kind.UTILITY_RELEASE, Gate.JOB)


def _bills(application: Application) -> Piece:
    known = application.energy_uses.all()
    detail = (
        ", ".join(use.get_fuel_display() for use in known) + "."
        if known
        else "None on file: no points for high use or burden."
    )
    return _piece("Energy bills of 12 months", Gate.POINTS, detail, is_there=bool(known))


def _piece(name: str, gate: Gate, detail: str, *, is_there: bool) -> Piece:
    return Piece(name=name, gate=gate, is_there=is_there, detail=detail)
