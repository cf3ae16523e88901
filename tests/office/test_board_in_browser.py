"""The week board in a real browser: a card moved by keyboard alone, and by dragging."""

import shutil
from datetime import timedelta

import pytest
from django.db import connections
from django.urls import reverse
from django.utils import timezone

from agency.casework.advice import week_of
from agency.jobs.models import Booking
from tests.builders import PASSWORD
from tests.casework_records import make_booking, make_visit

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
    monkeypatch.setenv("DJANGO_ALLOW_ASYNC_UNSAFE", "true")
    with playwright.sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        page = browser.new_page(viewport={"width": 1280, "height": 900})
        page.complaints = []
        page.on("console", lambda said: page.complaints.append(said.text))
        page.on("pageerror", lambda fault: page.complaints.append(str(fault)))
        yield page
        connections.close_all()
        browser.close()


@pytest.fixture
def booking(page, live_server, cast, make_job):
    """A booking of this week's Monday, with its board on the screen."""
    monday = week_of(timezone.localdate())[0]
    booking = make_booking(make_visit(make_job(), on=monday), cast.office)
    page.goto(f"{live_server.url}{reverse('office:sign_in')}?next={reverse('office:schedule')}")
    page.fill("#id_username", "odette")
    page.fill("#id_password", PASSWORD)
    page.click("main button[type=submit]")
    page.wait_for_selector(".board")
    return booking


def tab_to(page, selector):
    """Press Tab until the wanted control has the focus."""
    for _ in range(80):
        page.keyboard.press("Tab")
        if page.evaluate("wanted => document.activeElement.matches(wanted)", selector):
            return
    raise AssertionError(f"Tab never reached {selector}.")


def test_a_card_is_moved_with_the_keyboard_alone(page, booking, cast):
    tab_to(page, ".slot__move")
    page.keyboard.press("Enter")
    page.wait_for_selector("h1:has-text('Move work')")
    tab_to(page, "#id_starts")
    page.evaluate("document.activeElement.value = ''")
    page.keyboard.type("0115PM")
    tab_to(page, "#id_ends")
    page.keyboard.type("0430PM")
    tab_to(page, "#id_crew")
    page.keyboard.type("Crew Birch")
    tab_to(page, "#id_code")
    page.keyboard.type("Weather")
    tab_to(page, "main form.card button[type=submit]")
    page.keyboard.press("Enter")
    page.wait_for_selector(".board")
    assert "is moved" in page.inner_text("#messages")
    booking.refresh_from_db()
    assert booking.crew == cast.other_crew
    begins = timezone.localtime(booking.starts_at)
    assert (begins.hour, begins.minute) == (13, 15)
    assert booking.rebookings.get().code == "weather"
    assert page.complaints == []


def test_a_dragged_card_opens_the_same_form_filled_in(page, booking, cast):
    friday = timezone.localdate(booking.starts_at) + timedelta(days=4)
    target = f"[data-drop*='{friday}'][data-drop*='{cast.other_crew.pk}']"
    page.drag_and_drop("[data-move]", target)
    page.wait_for_selector("h1:has-text('Move work')")
    assert page.input_value("#id_day") == f"{friday}"
    assert page.input_value("#id_crew") == str(cast.other_crew.pk)
    page.select_option("#id_code", "crew_short")
    page.click("main form.card button[type=submit]")
    page.wait_for_selector(".board")
    moved = Booking.objects.get(pk=booking.pk)
    assert timezone.localdate(moved.starts_at) == friday
    assert page.complaints == []
