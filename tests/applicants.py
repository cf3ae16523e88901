"""Applications for tests, all of the invented Quillmoor County."""

import itertools
from datetime import date
from decimal import Decimal
from typing import Any

from agency import intake_workflows
from agency.accounts.models import User
from agency.houses.models import House, OwnerPermission
from agency.intake.models import Application, IncomeItem, Paper
from agency.people.models import Client

from . import builders

DAY = date(2026, 3, 2)
_numbers = itertools.count(1)


def make_application(by: User, **changes: Any) -> Application:
    """Taken on `DAY`: two adults who own the dwelling; no paper seen yet."""
    number = next(_numbers)
    household = {"aged_19_to_59": 2} | changes.pop("household", {})
    client = changes.pop("client", None) or Client.objects.create(name=f"Ysolde Tarrant {number}")
    house = changes.pop("house", None) or builders.make_house(address=f"{number} Sorrel Close")
    values: dict[str, Any] = {
        "program": builders.make_program(),
        "received_on": DAY,
        "tenure": "owner",
    }
    return intake_workflows.apply(
        by, client=client, house=house, household=household, **(values | changes)
    )


def give_income(application: Application, amount: str, **changes: Any) -> IncomeItem:
    """Wages of 12 months whose pay stubs were seen."""
    values: dict[str, Any] = {
        "kind": "wages",
        "amount": Decimal(amount),
        "proof": "Pay stubs",
        "proof_seen_on": DAY,
    }
    Application.objects.filter(pk=application.pk, income_method="").update(
        income_method="twelve_months"
    )
    return IncomeItem.objects.create(application=application, **(values | changes))


def give_papers(application: Application, by: User, *kinds: str) -> None:
    """Papers somebody at the desk has seen; all of them when none is named."""
    for kind in kinds or ("occupancy", "utility_release"):
        Paper.objects.create(application=application, kind=kind, seen_on=DAY, seen_by=by)


def give_permission(house: House, **changes: Any) -> OwnerPermission:
    """Signed on `DAY`, rent held for two years."""
    values: dict[str, Any] = {
        "owner_name": "Barnabas Threlkeld",
        "signed_on": DAY,
        "rent_held_until": date(2028, 3, 2),
    }
    return OwnerPermission.objects.create(house=house, **(values | changes))


def make_waiting(by: User, *, income: str = "20000", on: date = DAY, **changes: Any) -> Application:
    """Determined eligible, complete, on the waiting list."""
    application = make_application(by, **changes)
    give_income(application, income)
    give_papers(application, by)
    intake_workflows.determine(application.pk, by, on=on)
    return intake_workflows.put_on_waiting_list(application.pk, by, on=on)
