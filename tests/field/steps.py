"""What a crew does on the phone, step by step, as the tests of the phone do it."""

import re

POINTS = ((-60, 95), (-50, 77), (-40, 58), (-30, 40), (-20, 23))
"""House and fan pressure. [Pa]  400 cfm times the root of the second follows a power law."""


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


def wait_until_sent(page):
    page.wait_for_function(
        "() => document.getElementById('sync').textContent.startsWith('All sent')", timeout=30_000
    )
