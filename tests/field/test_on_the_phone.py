"""A whole test-in on a phone without a signal: nothing is lost, nothing comes twice."""

import re
from datetime import timedelta

import pytest
from django.utils import timezone

from agency.accounts.models import Device
from agency.diagnostics.models import RequiredTest, TestRun
from agency.jobs.models import Visit
from tests.builders import make_stop

from .conftest import browser_only, playwright, stored

pytestmark = browser_only
POINTS = ((-60, 95), (-50, 77), (-40, 58), (-30, 40), (-20, 23))
"""House and fan pressure. [Pa]  400 cfm times the root of the second follows a power law."""


@pytest.fixture
def needed(visit):
    """The programme asks for one building tightness test at a test-in."""
    RequiredTest.objects.create(program=visit.job.program, visit_kind="test_in", kind="envelope")
    return visit


@pytest.fixture
def phone_on(switch_on, pair, needed):
    """A phone that was paired and fetched its visits."""
    page = switch_on()
    page.set_default_timeout(10_000)
    pair(page)
    page.wait_for_selector(f"text={needed.job.house.address}")
    page.evaluate("navigator.serviceWorker.ready.then(() => null)")
    return page


def no_signal(page):
    page.context.set_offline(True)


def signal(page):
    page.context.set_offline(False)


def press(page, words):
    page.get_by_role("button", name=words, exact=True).click()


def choose(page, question, answer):
    group = page.get_by_role("group", name=question, exact=True)
    group.get_by_label(answer, exact=True).check()


def arrive(page, visit):
    page.get_by_text(visit.job.house.address).click()
    press(page, "Next: Arrive")
    press(page, "I am at the house")
    page.wait_for_selector("h1:text-is('Safety questions')")


def answer_safety(page):
    for number in range(page.locator(".question").count()):
        page.locator(".question").nth(number).get_by_label("Clear", exact=True).check()
    press(page, "Next")


def check_gauge(page):
    press(page, "Check the gauge now")
    page.get_by_label("Pressure gauge").select_option("QG-014")
    choose(page, "The gauge had taken the baseline off by itself", "No")
    choose(page, "The gauge had corrected for air density by itself", "No")
    choose(page, "Channel", "A")
    page.get_by_label("Reading, sides joined", exact=True).fill("0.1")
    page.get_by_role("button", name="Add to hoses").click()
    page.get_by_label("Hose", exact=True).fill("Red hose")
    page.get_by_label("Pressure at the start", exact=True).fill("100")
    page.get_by_label("Pressure at the end", exact=True).fill("99.5")
    page.get_by_label("Time between", exact=True).fill("30")
    press(page, "Finish this test")
    page.wait_for_selector("h1:text-is('Test-in')")


def set_up(page):
    page.get_by_role("link", name=re.compile("^Set-up")).click()
    page.wait_for_selector("h1:text-is('Set-up')")
    for number in range(page.locator(".question").count()):
        page.locator(".question").nth(number).locator(".key input").first.check()
    press(page, "Next")


def begin_tightness(page):
    press(page, "Start: Building tightness")
    page.wait_for_selector("h1:text-is('Building tightness')")


def type_tightness(page):
    choose(page, "Method", "ASTM E779 series")
    page.get_by_label("Temperature inside", exact=True).fill("69")
    page.get_by_label("Temperature outside", exact=True).fill("41")
    choose(page, "Direction", "Depressurization")
    for name in ("Baseline before", "Baseline after"):
        group = page.get_by_role("group", name=name, exact=True)
        group.get_by_label("Mean", exact=True).fill("-1.2")
        group.get_by_label("Mean of the positive readings", exact=True).fill("0")
        group.get_by_label("Mean of the negative readings", exact=True).fill("-1.2")
        group.get_by_label("Time averaged", exact=True).fill("60")
    for number, (house, fan) in enumerate(POINTS):
        press(page, "Add a point" if number else "Add the first point")
        point = page.locator(".point").nth(number)
        point.get_by_label("House to outside", exact=True).fill(str(house - 1.2))
        point.get_by_label("Fan pressure", exact=True).fill(str(fan))
        if number == 0:
            point.get_by_label("Fan", exact=True).select_option("QF-003")
            page.locator(".point").nth(0).get_by_label("Configuration of the fan").select_option(
                "open"
            )


def take_photo(page, picture):
    page.get_by_label("What is to be seen").fill("Attic hatch")
    page.set_input_files("#photo-file", picture)
    page.wait_for_selector(".photo")


def leave(page, visit):
    page.evaluate(f"location.hash = '#visit/{visit.pk}/leave'")
    page.wait_for_selector("h1:text-is('Leave the house')")


