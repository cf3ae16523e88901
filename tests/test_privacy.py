"""Sensitive data: each field classified, shown only to those who may see it, views logged."""

from datetime import date

import pytest
from django.apps import apps
from django.urls import reverse

from agency import intake_workflows as steps
from agency.accounts.models import SensitiveView, User
from agency.accounts.privacy import NAMED, Privacy, may_see, privacy_of
from agency.intake.models import Application, Benefit, EnergyUse
from agency.office.application_steps import STEPS
from agency.programs.models import BenefitProgram
from tests.applicants import DAY, give_income, give_papers, give_permission, make_application
from tests.builders import make_house
from tests.test_access import ROLES, TABLE, address, records

__all__ = ["records"]

pytestmark = pytest.mark.django_db

MARKS = {
    "income": "23,456.78",
    "benefit": "Kestrel Hearth Fund",
    "bill": "1,357.91",
    "emergency": "oxygen machine",
    "no release": "account in arrears",
    "disability": "Person with a disability",
    "event": "letter of the physician",
}
"""Words that stand on a page only where its sensitive part is shown."""
MAY_SEE = {"office", "manager"}


@pytest.fixture
def marked(cast, records, make_job):
    """A household whose sensitive facts are words that occur nowhere else."""
    fund = BenefitProgram.objects.create(
        name=MARKS["benefit"], window_months=12, proof="Award letter",
        effective_from=date(2020, 1, 1), source="invented for the tests",
    )  # fmt: skip
    house = make_house(address="61 Marram Way", building=records["buildings"], unit="1")
    application = make_application(
        cast.office, household={"aged_60_or_over": 1, "with_disability": 1}, house=house
    )
    give_income(application, "23456.78")
    give_papers(application, cast.office)
    Benefit.objects.create(application=application, program=fund, last_paid_on=DAY)
    EnergyUse.objects.create(application=application, fuel="propane", used=900, cost="1357.91")
    steps.note_facts(application.pk, cast.office, no_utility_release_reason=MARKS["no release"])
    steps.ask_for_papers(application.pk, cast.office, what=MARKS["event"], due_on=date(2026, 4, 1))
    steps.determine(application.pk, cast.office, on=DAY)
    steps.grant_emergency(application.pk, cast.manager, reason=MARKS["emergency"], on=DAY)
    steps.put_on_waiting_list(application.pk, cast.office, on=DAY)
    give_permission(house)
    records["jobs"].house, records["jobs"].client = house, application.client
    records["jobs"].save()
    return records | {
        "applications": application,
        "determinations": application.determinations.first(),
        "clients": application.client,
        "houses": house,
    }


def test_every_stored_field_has_a_class():
    ours = [model for model in apps.get_models() if model.__module__.startswith("agency.")]
    labels = [f"{model._meta.label_lower}.{field.name}" for model in ours
              for field in model._meta.concrete_fields]  # fmt: skip
    assert len(labels) > 200
    assert all(isinstance(privacy_of(label), Privacy) for label in labels)


def test_an_app_nobody_has_classified_is_refused():
    with pytest.raises(LookupError, match="the app attic"):
        privacy_of("attic.trunk.key")


@pytest.mark.parametrize(
    "label",
    [
        "intake.incomeitem.amount",
        "intake.benefit.program",
        "intake.determination.annual_income",
        "intake.priorityscore.lines",
        "intake.energyuse.cost",
        "people.household.with_disability",
        "people.household.under_6",
        "intake.application.emergency_reason",
    ],
)
def test_income_benefits_disability_and_children_are_sensitive(label):
    assert privacy_of(label) == Privacy.P4
    seen_by = {role for role in User.Role.values if may_see(User(role=role), label)}
    assert seen_by == MAY_SEE


def test_what_a_crew_sees_of_persons_is_named():
    crew = User(role="crew")
    assert all(may_see(crew, label) for label in NAMED)
    assert not may_see(crew, "people.client.email")
    assert not may_see(crew, "houses.ownerpermission.owner_phone")


@pytest.mark.parametrize("role", [role for role in ROLES if role != "anonymous"])
def test_no_page_or_answer_shows_it_to_those_who_may_not_see_it(role, sign_in, cast, marked):
    browser, walked = sign_in(getattr(cast, role)), 0
    for name in [name for name in TABLE if TABLE[name][0] == "GET"]:
        SensitiveView.objects.all().delete()
        answer = browser.get(address(name, marked))
        shown = {what for what, mark in MARKS.items() if mark in said(answer)}
        logged = SensitiveView.objects.filter(by=getattr(cast, role))
        if role not in MAY_SEE:
            assert shown == set(), name
            assert not logged.exists(), name
        elif shown:
            assert logged.filter(record_id=marked["applications"].pk).exists(), (name, shown)
        walked += 1
    assert walked > 50


def said(answer):
    """The words of an answer, whatever its kind."""
    body = b"".join(answer.streaming_content) if answer.streaming else answer.content
    return body.decode(errors="replace")


def test_the_marks_do_stand_where_they_may_be_seen(sign_in, cast, marked):
    """Else the test above would pass on empty pages."""
    browser = sign_in(cast.office)
    names = ("office:application", "office:determination", "office:waiting_list")
    pages = "".join(said(browser.get(address(name, marked))) for name in names)
    assert {what for what, mark in MARKS.items() if mark not in pages} == set()


@pytest.mark.parametrize("path", ["api:job-list", "api:job-detail", "api:field"])
def test_a_crews_phone_holds_none_of_it(phone, path, cast, marked):
    answer = phone.get(address(path, marked))
    assert answer.status_code == 200
    assert not [mark for mark in MARKS.values() if mark in said(answer)]


@pytest.mark.parametrize("role", ["inspector", "admin"])
def test_a_refused_step_shows_nothing(sign_in, cast, marked, role):
    browser = sign_in(getattr(cast, role))
    for step in STEPS:
        url = reverse("office:application_step", args=[marked["applications"].pk, step])
        answer = browser.post(url)
        assert answer.status_code == 403
        assert not [mark for mark in MARKS.values() if mark in said(answer)]


def test_the_records_pages_have_none_of_it(sign_in, cast, marked):
    """Django's own pages log no views, so nothing sensitive is registered there."""
    from django.contrib import admin

    listed = {model._meta.label_lower for model in admin.site._registry}
    assert not [label for label in listed if label.startswith("intake.")]
    assert "people.household" not in listed


def test_a_list_logs_each_household_on_it_in_one_query(sign_in, cast, marked):
    SensitiveView.objects.all().delete()
    sign_in(cast.manager).get(reverse("office:waiting_list"))
    waiting = Application.objects.waiting().values_list("pk", flat=True)
    assert set(SensitiveView.objects.values_list("record_id", flat=True)) == set(waiting)


def test_a_manager_reads_who_looked(sign_in, cast, marked):
    number = marked["applications"].number
    sign_in(cast.office).get(address("office:application", marked))
    browser = sign_in(cast.manager)
    page = said(browser.get(reverse("office:sensitive_views"), {"record": number}))
    assert "odette" in page
    assert "household, income, benefits, energy bills" in page
    assert "0\u00a0views" in said(browser.get(reverse("office:sensitive_views"), {"person": "x"}))
