"""A whole visit on a phone without a signal: nothing is lost, nothing comes twice."""

import re

import pytest
from django.utils import timezone

from agency.diagnostics.models import Result, TestRun
from agency.jobs.models import Visit
from agency.rulebook.models import Rule
from tests.builders import make_stop

from .conftest import browser_only, playwright, stored, until
from .steps import (
    POINTS,
    answer_safety,
    arrive,
    begin_tightness,
    check_gauge,
    choose,
    leave,
    no_signal,
    press,
    set_up,
    signal,
    take_photo,
    type_tightness,
    wait_until_sent,
)

pytestmark = browser_only


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
    until(phone_on, lambda: TestRun.objects.count() == 1)
    wait_until_sent(phone_on)
    work_off()
    phone_on.evaluate("location.hash = '#'")
    press(phone_on, "Fetch and send now")

    def kept():
        return next(one for one in stored(phone_on, "queue") if one["sort"] == "run")

    until(phone_on, lambda: "record" in kept())
    entry = kept()
    # 1e-6 of a flow is less than any gauge shows; both sides work out the same formulas.
    assert entry["record"]["differs"] is False
    result = TestRun.objects.get().result
    assert entry["preview"]["flow50"] == pytest.approx(result.flow_50 / (0.3048**3 / 60), rel=1e-9)


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
        phone_on.locator(".question").nth(number).get_by_label("Not here").check()
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


def test_test_out_shows_what_differs_and_how_far_the_work_has_come(
    phone_on, needed, cast, make_run
):
    run = make_run(needed.job, flow_50_cfm=4500, review="accepted")
    TestRun.objects.filter(pk=run.pk).update(method="e779")
    setup = {"interior_doors": "open", "windows": "closed"}
    figures = {**run.result.figures, "setup": setup, "series": [{"direction": "depressurization"}]}
    Result.objects.filter(test_run=run).update(figures=figures)
    Rule.objects.filter(code="setting.target-reduction").update(limit=0.3)
    out = Visit.objects.create(
        job=needed.job, kind="test_out", crew=cast.crew, planned_on=timezone.localdate()
    )
    press(phone_on, "Fetch and send now")
    phone_on.locator(".record--link", has_text="Test-out").click()
    phone_on.wait_for_selector("text=Before the work: 4,500")
    no_signal(phone_on)
    phone_on.evaluate(f"location.hash = '#visit/{out.pk}/setup'")
    doors = phone_on.locator(".question").first
    assert "Before the work: Open" in doors.text_content()
    doors.get_by_label("Closed", exact=True).check()
    phone_on.wait_for_selector("text=Different from before")
    doors.get_by_label("Open", exact=True).check()
    phone_on.wait_for_selector("text=Different from before", state="detached")
    phone_on.evaluate(f"location.hash = '#visit/{out.pk}/tests'")
    phone_on.get_by_text("Another test").click()
    begin_tightness(phone_on)
    type_tightness(phone_on)
    flow = float(phone_on.text_content("#flow-50").split("\u202f")[0].replace(",", ""))
    # Derived: the share of 4,500 cfm that is gone, and 70 % of it as the target.
    share = 100 * (1 - flow / 4500)
    shown = float(phone_on.text_content("#reduction").split(" ")[0])
    assert shown == pytest.approx(share, abs=0.06)
    left = float(re.search(r"\d[\d,]*", phone_on.text_content("#target"))[0].replace(",", ""))
    assert left == pytest.approx(flow - 0.7 * 4500, abs=1)
    choose(phone_on, "Direction", "Pressurization")
    phone_on.wait_for_selector("text=The test before was made by another direction")
