"""The plain words of each letter, in the language that is active."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

VISITS = {
    "test_in": gettext_noop("Test before the work"),
    "work": gettext_noop("Work at your home"),
    "test_out": gettext_noop("Test after the work"),
    "final_inspection": gettext_noop("Final inspection"),
}
REASONS = {
    "structure": gettext_noop("Unsound structure or roof"),
    "moisture": gettext_noop("Water or mold"),
    "electrical": gettext_noop("Unsafe wiring"),
    "plumbing": gettext_noop("Sewage or plumbing"),
    "combustion": gettext_noop("Unsafe heater or chimney"),
    "asbestos": gettext_noop("Asbestos or vermiculite"),
    "lead": gettext_noop("Lead paint in bad repair"),
    "pests": gettext_noop("Pests"),
    "clutter": gettext_noop("Rooms that cannot be reached"),
    "health": gettext_noop("Someone's health does not allow it"),
    "conduct": gettext_noop("The crew was not safe in the home"),
    "remodel": gettext_noop("The home is being rebuilt"),
    "owner": gettext_noop("The owner has not agreed"),
}
LINES = {
    "measures": gettext_noop("Measures"),
    "costs_by_fund": gettext_noop("Cost by fund"),
    "materials": gettext_noop("Materials"),
    "lead_safe_need": gettext_noop("Lead-safe work"),
    "ventilation_need": gettext_noop("Ventilation"),
}
SEVERITIES = {
    "safety": gettext_noop("Health and safety"),
    "major": gettext_noop("Major"),
    "minor": gettext_noop("Minor"),
}
INDEPENDENCE = {
    "independent": gettext_noop("Independent of audit and work"),
    "auditor_same": gettext_noop("The auditor of the same job"),
    "none": gettext_noop("Worked on the job"),
}
BASES = {
    "own_test": gettext_noop("Own new test"),
    "relied": gettext_noop("Relied on the crew's test"),
}
BLANK_LINES = 4
"""Findings that fit on an empty form. Own choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """One letter in words: facts in a table, lists under titles, lines to sign on."""

    title: str
    opening: list[str]
    facts: list[tuple[str, str]] = field(default_factory=list)
    lists: list[tuple[str, list[str]]] = field(default_factory=list)
    closing: list[str] = field(default_factory=list)
    signers: list[str] = field(default_factory=list)


def said(kind: str, told: Mapping[str, Any]) -> Said:
    """The words of one letter."""
    return WORDED[kind](told)


def day(text: str | None) -> str:
    """A day in the long form of the language."""
    if not text:
        return ""
    # Translators: the form of a date, in the letters of Django's date filter.
    return date_format(date.fromisoformat(text), _("l, F j, Y"))


def hours(begins: str, ends: str) -> str:
    """From when to when; the time was written in the office's zone."""
    # Translators: the form of a time, in the letters of Django's date filter.
    form = _("g:i A")
    first, last = datetime.fromisoformat(begins), datetime.fromisoformat(ends)
    return _("%(begin)s to %(end)s") % {
        "begin": date_format(first, form),
        "end": date_format(last, form),
    }


def _appointment(told: Mapping[str, Any]) -> Said:
    phone = {"phone": told["agency"]["phone"]}
    return Said(
        title=_("Your appointment"),
        opening=[
            _(
                "We will come to your home on the day below. Please be there, or have an "
                "adult there who can let us in."
            )
        ],
        facts=[
            (_("Visit"), _(VISITS[told["visit"]])),
            (_("Day"), day(told["starts_at"][:10])),
            (_("Time"), hours(told["starts_at"], told["ends_at"])),
            (_("Who comes"), told["who"]),
        ],
        lists=[
            (
                _("Please get ready"),
                [
                    _("Put out any wood stove or fireplace a day before, and take out the ashes."),
                    _("Close windows and outside doors. Open the doors between rooms."),
                    _("Clear the way to the attic, the heater and the basement."),
                    _("Keep pets in one room or outside."),
                    _("Tell us if someone at home is ill or needs oxygen."),
                ],
            )
        ],
        closing=[
            _("Everyone who comes shows you a card with a name and a picture."),
            _("You cannot be there? Call %(phone)s as soon as you can. You do not lose your place.")
            % phone,
            _("You need an interpreter? Call us. It costs you nothing."),
        ],
    )


