"""What goes wrong on a phone is said, and costs neither a reading nor a name."""

from datetime import timedelta

import pytest
from django.utils import timezone

from agency.accounts.models import Device
from agency.diagnostics.models import TestRun

from .conftest import browser_only, stored, until
from .steps import answer_safety, arrive, check_gauge, no_signal, press, signal, wait_until_sent

pytestmark = browser_only


def lose_answers(page):
    """The office keeps each batch; its answer never reaches the phone. Gives what was lost."""
    lost = []

    def cut(route):
        route.fetch()
        route.abort()
        lost.append(route.request.url)

    page.route("**/api/v1/batches/", cut)
    return lost


def test_refused_record_says_why_and_is_put_right(phone_on, needed, cast):
    no_signal(phone_on)
    arrive(phone_on, needed)
    answer_safety(phone_on)
    check_gauge(phone_on)
    needed.job.crew = cast.other_crew
    needed.job.save()
    needed.crew = cast.other_crew
    needed.save()
    signal(phone_on)
    phone_on.evaluate("location.hash = '#outbox'")
    press(phone_on, "Send now")
    phone_on.wait_for_selector("text=Sent back")
    assert "sent back" in phone_on.text_content("#sync")
    assert TestRun.objects.count() == 0
    needed.job.crew = needed.crew = cast.crew
    needed.job.save()
    needed.save()
    phone_on.locator(".record--link", has_text="Gauge and hose check").click()
    phone_on.wait_for_selector("text=The office sent it back")
    press(phone_on, "Put it right")
    phone_on.get_by_label("Reading, sides joined", exact=True).fill("0.2")
    press(phone_on, "Finish this test")
    until(phone_on, TestRun.objects.exists)
    run = TestRun.objects.get()
    assert '"reading":0.2' in run.document


def test_expired_token_keeps_the_queue_and_asks(phone_on, needed, pair):
    no_signal(phone_on)
    arrive(phone_on, needed)
    answer_safety(phone_on)
    Device.objects.get().token.delete()
    signal(phone_on)
    phone_on.evaluate("location.hash = '#'")
    press(phone_on, "Fetch and send now")
    phone_on.wait_for_selector("text=Pair again to send")
    assert needed.job.house.address in phone_on.text_content("main")
    phone_on.get_by_text(needed.job.house.address).click()
    press(phone_on, "Next: Gauge and hoses")
    check_gauge(phone_on)
    assert "2 waiting" in phone_on.text_content("#sync")
    pair(phone_on)
    wait_until_sent(phone_on)
    assert TestRun.objects.count() == 1
    assert needed.reports.count() == 1


def test_revoked_phone_wipes_names_and_parks_what_waits(phone_on, needed):
    no_signal(phone_on)
    arrive(phone_on, needed)
    answer_safety(phone_on)
    check_gauge(phone_on)
    Device.objects.get().revoke()
    signal(phone_on)
    phone_on.wait_for_selector("text=This phone was taken out of use")
    kept = {name: stored(phone_on, name) for name in ("facts", "queue", "drafts", "visits", "log")}
    text = str(kept)
    client = needed.job.client
    for personal in (client.name, client.phone, needed.job.house.address, "casimir"):
        assert personal not in text
    assert {one["state"] for one in kept["queue"]} == {"parked"}
    assert len(kept["queue"]) == 2
    assert TestRun.objects.count() == 0


def test_paired_again_a_parked_queue_goes_out(phone_on, needed, pair):
    no_signal(phone_on)
    arrive(phone_on, needed)
    answer_safety(phone_on)
    check_gauge(phone_on)
    Device.objects.get().revoke()
    signal(phone_on)
    phone_on.wait_for_selector("text=This phone was taken out of use")
    pair(phone_on)
    wait_until_sent(phone_on)
    assert TestRun.objects.count() == 1


def test_answer_that_was_lost_does_not_double_the_record(phone_on, needed):
    arrive(phone_on, needed)
    wait_until_sent(phone_on)
    lost = lose_answers(phone_on)
    answer_safety(phone_on)
    check_gauge(phone_on)
    phone_on.wait_for_function(
        "() => document.getElementById('sync').textContent.includes('waiting')"
    )
    until(phone_on, lambda: lost and TestRun.objects.count() == 1)
    phone_on.unroute("**/api/v1/batches/")
    phone_on.evaluate("location.hash = '#outbox'")
    press(phone_on, "Send now")
    wait_until_sent(phone_on)
    assert TestRun.objects.count() == 1


def test_answer_lost_before_the_token_ran_out_does_not_double_the_record(phone_on, needed, pair):
    arrive(phone_on, needed)
    wait_until_sent(phone_on)
    lost = lose_answers(phone_on)
    answer_safety(phone_on)
    check_gauge(phone_on)
    phone_on.wait_for_function(
        "() => document.getElementById('sync').textContent.includes('waiting')"
    )
    until(phone_on, lambda: lost and TestRun.objects.count() == 1)
    Device.objects.get().token.delete()
    phone_on.unroute("**/api/v1/batches/")
    pair(phone_on)
    wait_until_sent(phone_on)
    assert Device.objects.count() == 2
    assert TestRun.objects.count() == 1


def test_storage_failure_is_said_before_any_work(switch_on, live_server):
    page = switch_on()
    page.add_init_script("indexedDB.open = () => { throw new Error('no storage') }")
    page.goto(f"{live_server.url}/field/")
    page.wait_for_selector("text=This phone cannot keep your work")
    assert page.locator("input, textarea, select").count() == 0


def test_storage_that_fails_under_the_hand_is_said_at_once(phone_on, needed):
    no_signal(phone_on)
    arrive(phone_on, needed)
    phone_on.wait_for_timeout(500)
    phone_on.evaluate(
        """() => {
            const full = () => { throw new DOMException("", "QuotaExceededError"); };
            IDBObjectStore.prototype.put = full;
        }"""
    )
    phone_on.locator(".question").first.get_by_label("Clear", exact=True).click()
    phone_on.wait_for_selector("text=This phone cannot keep your work")


def test_wrong_clock_is_said_and_both_times_are_kept(switch_on, pair, needed):
    page = switch_on()
    page.set_default_timeout(10_000)
    page.clock.set_system_time(timezone.now() - timedelta(days=3))
    pair(page)
    page.wait_for_selector("text=This phone's clock is wrong")
    assert "3 days behind" in page.text_content("main")
    arrive(page, needed)
    answer_safety(page)
    check_gauge(page)
    until(page, TestRun.objects.exists)
    run = TestRun.objects.get()
    assert run.received_at - run.taken_at > timedelta(days=2.9)
    assert run.clock_ahead_by == pytest.approx(timedelta(days=-3), abs=timedelta(minutes=5))


def test_new_version_waits_until_it_is_asked_in(phone_on, needed, monkeypatch):
    arrive(phone_on, needed)
    monkeypatch.setattr("agency.field.shell.version", lambda: "another")
    phone_on.evaluate("navigator.serviceWorker.getRegistration().then((one) => one.update())")
    phone_on.wait_for_timeout(1500)
    assert phone_on.locator("h1").inner_text() == "Safety questions"
    phone_on.evaluate("location.hash = '#'")
    phone_on.wait_for_selector("text=A new version is ready")
    press(phone_on, "Use the new version")
    phone_on.wait_for_function("() => document.documentElement.dataset.version === 'another'")
    assert phone_on.complaints == []
