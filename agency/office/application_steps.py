"""Steps of an application: the form of each, what it does, and when it is offered."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from django.forms import BaseForm, Form
from django.utils import timezone

from agency import intake_workflows
from agency.intake.models import Application
from agency.people.models import Household
from agency.wording import words

from .access import DeskRequest
from .intake_forms import (
    AskForm,
    BenefitForm,
    DenyForm,
    DetermineForm,
    DisasterForm,
    EmergencyForm,
    EndForm,
    EnergyForm,
    FactsForm,
    HouseholdForm,
    IncomeForm,
    PaperForm,
    TakeOutForm,
)
from .record_forms import OpenJobForm

Data = Any
Said = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One thing that may be done with an application."""

    slug: str
    title: str
    button: str
    form: Callable[[Data, Application], Form]
    act: Callable[[DeskRequest, Application, Said], str]
    """Does it and says that it is done."""
    group: str = "facts"
    """facts, decide, end, or hidden when no form of its own is shown."""
    managers: bool = False
    explains: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Offered:
    """A step with the form to be shown."""

    step: Step
    form: BaseForm
    is_open: bool


def offered(
    request: DeskRequest, application: Application, *, refused: Mapping[str, BaseForm]
) -> list[Offered]:
    """The steps this person may take now."""
    return [
        Offered(
            step=step,
            form=refused.get(step.slug) or step.form(None, application),
            is_open=step.slug in refused,
        )
        for step in _possible(request, application)
    ]


def _possible(request: DeskRequest, application: Application) -> Iterator[Step]:
    if not application.is_open:
        return
    statuses = Application.Status
    fits = {
        "ask": application.status in {statuses.RECEIVED, statuses.INFO_NEEDED},
        "wait": application.status in {statuses.RECEIVED, statuses.INFO_NEEDED},
        "open-job": application.status == statuses.WAITLISTED,
        "benefit": application.income_method == Application.IncomeMethod.BENEFIT,
        "income": application.income_method in {"twelve_months", "short"},
    }
    for step in STEPS.values():
        may = request.user.may_approve or not step.managers
        if may and step.group != "hidden" and fits.get(step.slug, True):
            yield step


def _household(data: Data, application: Application) -> Form:
    bands = [*Household.BANDS, "with_disability", "native_american"]
    known = {band: getattr(application.household, band) for band in bands}
    return HouseholdForm(data, initial=known, prefix="household")


def _facts(data: Data, application: Application) -> Form:
    names = ("tenure", "income_method", "no_utility_release_reason")
    return FactsForm(
        data, initial={name: getattr(application, name) for name in names}, prefix="facts"
    )


def _income(data: Data, application: Application) -> Form:
    return IncomeForm(data, today=timezone.localdate(), prefix="income")


def _benefit(data: Data, application: Application) -> Form:
    return BenefitForm(
        data, today=timezone.localdate(), state=application.house.state, prefix="benefit"
    )


def _paper(data: Data, application: Application) -> Form:
    today = timezone.localdate()
    return PaperForm(data, today=today, initial={"seen_on": today}, prefix="paper")


def _take_out(data: Data, application: Application) -> Form:
    entries = [*application.incomes.all(), *application.benefits.all()]
    return TakeOutForm(data, items=[entry.pk for entry in entries])


def _end(data: Data, application: Application) -> Form:
    return EndForm(data, expected=application.number, prefix="withdraw")


def _open_job(data: Data, application: Application) -> Form:
    today = timezone.localdate()
    initial = {"number": intake_workflows.next_job_number(), "on": today}
    return OpenJobForm(data, today=today, initial=initial, prefix="open-job")


def _plain(form: type[Form], prefix: str) -> Callable[[Data, Application], Form]:
    def build(data: Data, application: Application) -> Form:
        return form(data, prefix=prefix)

    return build


def _count(request: DeskRequest, application: Application, said: Said) -> str:
    intake_workflows.count_household(application.pk, request.user, said)
    return "The household is counted anew. Determine again if someone came or went."


def _note_facts(request: DeskRequest, application: Application, said: Said) -> str:
    intake_workflows.note_facts(application.pk, request.user, **said)
    return "The facts are recorded."


def _enter_income(request: DeskRequest, application: Application, said: Said) -> str:
    intake_workflows.enter_income(application.pk, request.user, said)
    return "The income is entered."


def _enter_benefit(request: DeskRequest, application: Application, said: Said) -> str:
    intake_workflows.enter_benefit(application.pk, request.user, said)
    return "The benefit is entered."


