"""Lives the invented applications through the real records: counted, determined, scored."""

from collections.abc import Iterable
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import numpy as np

from agency import intake_workflows
from agency.accounts.models import User
from agency.houses.models import Building, EarlierWork, House, OwnerPermission
from agency.intake.determining import determination_of
from agency.intake.models import (
    Application,
    Benefit,
    EnergyUse,
    IncomeItem,
    Paper,
    PriorityScore,
)
from agency.intake.priority import score_of
from agency.jobs.models import Job
from agency.people.models import Client
from agency.programs.models import BenefitProgram, IncomeTest, Program
from agency.rulebook.models import Rule
from agency.rulebook.shipped import RuleSet, effective_on

from . import people
from .homes import invent_home
from .intake_people import (
    APPLICANTS,
    BENEFIT,
    BUILDING,
    EARLIER,
    EARLIER_HOME,
    OWNER,
    PARCEL,
    SOURCE,
    UNITS,
    VACANT,
    Applicant,
)
from .registers import fixed_id, local_time

FIRST_HOME = 900
"""Homes of applicants are drawn beside those of the stories."""
DAYS_TO_DECIDE = 12
DAYS_BEFORE_THE_JOB = 45
RENT_HELD = timedelta(days=730)


def write_intake(today: date, grants: list[Program], jobs: Iterable[Job], *, office: User) -> None:
    """Income tests, the households behind the jobs, and those who still wait."""
    _Desk(today, grants, office).write(jobs)