def _deferral(told: Mapping[str, Any]) -> Said:
    helped = [(_("Who may help you"), [told["referral"]])] if told["referral"] else []
    return Said(
        title=_("Your home is not ready for the work yet"),
        opening=[
            _("We cannot begin the work now. This is not a denial: you keep your place."),
        ],
        facts=[(_("We look again on"), day(told["review_on"]))],
        lists=[
            (_("Why we must wait"), [_(REASONS[code]) for code in told["reasons"]]),
            (_("What we found"), [told["found"]]),
            (_("What must be put right, and who does it"), [told["cure"]]),
            *helped,
        ],
        closing=[
            _("When it is done, call %(phone)s. Someone comes to see it, and the work goes on.")
            % {"phone": told["agency"]["phone"]},
            _("You do not agree? You may appeal: %(route)s")
            % {"route": told["agency"]["complaint_route"]},
        ],
        signers=[_("Read by the client"), _("For the agency")],
    )


def _permission(told: Mapping[str, Any]) -> Said:
    return Said(
        title=_("Owner's permission"),
        opening=[
            _(
                "The people who live in this home have asked for weatherization. The work needs "
                "your permission. It costs the tenants nothing."
            )
        ],
        lists=[
            (
                _("By signing you agree"),
                [
                    _("The agency may test the home, and may do the work its test calls for."),
                    _(
                        "You do not raise the rent because of this work for the time agreed in the "
                        "program's rules."
                    ),
                    _("You do not make the tenants leave because of this work."),
                    _("The agency may come back to inspect the work."),
                ],
            )
        ],
        closing=[
            _("Ask us before you sign if anything is not clear. Call %(phone)s.")
            % {"phone": told["agency"]["phone"]}
        ],
        signers=[_("Owner"), _("Owner's address and telephone"), _("For the agency")],
    )


def _work_order(told: Mapping[str, Any]) -> Said:
    return Said(
        title=_("Work order"),
        opening=[
            _(
                "This is the work that is ordered for this home. Nothing else is done without "
                "a change order that a manager has approved."
            )
        ],
        facts=[
            (_("Crew"), told["crew"]),
            (_("Work begins"), day(told["work_on"]) or _("not planned yet")),
        ],
        lists=[
            (_(LINES[piece]), [line for line in words.splitlines() if line.strip()])
            for piece, words in told["lines"]
        ],
        closing=[_("Stop the work and call the office at once if you find a hazard.")],
        signers=[_("Client"), _("Owner"), _("Manager")],
    )


def _inspection(told: Mapping[str, Any]) -> Said:
    outcomes = {True: _("Passed"), False: _("Failed"), None: ""}
    rests_on = _(BASES[told["basis"]]) if told["basis"] else ""
    if told["basis_reason"]:
        rests_on = f"{rests_on}: {told['basis_reason']}"
    return Said(
        title=_("Final inspection"),
        opening=[
            _("To be filled in and signed by a certified inspector who has not worked on this job.")
        ],
        facts=[
            (_("Attempt"), str(told["attempt"])),
            (_("Day"), day(told["inspected_on"])),
            (_("Outcome"), outcomes[told["has_passed"]]),
            (_("Credential no."), told["credential"]),
            (
                _("Independence"),
                _(INDEPENDENCE[told["independence"]]) if told["independence"] else "",
            ),
            (_("Rests on"), rests_on),
            (_("Inspector"), told["signed_as"]),
        ],
        lists=_findings(told),
        signers=[_("Inspector")],
    )


def _findings(told: Mapping[str, Any]) -> list[tuple[str, list[str]]]:
    """Those of the attempt; room to write on a form that is still empty."""
    if told["has_passed"] is None:
        return [(_("Findings"), [""] * BLANK_LINES)]
    return [(_("Findings"), [_finding(*one) for one in told["findings"]] or [_("None")])]


def _finding(severity: str, words: str, evidence: str) -> str:
    stated = f"{_(SEVERITIES[severity])}: {words}"
    return f"{stated} {_('Put right:')} {evidence}" if evidence else stated


WORDED: Mapping[str, Callable[[Mapping[str, Any]], Said]] = {
    "appointment": _appointment,
    "deferral": _deferral,
    "permission": _permission,
    "work_order": _work_order,
    "inspection": _inspection,
}
