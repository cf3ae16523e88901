"""Stops a phone raises by itself: the same hazards as the server's, from the rules sent along."""

import copy
from typing import Any

from django.utils import timezone

from agency.diagnostics.bridge.phone_stops import stop_rules
from agency.diagnostics.models import RequiredTest
from agency.rulebook.shipped import effective_on, shipped_rules
from tests.diagnostics.examples import evaluate, example

from .conftest import browser_only, stored, until
from .steps import leave, no_signal, press

pytestmark = browser_only

# 9, 30, 36 and 70 ppm in room air above outdoors, 120 and 300 s of spillage, 200 and 400 ppm
# air-free: BPI-1200, IRC Appendix D and the fuel gas code, from memory.
CHANGES: list[dict[str, Any]] = [
    {},
    {"combustible_gas": "seen"},
    {"house_carbon_monoxide": 29.9, "outdoor_carbon_monoxide": 0},
    {"house_carbon_monoxide": 30, "outdoor_carbon_monoxide": 0},
    {"house_carbon_monoxide": 38, "outdoor_carbon_monoxide": 9},
    {"zone_carbon_monoxide": 71, "outdoor_carbon_monoxide": None},
    {"house_carbon_monoxide": 36.3, "outdoor_carbon_monoxide": 0.3},
    {"appliance": {"flame_rollout": "seen"}},
    {"appliance": {"gas_leak": "seen"}},
    {"appliance": {"soot": "seen", "blocked_vent": "seen"}},
    {"appliance": {"vent": "warm", "spillage": "stopped", "spillage_seconds": 120}},
    {"appliance": {"vent": "warm", "spillage": "stopped", "spillage_seconds": 121}},
    {"appliance": {"vent": "cold", "spillage": "stopped", "spillage_seconds": 299}},
    {"appliance": {"vent": "cold", "spillage": "did_not_stop", "spillage_seconds": 301}},
    {"appliance": {"vent": None, "spillage": "stopped", "spillage_seconds": 130}},
    {"appliance": {"carbon_monoxide": 150, "oxygen": 8}},
    {"appliance": {"carbon_monoxide": 15, "oxygen": 8}},
    {"appliance": {"carbon_monoxide": 150, "oxygen": 20.5}},
    {"appliance": {"sort": "furnace", "carbon_monoxide": 390, "oxygen": 6}},
    # -3 Pa net is the limit of natural draft shared, -2 of an orphan: ACCA 12, from memory.
    {"baseline": -1.3, "fans_on": -4.3, "doors_set": -4.3},
    {"baseline": -1.3, "fans_on": -4.4, "doors_set": -4.4},
    {"baseline": -1.3, "fans_on": -4.34, "doors_set": -4.34},
    {"baseline": -1.3, "fans_on": -4.35, "doors_set": -4.35},
    {"baseline": -1.0, "handler_on": -6.0},
    {"baseline": None, "fans_on": -9.0},
    {
        "baseline": -1.0,
        "fans_on": -3.1,
        "doors_set": -3.1,
        "appliance": {"venting": "orphan_water_heater"},
    },
    {
        "baseline": -0.004,
        "fans_on": -0.02,
        "doors_set": -0.02,
        "handler_on": None,
        "units": {"pressure": "inH2O", "temperature": "degF", "heat": "Btu/h"},
    },
]


def changed(change: dict[str, Any]) -> dict[str, Any]:
    document = copy.deepcopy(example("combustion_zone.json"))
    own = dict(change)
    document["appliances"][0] |= own.pop("appliance", {})
    return document | own


def by_the_server(document: dict[str, Any]) -> set[str]:
    return {stop["hazard"] for stop in evaluate(document).stops}


def test_phone_and_server_find_the_same_hazards(switch_on, live_server):
    page = switch_on()
    page.goto(f"{live_server.url}/field/")
    rules = stop_rules(effective_on(shipped_rules(), timezone.localdate()))
    documents = [changed(one) for one in CHANGES]
    found = page.evaluate(
        """async ({documents, rules}) => {
            const safety = await import("/static/field/safety.js");
            return documents.map(one =>
                safety.stopsOf(one, {stop_rules: rules}).map(stop => stop.hazard));
        }""",
        {"documents": documents, "rules": rules},
    )
    wanted = [by_the_server(one) for one in documents]
    assert [set(one) for one in found] == wanted
    assert sum(bool(one) for one in wanted) >= len(CHANGES) / 2


def needs(page):
    """Kinds of test the phone knows to be required."""
    package = next(one for one in stored(page, "facts") if one.get("name") == "package")
    return {one["kind"] for one in package["value"]["jobs"][0]["visits"][0]["required"]}


def test_reading_over_its_limit_fills_the_screen_without_a_signal(phone_on, needed):
    RequiredTest.objects.create(
        program=needed.job.program, visit_kind="test_in", kind="combustion_zone"
    )
    press(phone_on, "Fetch and send now")
    until(phone_on, lambda: needs(phone_on) == {"envelope", "combustion_zone"})
    no_signal(phone_on)
    phone_on.evaluate(f"location.hash = '#visit/{needed.pk}/tests'")
    phone_on.get_by_role("button", name="Start: Combustion zone").click()
    phone_on.get_by_label("Combustion zone", exact=True).fill("Basement")
    gas = phone_on.get_by_role("group", name="Combustible gas in air or at joints")
    gas.get_by_label("Seen", exact=True).check()
    gas.get_by_role("button", name="Clear this answer").click()
    phone_on.get_by_label("Carbon monoxide in the house").fill("74")
    press(phone_on, "Finish this test")
    phone_on.wait_for_selector("dialog.stop")
    words = phone_on.text_content("dialog.stop")
    assert "70 ppm" in words
    assert "Read: 74 ppm." in words
    assert "gas was found" not in words
    assert phone_on.locator(".stop__steps li").count() >= 3
    phone_on.get_by_label("Read by").fill("")
    press(phone_on, "I have read this")
    assert phone_on.get_by_text("Write your name.").is_visible()
    phone_on.get_by_label("Read by").fill("Casimir Oyelaran")
    press(phone_on, "I have read this")
    phone_on.wait_for_selector("dialog.stop", state="detached")
    phone_on.evaluate(f"location.hash = '#visit/{needed.pk}/arrive'")
    press(phone_on, "I am at the house")
    phone_on.wait_for_selector("h1:text-is('Safety questions')")
    leave(phone_on, needed)
    press(phone_on, "Leave all the same")
    phone_on.context.set_offline(False)
    phone_on.wait_for_function(
        "() => document.getElementById('sync').textContent.startsWith('All sent')"
    )
    [report] = needed.reports.all()
    assert "Safety stop read by Casimir Oyelaran" in report.document
