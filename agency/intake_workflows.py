"""Steps from an application to a job: each one a transaction over several records."""

from collections.abc import Mapping
from datetime import date
from typing import Any
from uuid import UUID

from django.db import transaction

from agency.accounts.models import User
from agency.errors import ActionRefused
from agency.houses.matching import house_number, how_the_same
from agency.houses.models import House
from agency.intake.book import rules_on
from agency.intake.checklist import Gate, checklist, missing_for
from agency.intake.determining import determination_of
from agency.intake.models import (
    Application,
    Benefit,
    Determination,
    EnergyUse,
    IncomeItem,
    Paper,
    PriorityScore,
)
from agency.intake.numbering import number_after
from agency.intake.priority import score_of
from agency.jobs.models import Job
from agency.people.models import Client, Crew, Household
from agency.programs.models import Program
from agency.wording import words


def _locked(application_id: UUID) -> Application:
    """The application, while it is still open."""
    rows = Application.objects.select_for_update(of=("self",)).with_people().with_facts()
    application = rows.with_decisions().get(pk=application_id)
    if not application.is_open:
        raise ActionRefused(
            f"{application} is {application.get_status_display().lower()}; nothing of it can be "
            "changed. Take a new application."
        )
    return application


def _refuse_unless_privy(by: User) -> None:
    if not by.may_see_sensitive:
        raise ActionRefused(
            f"Only the office staff and managers work on applications. {by} is signed in as "
            f"{by.get_role_display().lower()}."
        )


def _refuse_unless_manager(by: User, what: str) -> None:
    if not (by.may_approve and by.may_see_sensitive):
        raise ActionRefused(
            f"Only a manager {what}. {by} is signed in as {by.get_role_display().lower()}; "
            "ask a manager."
        )


@transaction.atomic
def register_house(values: Mapping[str, Any]) -> House:
    """Write a dwelling down; the same dwelling is not written down twice."""
    house = House(**values)
    known = twin_of(house)
    if known is not None:
        raise ActionRefused(
            f"{house.one_line} is on file already as {known.one_line}. "
            "Start from the page of that house; add a unit if it is another dwelling."
        )
    house.save()
    return house


def twin_of(house: House) -> House | None:
    """The house on file that is the same dwelling."""
    alike = House.objects.filter(address__istartswith=house_number(house.address))
    if house.parcel:
        alike = alike | House.objects.filter(parcel=house.parcel)
    return next((one for one in alike if one.pk != house.pk and how_the_same(house, one)), None)


@transaction.atomic
def apply(
    by: User,
    *,
    client: Client,
    house: House,
    program: Program,
    household: Mapping[str, int],
    received_on: date,
    tenure: str,
) -> Application:
    """Take an application; a dwelling has one open application at a time under a grant."""
    _refuse_unless_privy(by)
    House.objects.select_for_update(of=("self",)).get(pk=house.pk)
    open_one = Application.objects.open().filter(house=house, program=program).first()
    if open_one is not None:
        raise ActionRefused(
            f"{house.one_line} has {open_one} under {program} already, "
            f"{open_one.get_status_display().lower()}. Work on that one, or withdraw it first."
        )
    # The lock on the grant lets two desks take numbers one after the other.
    Program.objects.select_for_update().order_by("pk").first()
    newest = Application.objects.order_by("-number").values_list("number", flat=True).first()
    application = Application.objects.create(
        number=number_after(newest, first="A-00001"),
        client=client,
        house=house,
        program=program,
        household=Household.objects.create(client=client, **household),
        received_on=received_on,
        tenure=tenure,
    )
    application.events.create(
        old=application.status, new=application.status, by=by, role=by.role, reason="Received"
    )
    return application


@transaction.atomic
def count_household(application_id: UUID, by: User, counts: Mapping[str, int]) -> Application:
    """Count anew who lives there; earlier decisions stay as they were made."""
    application = _locked(application_id)
    _refuse_unless_privy(by)
    for band, people in counts.items():
        setattr(application.household, band, people)
    application.household.save()
    return application


