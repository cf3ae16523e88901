"""Gloves, glare and a screen reader: sizes, contrast and names on every screen, at two widths."""

import pytest

from agency.diagnostics.models import RequiredTest
from tests.builders import make_stop

from .conftest import browser_only, stored
from .steps import answer_safety, arrive, begin_tightness, type_tightness

pytestmark = browser_only
TAGS = ["wcag2a", "wcag2aa", "wcag21aa", "wcag22aa"]
TARGET = 56
"""Height of what a gloved thumb must hit. [px]  Own choice, above the 48 of common advice."""
TEXT, READING = 18, 28
"""Sizes of text and of readings. [px]"""
CONTRAST = 7.0
"""Of text on its ground; WCAG 2.2, 1.4.6, from memory."""

TOO_SMALL = """least => [
        ...document.querySelectorAll("a, button, input, select, textarea, summary")]
    .filter(one => one.checkVisibility() && !one.closest(".visually-hidden, [hidden]"))
    .filter(one => !one.matches(".visually-hidden"))
    .map(one => [one, one.getBoundingClientRect()])
    .filter(([, box]) => box.height > 0 && box.height < least)
    .map(([one, box]) => `${one.tagName} ${one.id} ${one.textContent} ${box.height}`)"""
TOO_FINE = """least => [...document.querySelectorAll("body *")]
    .filter(one => one.checkVisibility() && !one.closest("svg"))
    .filter(one => [...one.childNodes].some(part => part.nodeType === 3 && part.data.trim()))
    .filter(one => parseFloat(getComputedStyle(one).fontSize) < least)
    .map(one => `${one.tagName} ${one.textContent}`)"""
TOO_PALE = """least => {
    const number = text => text.match(/[0-9.]+/g).map(Number);
    const light = ([red, green, blue]) => {
        const part = value => {
            const share = value / 255;
            return share <= 0.04045 ? share / 12.92 : ((share + 0.055) / 1.055) ** 2.4;
        };
        return 0.2126 * part(red) + 0.7152 * part(green) + 0.0722 * part(blue);
    };
    const ground = one => {
        for (let here = one; here; here = here.parentElement) {
            const colour = number(getComputedStyle(here).backgroundColor);
            if (colour.length === 3 || colour[3] > 0) return colour;
        }
        return [255, 255, 255];
    };
    return [...document.querySelectorAll("body *")]
        .filter(one => one.checkVisibility() && !one.closest("svg"))
        .filter(one => [...one.childNodes].some(part => part.nodeType === 3 && part.data.trim()))
        .map(one => {
            const [a, b] = [light(number(getComputedStyle(one).color)), light(ground(one))];
            const ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
            return [one, ratio];
        })
        .filter(([, ratio]) => ratio < least)
        .map(([one, ratio]) => `${one.tagName} ${one.textContent} ${ratio}`);
}"""


@pytest.fixture
def judge():
    """`judge(page, name)` holds one screen against all limits at both widths."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright")

    def look(page, name):
        for width in (320, 360):
            page.set_viewport_size({"width": width, "height": 740})
            assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), name
            assert page.evaluate(TOO_SMALL, TARGET) == [], (name, width)
            assert page.evaluate(TOO_FINE, TEXT) == [], (name, width)
            assert page.evaluate(TOO_PALE, CONTRAST) == [], (name, width)
            found = axe.Axe().run(page, options={"runOnly": {"type": "tag", "values": TAGS}})
            assert found.response["passes"]
            assert found.response["violations"] == [], (name, width)
        assert page.locator("h1").count() == 1
        assert page.title().endswith("- Hearthledger")

    return look


def to(page, hash_, heading):
    page.evaluate(f"location.hash = '{hash_}'")
    page.wait_for_selector(f'h1:text-is("{heading}")')


@pytest.fixture
def paired_page(switch_on, pair, needed):
    RequiredTest.objects.create(
        program=needed.job.program, visit_kind="test_in", kind="combustion_zone"
    )
    page = switch_on()
    page.set_default_timeout(10_000)
    pair(page)
    page.wait_for_selector(f"text={needed.job.house.address}")
    return page


@pytest.mark.parametrize("light", ["day", "night", "sun"])
def test_every_screen_of_a_visit_is_within_reach(paired_page, needed, judge, light):
    page, visit = paired_page, f"#visit/{needed.pk}"
    page.emulate_media(
        color_scheme="dark" if light == "night" else "light", reduced_motion="reduce"
    )
    if light == "sun":
        page.get_by_role("button", name="Sun").click()
    judge(page, "home")
    arrive(page, needed)
    judge(page, "safety")
    page.locator(".question").nth(2).get_by_label("Found", exact=True).check()
    page.wait_for_selector(".notice--stop")
    judge(page, "safety, one found")
    answer_safety(page)
    for part, heading in (
        ("", "Test-in"),
        ("/arrive", "Arrive"),
        ("/gauge", "Gauge and hoses"),
        ("/setup", "Set-up"),
        ("/tests", "Tests"),
        ("/cannot/envelope", "Not possible"),
        ("/photos", "Photos"),
        ("/leave", "Leave the house"),
    ):
        to(page, f"{visit}{part}", heading)
        judge(page, heading)
    to(page, "#phone", "This phone")
    judge(page, "phone")
    to(page, "#outbox", "Outbox")
    judge(page, "outbox")
    [report] = stored(page, "queue")
    to(page, f"#outbox/{report['key']}", "Arrival: Test-in")
    judge(page, "entry")
    to(page, "#pair", "Pair this phone")
    judge(page, "pair")
    assert page.complaints == []


def test_test_entry_is_within_reach(paired_page, needed, judge):
    page = paired_page
    arrive(page, needed)
    to(page, f"#visit/{needed.pk}/tests", "Tests")
    begin_tightness(page)
    judge(page, "tightness, empty")
    type_tightness(page)
    sizes = page.eval_on_selector_all(
        ".reading", "all => all.map(one => parseFloat(getComputedStyle(one).fontSize))"
    )
    assert min(sizes) >= READING
    page.get_by_label("Temperature inside", exact=True).fill("200")
    page.get_by_label("Temperature outside", exact=True).fill("cold")
    judge(page, "tightness, odd values")
    page.get_by_role("button", name="Finish this test").click()
    page.wait_for_selector("#summary .notice")
    judge(page, "tightness, in the way")
    assert page.evaluate("document.activeElement.closest('#summary') !== null")


def test_full_screen_stop_is_within_reach(paired_page, needed, judge):
    make_stop(needed.job)
    paired_page.get_by_role("button", name="Fetch and send now").click()
    paired_page.wait_for_selector("dialog.stop")
    judge(paired_page, "stop")
    assert paired_page.evaluate("document.activeElement.id") == "stop-title"


def test_failures_are_within_reach(switch_on, live_server, judge):
    page = switch_on()
    page.goto(f"{live_server.url}/field/#visit/none")
    page.wait_for_selector("h1:text-is('Visit')")
    judge(page, "unknown visit")
    page.add_init_script("indexedDB.open = () => { throw new Error('no storage') }")
    page.reload()
    page.wait_for_selector("text=This phone cannot keep your work")
    judge(page, "storage failed")