class _Desk:
    """What every application of the demonstration needs to know."""

    def __init__(self, today: date, grants: list[Program], office: User) -> None:
        self.today, self.office, self.grants = today, office, grants
        self.rules = list(Rule.objects.order_by("effective_from"))
        self.benefit = BenefitProgram.objects.create(
            id=fixed_id("benefit"), effective_from=grants[0].first_day, **BENEFIT
        )

    def write(self, jobs: Iterable[Job]) -> None:
        for grant in self.grants:
            IncomeTest.objects.create(
                id=fixed_id("income test", grant.pk), program=grant, basis="poverty", percent=200,
                effective_from=grant.first_day - timedelta(days=400), source=SOURCE,
            )  # fmt: skip
        for place, job in enumerate(jobs):
            self._behind(job, place)
        units = self._building()
        for number, applicant in enumerate(APPLICANTS):
            self._live(applicant, number, units)

    def _rules_on(self, day: date) -> RuleSet:
        return effective_on(self.rules, day)

    def _behind(self, job: Job, place: int) -> None:
        """The application a job once was; the household drawn by the place of the job."""
        rng = np.random.default_rng([2026, 77, place])
        received = job.opened_on - timedelta(days=DAYS_BEFORE_THE_JOB)
        household = {
            "under_6": int(rng.integers(0, 2)),
            "aged_6_to_17": int(rng.integers(0, 3)),
            "aged_19_to_59": int(rng.integers(0, 3)),
            "aged_60_or_over": int(rng.integers(0, 2)),
        }
        household["aged_19_to_59"] += not household["aged_60_or_over"]
        applicant = Applicant(
            name=job.client.name,
            days_ago=(self.today - received).days,
            household=household,
            incomes=(("wages", str(8_000 + 100 * int(rng.integers(0, 150)))),),
            energy=("natural_gas", None, str(700 + 10 * int(rng.integers(0, 160)))),
        )
        taken = self._take(applicant, client=job.client, house=job.house, program=job.program)
        decided = received + timedelta(days=DAYS_TO_DECIDE)
        self._facts(taken, applicant, decided)
        self._wait(self._determine(taken, decided), decided)
        _fresh(taken).become(job, self.office)
        self._date(taken, [received, decided, job.opened_on])

    def _live(self, applicant: Applicant, number: int, units: dict[str, House]) -> None:
        house = units.get(applicant.unit) or self._home(applicant, number)
        client = Client.objects.create(id=fixed_id("applicant", number), **applicant.words)
        taken = self._take(applicant, client=client, house=house, program=self._grant())
        received = self.today - timedelta(days=applicant.days_ago)
        decided = min(received + timedelta(days=DAYS_TO_DECIDE), self.today)
        if applicant.rents and applicant.permitted and not applicant.unit:
            self._permit(house, f"Owner of {house.address} (invented)", decided)
        if applicant.fate in {"papers", "overdue"}:
            self._ask(taken, applicant.fate, received)
        elif applicant.fate == "withdrawn":
            taken.withdraw(self.office, "Moved to another county.")
            self._date(taken, [received, decided])
        elif applicant.fate != "received":
            self._facts(taken, applicant, decided)
            self._decide(taken, applicant, decided)
            self._date(taken, [received, decided])

    def _take(self, applicant: Applicant, **of: Any) -> Application:
        return intake_workflows.apply(
            self.office,
            household=applicant.household,
            received_on=self.today - timedelta(days=applicant.days_ago),
            tenure="renter" if applicant.rents else "owner",
            **of,
        )

    def _decide(self, taken: Application, applicant: Applicant, day: date) -> None:
        determined = self._determine(taken, day)
        newest = determined.determination
        if newest is not None and newest.is_eligible:
            self._wait(determined, day)
        else:
            outcome = newest.get_outcome_display() if newest else ""
            _fresh(taken).deny(self.office, f"{outcome}. You may appeal to the director.")

    def _facts(self, taken: Application, applicant: Applicant, day: date) -> None:
        Application.objects.filter(pk=taken.pk).update(
            income_method=applicant.method, emergency_reason=applicant.emergency
        )
        for kind, amount in applicant.incomes:
            IncomeItem.objects.create(
                application=taken, kind=kind, amount=Decimal(amount), proof_seen_on=day,
                proof="Award letter" if kind in {"social_security", "pension"} else "Pay stubs",
            )  # fmt: skip
        if applicant.method == "benefit":
            Benefit.objects.create(
                application=taken, program=self.benefit, proof_seen_on=day,
                last_paid_on=day - timedelta(days=40),
            )  # fmt: skip
        if applicant.energy:
            fuel, used, cost = applicant.energy
            EnergyUse.objects.create(
                application=taken, fuel=fuel, cost=Decimal(cost),
                used=None if used is None else Decimal(used),
            )  # fmt: skip
        kinds = ["occupancy", "utility_release"]
        kinds += ["no_income"] if applicant.method == "none" else []
        for kind in kinds:
            Paper.objects.create(application=taken, kind=kind, seen_on=day, seen_by=self.office)

    def _determine(self, taken: Application, day: date) -> Application:
        made = determination_of(_fresh(taken), by=self.office, on=day, rules=self._rules_on(day))
        made.made_at = local_time(day, hour=11)
        made.save()
        return _fresh(taken)

    def _wait(self, taken: Application, day: date) -> None:
        made: PriorityScore = score_of(taken, by=self.office, on=day, rules=self._rules_on(day))
        made.made_at = local_time(day, hour=11, minute=5)
        made.save()
        taken.put_on_waiting_list(self.office, made)

    def _ask(self, taken: Application, fate: str, received: date) -> None:
        due = self.today + timedelta(days=-5 if fate == "overdue" else 9)
        taken.ask_for_papers(self.office, what="Pay stubs of three months, lease.", due_on=due)
        self._date(taken, [received, received + timedelta(days=2)])

    def _date(self, taken: Application, days: list[date]) -> None:
        """Events in the order of the steps, on the days they would have been taken."""
        for event, day in zip(taken.events.order_by("at", "id"), days, strict=True):
            taken.events.filter(pk=event.pk).update(at=local_time(day, hour=10))

    def _home(self, applicant: Applicant, number: int) -> House:
        rng = np.random.default_rng([2026, FIRST_HOME + number])
        home = invent_home(rng, number=FIRST_HOME + number)
        record = home.record | {"unit": ""}
        if applicant.fate == "barred":
            record |= EARLIER_HOME
            completed = self.today - timedelta(days=9 * 365)
            EarlierWork.objects.create(id=fixed_id("earlier"), completed_on=completed, **EARLIER)
        return House.objects.create(
            id=fixed_id("home", number), state=people.STATE, county_id=home.county, **record
        )

    def _building(self) -> dict[str, House]:
        county = people.TOWNS[0][2]
        building = Building.objects.create(id=fixed_id("building"), county_id=county, **BUILDING)
        place = {name: BUILDING[name] for name in ("address", "city", "state", "postal_code")}
        units = {
            unit: House.objects.create(
                id=fixed_id("unit", unit), building=building, unit=unit, county_id=county,
                dwelling=House.Dwelling.FIVE_OR_MORE, parcel=PARCEL,
                is_vacant=unit == VACANT, year_built=1968, **place,
            )
            for unit in UNITS
        }  # fmt: skip
        for house in units.values():
            self._permit(house, OWNER, self.today - timedelta(days=100))
        return units

    def _permit(self, house: House, owner: str, day: date) -> None:
        OwnerPermission.objects.create(
            house=house, owner_name=owner, signed_on=day, rent_held_until=day + RENT_HELD
        )

    def _grant(self) -> Program:
        """The grant of today."""
        running = (one for one in self.grants if one.first_day <= self.today <= one.last_day)
        return next(running, self.grants[-1])


def _fresh(taken: Application) -> Application:
    """With all its facts as they are now."""
    rows = Application.objects.with_people().with_facts().with_decisions()
    return rows.get(pk=taken.pk)