@transaction.atomic
def note_facts(application_id: UUID, by: User, **facts: str) -> Application:
    """Tenure, way of showing income, or why there is no utility release."""
    application = _locked(application_id)
    _refuse_unless_privy(by)
    for name, value in facts.items():
        setattr(application, name, value)
    application.save(update_fields=list(facts))
    return application


@transaction.atomic
def enter_income(application_id: UUID, by: User, values: Mapping[str, Any]) -> IncomeItem:
    """One more income."""
    application = _locked(application_id)
    _refuse_unless_privy(by)
    return IncomeItem.objects.create(application=application, **values)


@transaction.atomic
def enter_benefit(application_id: UUID, by: User, values: Mapping[str, Any]) -> Benefit:
    """One more benefit."""
    application = _locked(application_id)
    _refuse_unless_privy(by)
    return Benefit.objects.create(application=application, **values)


@transaction.atomic
def take_out(application_id: UUID, by: User, *, kind: str, item: UUID) -> Application:
    """Take an income or a benefit out that was entered by mistake; its history stays."""
    application = _locked(application_id)
    _refuse_unless_privy(by)
    rows: Any = {"income": application.incomes, "benefit": application.benefits}[kind]
    found = rows.filter(pk=item).first()
    if found is None:
        raise ActionRefused(f"This {kind} is not in {application}. Load the page again.")
    found.delete()
    return application


@transaction.atomic
def enter_energy_use(application_id: UUID, by: User, values: Mapping[str, Any]) -> EnergyUse:
    """Energy of 12 months of one fuel; entered again, it replaces what was there."""
    application = _locked(application_id)
    _refuse_unless_privy(by)
    rest = {name: value for name, value in values.items() if name != "fuel"}
    return EnergyUse.objects.update_or_create(
        application=application, fuel=values["fuel"], defaults=rest
    )[0]


@transaction.atomic
def record_paper(application_id: UUID, by: User, *, kind: str, seen_on: date, note: str) -> Paper:
    """Somebody at the desk has seen a paper."""
    application = _locked(application_id)
    _refuse_unless_privy(by)
    return Paper.objects.create(
        application=application, kind=kind, seen_on=seen_on, seen_by=by, note=note
    )


@transaction.atomic
def ask_for_papers(application_id: UUID, by: User, *, what: str, due_on: date) -> Application:
    """Write down what the household was asked for, and by when."""
    application = _locked(application_id)
    _refuse_unless_privy(by)
    application.ask_for_papers(by, what=what, due_on=due_on)
    return application


@transaction.atomic
def determine(application_id: UUID, by: User, *, on: date) -> Determination:
    """Determine eligibility, or determine anew; whoever waits is scored anew with it."""
    application = _locked(application_id)
    _refuse_unless_privy(by)
    rules = rules_on(on)
    made = determination_of(application, by=by, on=on, rules=rules)
    made.save()
    if application.status == Application.Status.WAITLISTED and made.is_eligible:
        fresh = _locked(application_id)
        _score(fresh, by, on=on)
    return made


@transaction.atomic
def put_on_waiting_list(application_id: UUID, by: User, *, on: date) -> Application:
    """Eligible and complete: score it and let it wait."""
    application = _locked(application_id)
    _refuse_unless_privy(by)
    _refuse_while_missing(Gate.WAITING_LIST, application, on=on)
    made = _scored(application, by, on=on)
    application.put_on_waiting_list(by, made)
    return application


@transaction.atomic
def grant_emergency(application_id: UUID, by: User, *, reason: str, on: date) -> Application:
    """Let a household go first, by a manager's name and reason."""
    application = _locked(application_id)
    _refuse_unless_manager(by, "lets a household go first")
    application.emergency_reason = reason
    application.save(update_fields=["emergency_reason"])
    if application.status == Application.Status.WAITLISTED:
        _score(application, by, on=on)
    return application