@pytest.fixture
def picture(tmp_path):
    """A large picture with a place and a phone's name in it."""
    image = pytest.importorskip("PIL.Image")
    path = tmp_path / "attic.jpg"
    noise = image.effect_noise((3000, 4000), 90).convert("RGB")
    exif = noise.getexif()
    exif[0x010F] = "Quillmoor Phone Works"
    gps = exif.get_ifd(0x8825)
    gps[1], gps[2] = "N", (41.0, 30.0, 0.0)
    noise.save(path, quality=92, exif=exif)
    return path


def wait_until_sent(page):
    page.wait_for_function(
        "() => document.getElementById('sync').textContent.startsWith('All sent')", timeout=30_000
    )


def test_whole_test_in_without_a_signal_arrives_once(
    phone_on, needed, switch_on, picture, live_server
):
    no_signal(phone_on)
    phone_on.reload()
    phone_on.wait_for_selector("text=Your visits")
    arrive(phone_on, needed)
    answer_safety(phone_on)
    check_gauge(phone_on)
    set_up(phone_on)
    begin_tightness(phone_on)
    assert phone_on.get_by_label("Pressure gauge").input_value() == "QG-014"
    type_tightness(phone_on)
    shown = phone_on.text_content("#flow-50")
    phone_on.context.close()

    page = switch_on()
    page.set_default_timeout(10_000)
    no_signal(page)
    page.goto(f"{live_server.url}/field/")
    page.get_by_text(needed.job.house.address).click()
    press(page, "Next: Tests")
    press(page, "Go on: Building tightness")
    assert page.locator(".point").count() == len(POINTS)
    assert page.text_content("#flow-50") == shown
    press(page, "Finish this test")
    page.wait_for_selector("text=Done, waiting")
    page.evaluate(f"location.hash = '#visit/{needed.pk}/photos'")
    take_photo(page, picture)
    leave(page, needed)
    page.wait_for_selector("text=Nothing is missing")
    press(page, "Leave the house")
    page.wait_for_selector("h1:text-is('Your visits')")
    assert "4 waiting" in page.text_content("#sync")
    assert TestRun.objects.count() == 0

    signal(page)
    press(page, "Fetch and send now")
    wait_until_sent(page)
    kinds = sorted(TestRun.objects.values_list("kind", flat=True))
    assert kinds == ["envelope", "gauge_check"]
    run = TestRun.objects.get(kind="envelope")
    assert run.visit_id == needed.pk
    assert (run.phase, run.method) == ("before", "e779")
    visit = Visit.objects.get(pk=needed.pk)
    assert visit.reports.count() == 1
    assert visit.job.photos.count() == 1
    press(page, "Fetch and send now")
    wait_until_sent(page)
    assert TestRun.objects.count() == 2
    assert page.complaints == phone_on.complaints == []


def test_each_typed_figure_survives_the_browser_dying(phone_on, needed, switch_on, live_server):
    arrive(phone_on, needed)
    phone_on.evaluate(f"location.hash = '#visit/{needed.pk}/tests'")
    begin_tightness(phone_on)
    type_tightness(phone_on)
    readings = ".reading"
    typed = phone_on.eval_on_selector_all(readings, "all => all.map(one => one.value)")
    assert sum(1 for one in typed if one) >= 20
    phone_on.wait_for_timeout(200)
    with pytest.raises(playwright.Error):
        phone_on.context.new_cdp_session(phone_on).send("Browser.crash")

    page = switch_on()
    page.set_default_timeout(10_000)
    no_signal(page)
    page.goto(f"{live_server.url}/field/#visit/{needed.pk}/tests")
    press(page, "Go on: Building tightness")
    page.wait_for_selector(".point")
    assert page.eval_on_selector_all(readings, "all => all.map(one => one.value)") == typed


def test_figure_on_the_phone_is_the_one_on_record(phone_on, needed, work_off):
    arrive(phone_on, needed)
    phone_on.evaluate(f"location.hash = '#visit/{needed.pk}/tests'")
    begin_tightness(phone_on)
    phone_on.get_by_label("Pressure gauge").select_option("QG-014")
    choose(phone_on, "The gauge had taken the baseline off by itself", "No")
    choose(phone_on, "The gauge had corrected for air density by itself", "No")
    type_tightness(phone_on)
    press(phone_on, "Finish this test")
    wait_until_sent(phone_on)
    work_off()
    phone_on.evaluate("location.hash = '#'")
    press(phone_on, "Fetch and send now")
    phone_on.wait_for_timeout(1500)
    [entry] = [one for one in stored(phone_on, "queue") if one["sort"] == "run"]
    # 1e-6 of a flow is less than any gauge shows; both sides work out the same formulas.
    assert entry["record"]["differs"] is False
    result = TestRun.objects.get().result
    assert entry["preview"]["flow50"] == pytest.approx(result.flow_50 / (0.3048**3 / 60), rel=1e-9)


