"""A phone in a real browser: paired by a code, with its own storage, its line cut at will."""

import contextlib
import json
import shutil
from datetime import timedelta
from typing import Any

import pytest
from django.db import connections
from django.utils import timezone

from agency.accounts.models import PairingCode
from agency.diagnostics.models import RequiredTest
from agency.instruments.models import Calibration, FanEquation, Instrument
from agency.jobs.models import Visit

playwright = pytest.importorskip("playwright.sync_api")
CHROMIUM = shutil.which("chromium") or shutil.which("google-chrome")
NARROW = {"width": 360, "height": 740}

browser_only = [
    pytest.mark.browser,
    pytest.mark.django_db(transaction=True, serialized_rollback=True),
    pytest.mark.skipif(CHROMIUM is None, reason="no Chromium on this machine"),
]


@pytest.fixture
def folder(tmp_path):
    """Where the phone keeps everything while it is switched off."""
    return tmp_path / "phone"


@pytest.fixture
def switch_on(monkeypatch, folder):
    """`switch_on()` starts the browser with the phone's storage and gives its one page."""
    # Playwright keeps an event loop in this thread; the database is used beside it, not in it.
    monkeypatch.setenv("DJANGO_ALLOW_ASYNC_UNSAFE", "true")
    with playwright.sync_playwright() as driver:
        opened = []

        def start() -> Any:
            context = driver.chromium.launch_persistent_context(
                folder,
                executable_path=CHROMIUM,
                args=["--no-sandbox"],
                viewport=NARROW,
                has_touch=True,
                timezone_id="America/Chicago",
            )
            opened.append(context)
            page = context.pages[0]
            page.complaints = []
            page.on("console", lambda said: _complain(page, said))
            page.on("pageerror", lambda fault: page.complaints.append(str(fault)))
            return page

        yield start
        # Beside a running loop Django opens a connection of its own; nothing else closes it.
        connections.close_all()
        for context in opened:
            with contextlib.suppress(playwright.Error):
                context.close()


def _complain(page: Any, said: Any) -> None:
    # The browser itself writes down each answer that is not 2xx and each line that is cut.
    if said.type == "error" and "Failed to load resource" not in said.text:
        page.complaints.append(said.text)


@pytest.fixture
def register(cast):
    """A gauge and a fan with one equation, both calibrated this year."""
    day = timezone.localdate()
    made = []
    for kind, serial in (("gauge", "QG-014"), ("fan", "QF-003")):
        one = Instrument.objects.create(kind=kind, serial=serial, crew=cast.crew)
        calibration = Calibration.objects.create(
            instrument=one,
            calibrated_on=day - timedelta(days=60),
            due_on=day + timedelta(days=300),
            laboratory="Quillmoor Gauge Laboratory",
        )
        made.append(calibration)
    FanEquation.objects.create(
        calibration=made[1],
        configuration="open",
        coefficient=400.0,
        exponent=0.5,
        lowest_pressure=5,
        highest_pressure=300,
        flow_unit="cfm",
        air_density=1.204,
    )


@pytest.fixture
def visit(make_job, cast, register):
    """The crew's test-in of today."""
    job = make_job()
    return Visit.objects.create(
        job=job, kind="test_in", crew=cast.crew, planned_on=timezone.localdate()
    )


@pytest.fixture
def needed(visit):
    """The programme asks for one building tightness test at a test-in."""
    RequiredTest.objects.create(program=visit.job.program, visit_kind="test_in", kind="envelope")
    return visit


@pytest.fixture
def pair(live_server, cast):
    """`pair(page)` pairs the phone with a fresh code, as a scanned address would."""

    def go(page: Any) -> None:
        code = PairingCode.make(cast.crew_lead, made_by=cast.office, now=timezone.now())
        page.goto(f"{live_server.url}/field/#pair={code}")
        page.get_by_role("button", name="Pair this phone").click()
        page.wait_for_selector("text=Your visits")

    return go


@pytest.fixture
def phone_on(switch_on, pair, needed):
    """A phone that was paired and fetched its visits."""
    page = switch_on()
    page.set_default_timeout(10_000)
    pair(page)
    page.wait_for_selector(f"text={needed.job.house.address}")
    page.evaluate("navigator.serviceWorker.ready.then(() => null)")
    return page


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


def stored(page: Any, store: str) -> list[dict[str, Any]]:
    """All that the phone keeps in one of its stores, read past the page's own code."""
    text = page.evaluate(
        """name => new Promise((resolve, reject) => {
            const opening = indexedDB.open("hearthledger-field");
            opening.onerror = () => reject(opening.error);
            opening.onsuccess = () => {
                const asked = opening.result.transaction(name).objectStore(name).getAll();
                asked.onsuccess = () => {
                    opening.result.close();
                    resolve(JSON.stringify(asked.result));
                };
            };
        })""",
        store,
    )
    return json.loads(text)


def until(page: Any, holds: Any, *, seconds: int = 20) -> None:
    """Wait for what only storage or database can tell."""
    for _ in range(10 * seconds):
        if holds():
            return
        page.wait_for_timeout(100)
    raise AssertionError(f"Not within {seconds} s.")