@transaction.atomic
def except_disaster(application_id: UUID, by: User, *, reason: str) -> Application:
    """Let a dwelling weatherized before be served again, for the disaster that damaged it."""
    application = _locked(application_id)
    _refuse_unless_manager(by, "lets a dwelling be weatherized again")
    application.disaster_reason = reason
    application.save(update_fields=["disaster_reason"])
    return application


@transaction.atomic
def deny(application_id: UUID, by: User, reason: str) -> Application:
    """End an application with a written reason."""
    application = _locked(application_id)
    _refuse_unless_privy(by)
    application.deny(by, reason)
    return application


@transaction.atomic
def withdraw_application(application_id: UUID, by: User, reason: str) -> Application:
    """End an application at the household's or the agency's wish."""
    application = _locked(application_id)
    _refuse_unless_privy(by)
    application.withdraw(by, reason)
    return application


@transaction.atomic
def open_job_from(application_id: UUID, by: User, *, number: str, crew: Crew, on: date) -> Job:
    """The household's turn has come: its application becomes a job."""
    application = _locked(application_id)
    _refuse_unless_privy(by)
    _refuse_while_missing(Gate.JOB, application, on=on)
    if application.status != Application.Status.WAITLISTED:
        raise ActionRefused(
            f"{application} is {application.get_status_display().lower()}; a job is opened from "
            "the waiting list. Put it on the waiting list first."
        )
    job = open_job(
        by,
        number=number,
        client=application.client,
        house=application.house,
        program=application.program,
        crew=crew,
        on=on,
    )
    application.become(job, by)
    return job


@transaction.atomic
def open_job(
    by: User,
    *,
    number: str,
    client: Client,
    house: House,
    program: Program,
    crew: Crew,
    on: date,
) -> Job:
    """A new job; a dwelling has one open job at a time under a grant."""
    if not by.may_review:
        raise ActionRefused("The office staff and managers open jobs.")
    House.objects.select_for_update(of=("self",)).get(pk=house.pk)
    known = Job.objects.open().filter(house=house, program=program).first()
    if known is not None:
        raise ActionRefused(
            f"{house.one_line} has {known} under {program} already, "
            f"{known.get_status_display().lower()}. Work on that one, or withdraw it first."
        )
    if Job.objects.filter(number=number).exists():
        raise ActionRefused(
            f"Job number {number} is taken. The next free one is {next_job_number()}."
        )
    if not program.first_day <= on <= program.last_day:
        period = f"{words.day(program.first_day)} to {words.day(program.last_day)}"
        raise ActionRefused(
            f"{words.day(on)} does not lie in the period of {program}, {period}. "
            "Choose a day in it, or another program."
        )
    return Job.objects.create(
        number=number, client=client, house=house, program=program, crew=crew, opened_on=on
    )


def next_job_number() -> str:
    """The number that follows the newest job's and is free."""
    newest = Job.objects.order_by("-opened_on", "-number").values_list("number", flat=True)
    number = number_after(newest.first(), first="J-00001")
    while Job.objects.filter(number=number).exists():
        number = number_after(number, first=number)
    return number


def _score(application: Application, by: User, *, on: date) -> None:
    application.score = _scored(application, by, on=on)
    application.save(update_fields=["score"])


def _scored(application: Application, by: User, *, on: date) -> PriorityScore:
    made = score_of(application, by=by, on=on, rules=rules_on(on))
    made.save()
    return made


def _refuse_while_missing(gate: Gate, application: Application, *, on: date) -> None:
    missing = missing_for(gate, checklist(application, on=on, rules=rules_on(on)))
    if missing:
        said = " ".join(f"{piece.name}: {piece.detail}" for piece in missing)
        raise ActionRefused(f"{application} is not ready yet. {said}")
