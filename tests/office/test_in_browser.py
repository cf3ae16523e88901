"""The review queue in a real browser: one key a step, keys at rest while typing, nothing inline."""

import shutil
from datetime import timedelta

import pytest
from django.db import connections
from django.urls import reverse

from agency.accounts.models import Device
from agency.diagnostics.models import TestRun
from agency.estimates.analysing import store_analysis
from agency.estimates.bill_studies import NonRoutineChange
from agency.estimates.bridge.bills import analyse_bills
from agency.estimates.estimating_measures import estimate_measures
from agency.estimates.models import WeatherStation
from agency.instruments.models import Instrument
from agency.people.models import Crew
from tests.applicants import make_waiting
from tests.bill_records import (
    make_account,
    make_bill_file,
    make_bills,
    make_days,
    make_realization,
    make_study,
)
from tests.builders import PASSWORD, make_building, make_stop
from tests.casework_records import (
    MONDAY,
    make_booking,
    make_deferral,
    make_finding,
    make_visit,
)
from tests.estimates import bill_cases
from tests.estimates.measured import (
    county_with_weather_and_prices,
    make_tested_job,
    usual_measures,
)

playwright = pytest.importorskip("playwright.sync_api")
CHROMIUM = shutil.which("chromium") or shutil.which("google-chrome")

pytestmark = [
    pytest.mark.browser,
    pytest.mark.django_db(transaction=True, serialized_rollback=True),
    pytest.mark.skipif(CHROMIUM is None, reason="no Chromium on this machine"),
]


@pytest.fixture
def page(monkeypatch):
    """A page of headless Chromium that collects what the browser complains about."""
    # Playwright keeps an event loop in this thread; the database is used beside it, not in it.
    monkeypatch.setenv("DJANGO_ALLOW_ASYNC_UNSAFE", "true")
    with playwright.sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        page = browser.new_page(viewport={"width": 1280, "height": 900})
        page.complaints = []
        page.on("console", lambda said: page.complaints.append(said.text))
        page.on("pageerror", lambda fault: page.complaints.append(str(fault)))
        yield page
        # Beside a running loop Django opens a connection of its own; nothing else closes it.
        connections.close_all()
        browser.close()


@pytest.fixture
def queue(page, live_server, cast, make_job, make_run):
    """Three runs that wait, and the page of the first."""
    runs = [make_run(make_job(), flow_50_cfm=2000 + 100 * number) for number in range(3)]
    for age, run in zip((3, 2, 1), runs, strict=True):
        received_at = run.received_at - timedelta(days=age)
        TestRun.objects.filter(pk=run.pk).update(received_at=received_at)
    page.goto(f"{live_server.url}{reverse('office:sign_in')}?next={reverse('office:review')}")
    page.fill("#id_username", "odette")
    page.fill("#id_password", PASSWORD)
    page.click("main button[type=submit]")
    page.wait_for_selector("[data-review]")
    return runs


def heading_is(page, run):
    page.wait_for_function(
        "number => document.querySelector('h1').textContent.includes(number)", arg=run.job.number
    )


def test_one_key_a_step(page, queue):
    first, second, third = queue
    heading_is(page, first)
    page.keyboard.press("j")
    heading_is(page, second)
    page.keyboard.press("ArrowRight")
    heading_is(page, third)
    page.keyboard.press("k")
    heading_is(page, second)
    page.keyboard.press("ArrowLeft")
    heading_is(page, first)
    page.keyboard.press("a")
    heading_is(page, second)
    first.refresh_from_db()
    assert first.review == "accepted"
    page.keyboard.press("u")
    heading_is(page, first)
    first.refresh_from_db()
    assert first.review == "to_review"
    assert page.complaints == []


def test_keys_rest_while_typing(page, queue):
    heading_is(page, queue[0])
    page.keyboard.press("r")
    page.keyboard.type("jakur")
    assert page.input_value("#id_reason") == "jakur"
    heading_is(page, queue[0])
    page.click("text=Return to the crew")
    heading_is(page, queue[1])
    queue[0].refresh_from_db()
    assert (queue[0].review, queue[0].review_reason) == ("returned", "jakur")


def test_refused_step_keeps_its_place_and_moves_focus_to_the_words(page, queue):
    heading_is(page, queue[0])
    before = page.url
    page.click("text=Return to the crew")
    page.wait_for_selector("[data-error-summary]")
    assert page.evaluate("document.activeElement.hasAttribute('data-error-summary')")
    assert page.title().startswith("Error: ")
    assert page.url == before


