"""Priority points and the rank: by rule, reproducible, never by name."""

import random
from datetime import date
from decimal import Decimal

import pytest

from agency import intake_workflows as steps
from agency.intake.book import rules_on
from agency.intake.models import Application, EnergyUse
from agency.intake.priority import Facts, energy_burden, score
from tests.applicants import DAY, make_waiting

pytestmark = pytest.mark.django_db

NOTHING = {
    "elderly": 0, "disability": 0, "children": 0, "used": {}, "cost": None, "income": None,
}  # fmt: skip


def points(**facts):
    found = score(Facts(**(NOTHING | facts)), on=DAY, rules=rules_on(DAY))
    return {line["name"]: line["points"] for line in found.lines if line["points"]}, found.points


def test_each_class_counts_once():
    """Points are the agency's own choice (common practice, no source)."""
    assert points(elderly=3) == ({"Elderly person": 10}, 10)
    assert points(elderly=1, disability=1, children=2)[1] == 30
    assert points() == ({}, 0)


@pytest.mark.parametrize(
    ("fuel", "amount", "is_high"),
    [
        ("natural_gas", "100", False), ("natural_gas", "100.1", True),
        ("electricity", "14000", False), ("electricity", "14001", True),
        ("propane", "800", False), ("propane", "801", True),
        ("wood", "99", False),
    ],
)  # fmt: skip
def test_high_use_is_more_than_the_rule(fuel, amount, is_high):
    """Example thresholds of one state's manual: 100 Mcf, 14,000 kWh, 800 gal (from memory)."""
    assert ("High energy use" in points(used={fuel: Decimal(amount)})[0]) is is_high


@pytest.mark.parametrize(("cost", "is_high"), [("2999.99", False), ("3000", True)])
def test_burden_of_fifteen_percent_is_high(cost, is_high):
    """Derived: 15 % of $20,000; the threshold of one state's manual, from memory."""
    facts = {"cost": Decimal(cost), "income": Decimal(20_000)}
    assert ("High energy burden" in points(**facts)[0]) is is_high


def test_without_income_any_bill_is_a_high_burden_and_none_is_stated():
    facts = Facts(**(NOTHING | {"cost": Decimal(10), "income": Decimal(0)}))
    assert score(facts, on=DAY, rules=rules_on(DAY)).points == 10
    assert energy_burden(facts) is None


def test_no_bill_on_file_is_not_a_low_burden():
    assert energy_burden(Facts(**(NOTHING | {"income": Decimal(20_000)}))) is None


def test_the_stored_score_can_be_made_again_from_its_own_inputs(cast):
    application = make_waiting(cast.office, household={"aged_60_or_over": 1, "under_6": 2})
    EnergyUse.objects.create(application=application, fuel="propane", used=900, cost="4100.50")
    steps.determine(application.pk, cast.office, on=date(2026, 5, 4))
    stored = Application.objects.get(pk=application.pk).score
    again = score(Facts.from_dict(stored.inputs), on=stored.made_on, rules=rules_on(stored.made_on))
    assert again.points == stored.points == 35
    assert list(again.lines) == stored.lines


def test_children_are_counted_below_the_age_of_the_rule(cast):
    """The rule says under 19: a household with an 18-year-old has a child (own choice)."""
    with_18 = make_waiting(cast.office, household={"aged_18": 1})
    without = make_waiting(cast.office)
    assert (with_18.score.points, without.score.points) == (10, 0)


def test_rank_is_emergency_points_day_number_whatever_the_order_of_taking(cast):
    """Shuffled input, same order out."""
    plans = [
        ("last", {"received_on": date(2026, 2, 2)}),
        ("elderly late", {"household": {"aged_60_or_over": 1}, "received_on": date(2026, 2, 20)}),
        ("elderly early", {"household": {"aged_60_or_over": 1}, "received_on": date(2026, 2, 10)}),
        ("very last", {"received_on": date(2026, 2, 3)}),
        ("emergency", {"received_on": date(2026, 3, 1)}),
    ]
    random.Random(7).shuffle(plans)
    made = {name: make_waiting(cast.office, **plan) for name, plan in plans}
    steps.grant_emergency(made["emergency"].pk, cast.manager, reason="No heat", on=DAY)
    wanted = ["emergency", "elderly early", "elderly late", "last", "very last"]
    ranked = list(Application.objects.waiting())
    assert ranked == [made[name] for name in wanted]
    assert list(Application.objects.order_by("pk").waiting()) == ranked


def test_equal_points_and_day_are_ranked_by_number_not_by_name(cast):
    first = make_waiting(cast.office)
    second = make_waiting(cast.office)
    for application, name in ((first, "Zuleyka Z."), (second, "Aaron A.")):
        application.client.name = name
        application.client.save()
    assert list(Application.objects.waiting()) == [first, second]
