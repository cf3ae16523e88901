"""Applications at the desk: taken, filtered, decided; refusals keep what was typed."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from agency import intake_workflows as steps
from agency.houses.models import House
from agency.intake.models import Application, Determination
from agency.jobs.models import Job
from agency.people.models import Client
from agency.programs.models import County, Program
from tests.applicants import give_income, give_papers, give_permission, make_application
from tests.builders import make_house, make_program

pytestmark = pytest.mark.django_db


@pytest.fixture
def today():
    """The grant of the tests covers it, whatever the year."""
    day = timezone.localdate()
    make_program()
    Program.objects.update(first_day=day - timedelta(days=200), last_day=day + timedelta(days=200))
    return day


@pytest.fixture
def desk(sign_in, cast):
    return sign_in(cast.office)


def step(browser, application, slug, follow=True, **said):
    url = reverse("office:application_step", args=[application.pk, slug])
    return browser.post(
        url, {f"{slug}-{name}": value for name, value in said.items()}, follow=follow
    )


def typed(today, **changes):
    County.objects.get_or_create(code="99001", defaults={"name": "Quillmoor"})
    values = {
        "client-name": "Nguyễn Thị Bích Hòa",
        "client-phone": "555-0142",
        "client-language": "en",
        "house-address": "9 Sorrel Close",
        "house-unit": "",
        "house-city": "Tarn Hollow",
        "house-state": "qm",
        "house-postal_code": "00155",
        "house-county": "99001",
        "house-dwelling": "single_family",
        "application-program": str(make_program().pk),
        "application-received_on": today.isoformat(),
        "application-tenure": "renter",
        "household-under_6": "1",
        "household-aged_19_to_59": "2",
    }
    return values | changes


def test_client_house_and_household_on_one_page(desk, today):
    answer = desk.post(reverse("office:new_application"), typed(today))
    taken = Application.objects.get()
    assert answer.url == reverse("office:application", args=[taken.pk])
    assert (taken.client.name, taken.house.state, taken.household.size) == (
        "Nguyễn Thị Bích Hòa",
        "QM",
        3,
    )


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"client-name": ""}, "Enter the name of the client as they write it."),
        ({"house-address": ""}, "Enter the street address, with the house number first."),
        ({"application-tenure": ""}, "Choose whether the household owns or rents the dwelling."),
        ({"household-under_6": "31"}, "Enter a whole number from 0 to 30. You entered 31."),
        ({"household-under_6": "two"}, "Enter a whole number from 0 to 30, in digits."),
        ({"household-with_disability": "4"}, "4 cannot be counted of 3 people. Count again."),
        (
            {"household-under_6": "0", "household-aged_19_to_59": ""},
            "The household has 0 people. Count everyone who lives there.",
        ),
        ({"application-received_on": "2099-01-01"}, "You entered 01/01/2099."),
        ({"house-year_built": "1066"}, "Enter a year from 1700 on. You entered 1066."),
    ],
)
def test_a_refusal_names_its_field_and_keeps_what_was_typed(desk, today, changes, says):
    answer = desk.post(reverse("office:new_application"), typed(today, **changes))
    page = answer.content.decode()
    assert answer.status_code == 422
    assert page.count(says) >= 2, "once in the summary, once at its field"
    assert "Error: New application" in page
    assert "555-0142" in page
    assert not Application.objects.exists()
    assert not Client.objects.exists()


def test_a_dwelling_on_file_is_named_and_nothing_is_half_stored(desk, today):
    make_house(address="9 Sorrel Cl.", unit="")
    make_house(address="9 Sorrel Close")
    answer = desk.post(reverse("office:new_application"), typed(today))
    assert "is on file already as 9 Sorrel Close" in answer.content.decode()
    assert not Client.objects.exists()


def test_known_client_and_house_are_not_asked_for_again(desk, today):
    house, client = make_house(), Client.objects.create(name="Wendell Frost")
    address = f"{reverse('office:new_application')}?client={client.pk}&house={house.pk}"
    page = desk.get(address).content.decode()
    assert "Wendell Frost" in page
    assert "house-address" not in page
    desk.post(address, typed(today))
    taken = Application.objects.get()
    assert (taken.client, taken.house) == (client, house)
    assert House.objects.count() == 1


def test_from_application_to_job_through_the_pages(desk, cast, today):
    desk.post(reverse("office:new_application"), typed(today))
    taken = Application.objects.get()
    step(desk, taken, "facts", tenure="renter", income_method="short")
    step(desk, taken, "income", kind="wages", earner="adult", amount="$6,000.00",
         proof="Pay stubs", proof_seen_on=today.isoformat())  # fmt: skip
    step(desk, taken, "energy", fuel="natural_gas", used="120", cost="1,800")
    for kind in ("occupancy", "utility_release"):
        step(desk, taken, "paper", kind=kind, seen_on=today.isoformat())
    page = step(desk, taken, "determine", is_unrelated="on").content.decode()
    assert "Determined: eligible." in page
    page = step(desk, taken, "wait").content.decode()
    assert "On the waiting list with 15\u00a0points." in page
    refused = step(desk, taken, "open-job", number="QC-26-0001", crew=str(cast.crew.pk),
                   on=today.isoformat())  # fmt: skip
    assert refused.status_code == 422
    assert "Permission of the owner: Not signed." in refused.content.decode()
    desk.post(
        reverse("office:permit_house", args=[taken.house_id]),
        {"owner_name": "Barnabas Threlkeld", "signed_on": today.isoformat(),
         "rent_held_until": (today + timedelta(days=700)).isoformat()},
    )  # fmt: skip
    step(desk, taken, "open-job", number="QC-26-0001", crew=str(cast.crew.pk),
         on=today.isoformat())  # fmt: skip
    taken.refresh_from_db()
    assert taken.job == Job.objects.get(number="QC-26-0001")
    page = desk.get(reverse("office:application", args=[taken.pk])).content.decode()
    assert "Nothing is missing." in page


def test_nobody_determines_for_the_own_family(desk, cast, today):
    application = make_application(cast.office, received_on=today)
    give_income(application, "100")
    answer = step(desk, application, "determine")
    assert answer.status_code == 422
    assert "ask a colleague to determine" in answer.content.decode()
    assert not Determination.objects.exists()


def test_the_checklist_answers_what_is_missing(desk, cast, today):
    application = make_application(cast.office, tenure="renter", received_on=today)
    page = desk.get(reverse("office:application", args=[application.pk])).content.decode()
    assert "Not chosen. Choose how the income is shown." in page
    assert "Not signed. Record it on the page of the house." in page
    assert "6 of 8\u00a0pieces not there yet." in page


def test_an_income_entered_by_mistake_is_taken_out(desk, cast, today):
    application = make_application(cast.office, received_on=today)
    item = give_income(application, "100")
    url = reverse("office:application_step", args=[application.pk, "take-out"])
    desk.post(url, {"kind": "income", "item": str(item.pk)})
    assert not application.incomes.exists()
    again = desk.post(url, {"kind": "income", "item": str(item.pk)})
    assert again.status_code == 422
    assert "not in the application any more" in again.content.decode()


def test_the_frozen_page_shows_arithmetic_table_and_expiry(desk, cast, today):
    application = make_application(cast.office, received_on=today)
    give_income(application, "20000.00")
    made = steps.determine(application.pk, cast.office, on=today)
    page = desk.get(reverse("office:determination", args=[made.pk])).content.decode()
    for line in made.lines:
        assert line in page
    assert made.table_version in page


@pytest.mark.parametrize(
    ("query", "wanted"),
    [
        ({"status": "denied"}, {"denied"}),
        ({"show": "open"}, {"received", "rental", "late", "waiting"}),
        ({"show": "undecided"}, {"received", "rental", "late"}),
        ({"show": "overdue"}, {"late"}),
        ({"show": "no_permission"}, {"rental"}),
        ({"show": "renew"}, {"waiting"}),
        ({"q": "sorrel 000"}, {"received", "rental", "late", "waiting", "denied"}),
        ({"q": "ysolde nobody"}, set()),
    ],
)
def test_filters_stand_in_the_address(desk, cast, today, query, wanted):
    soon = today - timedelta(days=340)
    Program.objects.update(first_day=today - timedelta(days=400))
    made = {
        "received": make_application(cast.office),
        "rental": make_application(cast.office, tenure="renter"),
        "late": make_application(cast.office),
        "waiting": make_application(cast.office),
        "denied": make_application(cast.office),
    }
    steps.ask_for_papers(made["late"].pk, cast.office, what="Lease", due_on=today)
    Application.objects.filter(pk=made["late"].pk).update(papers_due_on=today - timedelta(days=1))
    give_income(made["waiting"], "100")
    give_papers(made["waiting"], cast.office)
    steps.determine(made["waiting"].pk, cast.office, on=soon)
    steps.put_on_waiting_list(made["waiting"].pk, cast.office, on=soon)
    steps.deny(made["denied"].pk, cast.office, "Moved")
    answer = desk.get(reverse("office:applications"), query)
    shown = {one.pk for one in answer.context["page"]}
    assert shown == {made[name].pk for name in wanted}


def test_an_empty_result_says_why(desk, cast, today):
    make_application(cast.office)
    query = {"q": "zzz", "status": "denied"}
    page = desk.get(reverse("office:applications"), query).content.decode()
    assert "contains “zzz”; status is denied" in page


@pytest.mark.parametrize("number_of_applications", [2, 30])
def test_queries_do_not_grow_with_the_lists(
    desk, cast, today, django_assert_max_num_queries, number_of_applications
):
    """Session, user, to-review count, filter choices, count, rows, and one for the log."""
    for _ in range(number_of_applications):
        application = make_application(cast.office, received_on=today)
        give_income(application, "100")
        give_papers(application, cast.office)
        steps.determine(application.pk, cast.office, on=today)
        steps.put_on_waiting_list(application.pk, cast.office, on=today)
    for name in ("applications", "waiting_list"):
        with django_assert_max_num_queries(9):
            desk.get(reverse(f"office:{name}"))


def test_rank_and_arithmetic_are_shown_to_those_who_may_see_them(sign_in, cast, today):
    elderly = make_application(
        cast.office, household={"aged_60_or_over": 1}, received_on=today, tenure="owner"
    )
    give_income(elderly, "100")
    give_papers(elderly, cast.office)
    steps.determine(elderly.pk, cast.office, on=today)
    steps.put_on_waiting_list(elderly.pk, cast.office, on=today)
    page = sign_in(cast.office).get(reverse("office:waiting_list")).content.decode()
    assert "10 elderly person; sum 10" in page
    page = sign_in(cast.inspector).get(reverse("office:waiting_list")).content.decode()
    assert elderly.number in page
    assert "elderly" not in page


def test_a_permission_must_end_after_it_was_signed(desk, today):
    house = make_house()
    answer = desk.post(
        reverse("office:permit_house", args=[house.pk]),
        {"owner_name": "B. T.", "signed_on": today.isoformat(),
         "rent_held_until": today.isoformat()},
    )  # fmt: skip
    assert answer.status_code == 422
    assert f"must lie after the signature of {today:%m/%d/%Y}" in answer.content.decode()
    assert not give_permission(house).withdrawn_on