def bill_pages(job, by):
    """Pages of bills, actual weather and realization, each with something on it."""
    station = WeatherStation.objects.create(name="Tarn Hollow airfield", format="epw")
    station.counties.add(job.house.county)
    make_days(station, by, days=30)
    account = make_account(job.house, by)
    kept = make_bills(account, by)
    broken = make_bill_file(account, by, content=b"From,To,Therms,Reading\n1,2,3,4")
    study = make_study(job, account, by)
    outcome = analyse_bills(bill_cases.inputs())
    store_analysis(study, outcome)
    NonRoutineChange.objects.create(
        job=job, kind="occupancy", since=job.opened_on, note="Two moved in.", noted_by=by
    )
    make_realization(job.program)
    return (
        reverse("office:job_bills", args=[job.pk]),
        reverse("office:bill_file", args=[kept.pk]),
        reverse("office:bill_file", args=[broken.pk]),
        reverse("office:weather"),
        reverse("office:weather_station", args=[station.pk]),
        reverse("office:realization"),
    )


def _estimated_job():
    """A job whose measures are estimated."""
    county_with_weather_and_prices()
    crew, device = Crew.objects.get(name="Crew Alder"), Device.objects.get()
    job = make_tested_job(crew=crew, device=device)
    usual_measures(job)
    estimate_measures(job.pk)
    return job


def test_a_slider_answers_and_keeps_its_place(page, queue, live_server):
    """The server computes; the value beside the slider follows."""
    job = _estimated_job()
    page.goto(f"{live_server.url}{reverse('office:what_if', args=[job.pk])}")
    saving = "dd.ledger__value >> nth=0"
    before = page.text_content(saving)
    page.locator("#id_price").fill("200")
    page.wait_for_function(
        "old => document.querySelector('dd.ledger__value').textContent !== old", arg=before
    )
    assert page.text_content("output >> nth=3") == "200"
    assert "price=200" in page.url
    assert page.complaints == []


def way_pages(job, cast):
    """Pages of the schedule and of a job's way, each with something on it."""
    booking = make_booking(make_visit(job, "test_in"), cast.office)
    make_deferral(job, cast.inspector)
    make_finding(job, cast.inspector)
    return (
        f"{reverse('office:schedule')}?week={MONDAY}",
        f"{reverse('office:schedule_day')}?on={MONDAY}",
        reverse("office:move_booking", args=[booking.pk]),
        reverse("office:calendars"),
        reverse("office:deferrals") + "?show=proposed",
        reverse("office:findings"),
        reverse("office:credentials"),
        reverse("office:job", args=[job.pk]),
    )


def test_no_page_breaks_a_rule_axe_knows(page, queue, live_server, cast, make_job):
    axe = pytest.importorskip("axe_playwright_python.sync_playwright")
    tags = ["wcag2a", "wcag2aa", "wcag21aa", "wcag22aa"]
    run, stopped = queue[0], queue[1]
    make_stop(stopped.job, source=stopped.pk)
    measured = _estimated_job()
    gauge = Instrument.objects.create(kind="gauge", serial="QG-014")
    waiting = make_waiting(cast.office)
    for address in (
        page.url.removeprefix(live_server.url),
        reverse("office:today"),
        reverse("office:jobs"),
        reverse("office:job", args=[run.job_id]),
        reverse("office:job", args=[stopped.job_id]),
        reverse("office:safety_stops"),
        reverse("office:test_run", args=[run.pk]),
        reverse("office:instruments"),
        reverse("office:look_back", args=[gauge.pk]),
        reverse("office:reports"),
        *bill_pages(run.job, cast.office),
        reverse("office:devices"),
        reverse("office:measures", args=[measured.pk]),
        reverse("office:add_measure", args=[measured.pk, "insulation"]),
        reverse("office:measures_estimate", args=[measured.pk]),
        reverse("office:what_if", args=[measured.pk]),
        reverse("office:energy_description", args=[measured.pk]),
        reverse("office:typical_years"),
        reverse("office:typical_year", args=[WeatherStation.objects.exclude(file="").get().pk]),
        reverse("office:applications"),
        reverse("office:new_application"),
        reverse("office:application", args=[waiting.pk]),
        reverse("office:determination", args=[waiting.determination.pk]),
        reverse("office:waiting_list"),
        reverse("office:building", args=[make_building().pk]),
        reverse("office:house", args=[waiting.house_id]),
        reverse("office:client", args=[waiting.client_id]),
        reverse("office:new_job"),
        f"{reverse('office:search')}?q=sorrel",
        *way_pages(make_job(status="audit_review"), cast),
    ):
        for width in (320, 1280):
            page.set_viewport_size({"width": width, "height": 800})
            page.goto(f"{live_server.url}{address}")
            page.evaluate("document.querySelectorAll('details').forEach(one => one.open = true)")
            found = axe.Axe().run(page, options={"runOnly": {"type": "tag", "values": tags}})
            assert found.response["passes"]
            assert found.response["violations"] == [], address
            assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), address
