"""Determinations: inclusive limit, methods, missing papers, frozen figures, expiry."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction

from agency import intake_workflows
from agency.errors import ActionRefused
from agency.intake.models import Application, Benefit, Determination, IncomeItem
from agency.people.models import Household
from agency.programs.models import BenefitProgram
from tests.applicants import (
    DAY,
    give_income,
    give_papers,
    make_application,
    make_waiting,
)

pytestmark = pytest.mark.django_db

LIMIT_OF_TWO = Decimal(2 * (15_960 + 5_680))
"""200 % of the 2026 guideline for two. Second-hand table, from memory."""


def determine(application, by, on=DAY):
    return intake_workflows.determine(application.pk, by, on=on)


@pytest.mark.parametrize(
    ("over", "outcome"), [("0", "eligible"), ("-0.01", "eligible"), ("0.01", "over_limit")]
)
def test_exactly_the_limit_is_eligible(cast, over, outcome):
    """The comparison is inclusive, 10 CFR 440.22(a)(1), from memory."""
    application = make_application(cast.office)
    give_income(application, str(LIMIT_OF_TWO + Decimal(over)))
    assert determine(application, cast.office).outcome == outcome


def test_what_it_was_made_from_is_frozen_with_it(cast):
    application = make_application(cast.office)
    give_income(application, "30000")
    made = determine(application, cast.office)
    assert (made.household_size, made.annual_income, made.limit) == (2, 30_000, LIMIT_OF_TWO)
    assert made.table_version == "HHS poverty guidelines 2026, 48 states and DC, from Jan 13, 2026"
    assert made.inputs["incomes"][0]["amount"] == "30000.00"
    assert len(made.rules_version) == 64

    IncomeItem.objects.update(amount=1)
    Household.objects.update(aged_19_to_59=5)
    again = Determination.objects.get(pk=made.pk)
    assert (again.household_size, again.annual_income) == (2, 30_000)


def test_it_cannot_be_changed_by_code_or_by_the_database(cast):
    application = make_application(cast.office)
    give_income(application, "30000")
    made = determine(application, cast.office)
    made.outcome = "over_limit"
    with pytest.raises(ActionRefused, match="frozen"):
        made.save()
    for change in ({"outcome": "over_limit"}, {"annual_income": 1}, {"expires_on": "2030-01-01"}):
        with pytest.raises(IntegrityError), transaction.atomic():
            Determination.objects.update(**change)


def test_it_lasts_twelve_months_and_not_a_day_longer(cast):
    """Yearly federal income notice, from memory."""
    application = make_application(cast.office)
    give_income(application, "30000")
    made = determine(application, cast.office)
    assert made.expires_on == date(2027, 3, 2)
    assert made.holds_on(date(2027, 3, 2))
    assert not made.holds_on(date(2027, 3, 3))
    assert not made.holds_on(DAY - timedelta(days=1))


def test_a_renewal_stands_beside_the_first_and_is_scored_anew(cast):
    application = make_waiting(cast.office)
    first = application.score
    later = date(2026, 11, 2)
    determine(application, cast.office, on=later)
    application.refresh_from_db()
    assert application.determinations.count() == 2
    assert application.determinations.first().made_on == later
    assert application.score != first
    assert application.score.waiting_since == first.waiting_since


@pytest.mark.parametrize(
    ("take", "said"),
    [
        ("method", "Income method: Not chosen"),
        ("proof", "Proof of income: wages: No paper seen"),
        ("people", "Household counted: 0 people; it must be 1 to 30"),
        ("income", "Income: No income is entered"),
    ],
)
def test_a_missing_paper_is_named(cast, take, said):
    application = make_application(cast.office)
    income = give_income(application, "30000")
    if take == "method":
        Application.objects.update(income_method="")
    elif take == "proof":
        IncomeItem.objects.update(proof_seen_on=None)
    elif take == "people":
        Household.objects.update(aged_19_to_59=0)
    else:
        income.delete()
    with pytest.raises(ActionRefused, match=said):
        determine(application, cast.office)


def test_no_income_needs_the_signed_statement(cast):
    application = make_application(cast.office, household={"aged_60_or_over": 1})
    Application.objects.update(income_method="none")
    with pytest.raises(ActionRefused, match="Signed statement of no income: Not seen"):
        determine(application, cast.office)
    give_papers(application, cast.office, "no_income")
    made = determine(application, cast.office)
    assert (made.outcome, made.annual_income) == ("eligible", 0)


def test_three_months_over_the_limit_may_be_shown_by_twelve(cast):
    application = make_application(cast.office)
    Application.objects.update(income_method="short")
    give_income(application, "11000")
    made = determine(application, cast.office)
    assert (made.outcome, made.annual_income) == ("over_limit", 44_000)
    assert "papers of 12 months" in made.lines[-1]


def benefit_of(application, **changes):
    program = BenefitProgram.objects.get_or_create(
        name="Quillmoor Winter Fund",
        defaults={
            "state": "QM", "window_months": 12, "proof": "Award letter",
            "effective_from": date(2020, 1, 1), "source": "invented for the tests",
        },
    )[0]  # fmt: skip
    Application.objects.filter(pk=application.pk).update(income_method="benefit")
    values = {"program": program, "last_paid_on": date(2025, 9, 1), "proof_seen_on": DAY}
    return Benefit.objects.create(application=application, **(values | changes))


@pytest.mark.parametrize(
    ("paid", "counts"),
    [
        (date(2025, 3, 2), True),
        (date(2025, 3, 1), False),
        (date(2026, 3, 2), True),
        (date(2026, 3, 3), False),
    ],
)
def test_a_benefit_counts_within_its_twelve_months(cast, paid, counts):
    """10 CFR 440.22(a)(2): at any time in the 12 months before, second-hand, from memory."""
    application = make_application(cast.office)
    benefit_of(application, last_paid_on=paid)
    if counts:
        made = determine(application, cast.office)
        assert (made.outcome, made.annual_income, made.limit) == ("eligible", None, None)
    else:
        with pytest.raises(ActionRefused, match="it counts from Mar 2, 2025"):
            determine(application, cast.office)


def test_a_benefit_without_proof_does_not_count(cast):
    application = make_application(cast.office)
    benefit_of(application, proof_seen_on=None)
    with pytest.raises(ActionRefused, match="ask for the award letter"):
        determine(application, cast.office)


def test_only_those_who_may_see_income_determine(cast):
    application = make_application(cast.office)
    give_income(application, "30000")
    for person in (cast.inspector, cast.admin, cast.crew_lead):
        with pytest.raises(ActionRefused, match="Only the office staff and managers"):
            determine(application, person)