def _enter_energy(request: DeskRequest, application: Application, said: Said) -> str:
    intake_workflows.enter_energy_use(application.pk, request.user, said)
    return "The bills are entered."


def _record_paper(request: DeskRequest, application: Application, said: Said) -> str:
    intake_workflows.record_paper(application.pk, request.user, **said)
    return "The paper is recorded as seen."


def _drop(request: DeskRequest, application: Application, said: Said) -> str:
    intake_workflows.take_out(application.pk, request.user, **said)
    return f"The {said['kind']} is taken out; its history stays."


def _ask(request: DeskRequest, application: Application, said: Said) -> str:
    intake_workflows.ask_for_papers(application.pk, request.user, **said)
    return f"Asked for papers, due {words.day(said['due_on'])}."


def _determine(request: DeskRequest, application: Application, said: Said) -> str:
    made = intake_workflows.determine(application.pk, request.user, on=timezone.localdate())
    return f"Determined: {made.get_outcome_display().lower()}. The figures are frozen with it."


def _wait(request: DeskRequest, application: Application, said: Said) -> str:
    today = timezone.localdate()
    now = intake_workflows.put_on_waiting_list(application.pk, request.user, on=today)
    points = now.score.points if now.score else 0
    return f"On the waiting list with {words.count(points, 'point')}."


def _grant(request: DeskRequest, application: Application, said: Said) -> str:
    intake_workflows.grant_emergency(
        application.pk, request.user, reason=said["reason"], on=timezone.localdate()
    )
    return "This household goes first."


def _except(request: DeskRequest, application: Application, said: Said) -> str:
    intake_workflows.except_disaster(application.pk, request.user, reason=said["reason"])
    return "The dwelling may be weatherized again. Determine again now."


def _deny(request: DeskRequest, application: Application, said: Said) -> str:
    intake_workflows.deny(application.pk, request.user, said["reason"])
    return "The application is denied. Send the letter with the reason and the appeal route."


def _withdraw(request: DeskRequest, application: Application, said: Said) -> str:
    intake_workflows.withdraw_application(application.pk, request.user, said["reason"])
    return "The application is withdrawn."


def _open(request: DeskRequest, application: Application, said: Said) -> str:
    job = intake_workflows.open_job_from(application.pk, request.user, **said)
    return f"{job} is opened."


def _ask_form(data: Data, application: Application) -> Form:
    return AskForm(data, today=timezone.localdate(), prefix="ask")


_ALL = (
    Step(slug="determine", title="Determine eligibility", button="Determine today",
         form=_plain(DetermineForm, "determine"), act=_determine, group="decide",
         explains="Made from the facts below, by the tables in force today, and frozen."),
    Step(slug="wait", title="Waiting list", button="Put on the waiting list",
         form=_plain(Form, "wait"), act=_wait, group="decide",
         explains="Needs a determination that is eligible, and proof of occupancy."),
    Step(slug="open-job", title="Open a job", button="Open the job", form=_open_job, act=_open,
         group="decide", explains="Needs the owner's permission for a rental."),
    Step(slug="ask", title="Ask for papers", button="Record the request", form=_ask_form,
         act=_ask, group="decide"),
    Step(slug="facts", title="Tenure and income method", button="Record", form=_facts,
         act=_note_facts),
    Step(slug="household", title="Count the household", button="Record the count",
         form=_household, act=_count),
    Step(slug="income", title="Enter an income", button="Enter the income", form=_income,
         act=_enter_income),
    Step(slug="benefit", title="Enter a benefit", button="Enter the benefit", form=_benefit,
         act=_enter_benefit),
    Step(slug="energy", title="Enter energy bills", button="Enter the bills",
         form=_plain(EnergyForm, "energy"), act=_enter_energy),
    Step(slug="paper", title="Record a paper", button="Record the paper", form=_paper,
         act=_record_paper),
    Step(slug="take-out", title="Take out", button="Take out", form=_take_out, act=_drop,
         group="hidden"),
    Step(slug="emergency", title="Emergency", button="Let this household go first",
         form=_plain(EmergencyForm, "emergency"), act=_grant, group="end", managers=True),
    Step(slug="disaster", title="Damaged by a disaster", button="Allow work again",
         form=_plain(DisasterForm, "disaster"), act=_except, group="end", managers=True),
    Step(slug="deny", title="Deny", button="Deny the application",
         form=_plain(DenyForm, "deny"), act=_deny, group="end"),
    Step(slug="withdraw", title="Withdraw", button="Withdraw the application", form=_end,
         act=_withdraw, group="end"),
)  # fmt: skip
STEPS = {step.slug: step for step in _ALL}