def test_refused_record_says_why_and_is_put_right(phone_on, needed, cast):
    no_signal(phone_on)
    arrive(phone_on, needed)
    answer_safety(phone_on)
    check_gauge(phone_on)
    Visit.objects.filter(pk=needed.pk).update(job=needed.job)
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
    phone_on.wait_for_function(
        "() => !document.getElementById('sync').textContent.includes('waiting')"
    )
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
    lost = []

    def cut(route):
        # The office keeps the record; its answer never reaches the phone.
        route.fetch()
        lost.append(route.request.url)
        route.abort()

    phone_on.route("**/api/v1/batches/", cut)
    answer_safety(phone_on)
    check_gauge(phone_on)
    phone_on.wait_for_function(
        "() => document.getElementById('sync').textContent.includes('waiting')"
    )
    phone_on.wait_for_timeout(500)
    assert lost
    assert TestRun.objects.count() == 1
    phone_on.unroute("**/api/v1/batches/")
    phone_on.evaluate("location.hash = '#outbox'")
    press(phone_on, "Send now")
    wait_until_sent(phone_on)
    assert TestRun.objects.count() == 1


def test_safety_stop_of_the_office_fills_the_screen_and_is_read_offline(phone_on, needed):
    stop = make_stop(needed.job)
    press(phone_on, "Fetch and send now")
    phone_on.wait_for_selector("dialog.stop")
    assert stop.words in phone_on.text_content("dialog.stop")
    box = phone_on.locator("dialog.stop").bounding_box()
    assert (box["width"], box["height"]) == (360, 740)
    no_signal(phone_on)
    phone_on.keyboard.press("Escape")
    assert phone_on.locator("dialog.stop").is_visible()
    press(phone_on, "I have read this")
    phone_on.wait_for_selector("dialog.stop", state="detached")
    assert "1 waiting" in phone_on.text_content("#sync")
    signal(phone_on)
    press(phone_on, "Fetch and send now")
    wait_until_sent(phone_on)
    stop.refresh_from_db()
    assert stop.acknowledged_name == "casimir"


def test_smell_of_gas_stops_at_once_and_not_safe_is_a_whole_visit(phone_on, needed):
    no_signal(phone_on)
    arrive(phone_on, needed)
    phone_on.locator(".question").first.get_by_label("Found", exact=True).check()
    phone_on.wait_for_selector("dialog.stop")
    press(phone_on, "I have read this")
    for number in range(1, phone_on.locator(".question").count()):
        phone_on.locator(".question").nth(number).get_by_label("Not in this house").check()
    phone_on.get_by_text("It is not safe to test here").click()
    choose(phone_on, "Why", "Smell of gas, or a gas alarm")
    press(phone_on, "Next: Leave the house")
    assert phone_on.locator(".notice--done").inner_text().startswith("Not safe to test")
    press(phone_on, "Leave the house")
    signal(phone_on)
    press(phone_on, "Fetch and send now")
    wait_until_sent(phone_on)
    assert Visit.objects.get().outcome == "unsafe"
    assert needed.job.safety_stops.count() == 1


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
    page.clock.set_system_time(timezone.now() - timedelta(days=3))
    pair(page)
    page.wait_for_selector("text=This phone's clock is wrong")
    assert "3 days behind" in page.text_content("main")
    press(page, "Fetch and send now")


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


def test_other_phones_test_is_shown_as_done(phone_on, needed, make_run):
    run = make_run(needed.job)
    TestRun.objects.filter(pk=run.pk).update(visit=needed)
    press(phone_on, "Fetch and send now")
    phone_on.get_by_text(needed.job.house.address).click()
    phone_on.get_by_role("link", name=re.compile("^Tests")).click()
    phone_on.wait_for_selector("text=Done, another phone")


def test_sent_photo_holds_no_place_and_is_small(phone_on, needed, picture):
    no_signal(phone_on)
    phone_on.evaluate(f"location.hash = '#visit/{needed.pk}/photos'")
    take_photo(phone_on, picture)
    [entry] = [one for one in stored(phone_on, "queue") if one["sort"] == "photo"]
    assert entry["size"] <= 700_000
    signal(phone_on)
    phone_on.evaluate("location.hash = '#'")
    press(phone_on, "Fetch and send now")
    wait_until_sent(phone_on)
    image = pytest.importorskip("PIL.Image")
    photo = needed.job.photos.get()
    kept = image.open(photo.file)
    assert max(kept.size) <= 2048
    assert not kept.getexif()
    assert photo.caption == "Attic hatch"
    assert stored(phone_on, "blobs") == []
