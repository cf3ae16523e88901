"""A test typed in from paper is stored, refused and computed as one from a phone."""

import re

import pytest
from django.urls import reverse
from django.utils.html import escape

from agency.diagnostics.documents import KINDS
from agency.diagnostics.models import RefusedUpload, TestRun

pytestmark = pytest.mark.django_db

WINDOW = {
    "method": "chamber",
    "phase": "before",
    "taken_at": "2026-10-14T10:20",
    "operator": "Casimir Oyelaran",
    "units.pressure": "Pa",
    "units.flow": "cfm",
    "units.temperature": "degF",
    "units.length": "ft",
    "units.barometer": "kPa",
    "gauge.serial": "QG-014",
    "gauge.baseline_subtracted": "no",
    "gauge.density_corrected": "no",
    "conditions.barometric_pressure": "99",
    "component": "Kitchen window",
    "construction": "window",
    "direction": "depressurization",
    "pressure": "−75",
    "total.flow": "18.4",
    "extraneous.flow": "5.1",
    "meter_temperature": "77",
    "area": "15",
    "crack_length": "",
    "cautions.gas": "clear",
}


def form_at(browser, job, kind="component"):
    return browser.get(reverse("office:type_in", args=[job.pk, kind]))


def send(browser, job, **changes):
    page = form_at(browser, job).content.decode()
    key = re.search(r'name="client_key" value="([^"]+)"', page)[1]
    address = reverse("office:type_in", args=[job.pk, "component"])
    return browser.post(address, {"client_key": key, **WINDOW, **changes})


def test_a_test_from_paper_is_stored_and_computed(sign_in, cast, make_job, work_off):
    """ASTM E283 form worked by hand, from memory: 0.870 cfm/ft²."""
    job = make_job()
    answer = send(sign_in(cast.office), job)
    run = TestRun.objects.get()
    assert answer.url == reverse("office:test_run", args=[run.pk])
    assert (run.job, run.kind, run.uploaded_by) == (job, "component", cast.office)
    work_off()
    result = TestRun.objects.get().result
    assert result.headline["value"] / (0.3048**3 / 60 / 0.3048**2) == pytest.approx(
        0.8702, abs=5e-5
    )
    page = sign_in(cast.office).get(answer.url).content.decode()
    assert "0.87" in page
    assert "Component leakage" in page


def test_what_was_left_empty_is_not_measured(sign_in, cast, make_job):
    send(sign_in(cast.office), make_job(), area="")
    assert '"area"' not in TestRun.objects.get().document


def test_the_same_form_sent_twice_makes_one_test(sign_in, cast, make_job):
    browser, job = sign_in(cast.office), make_job()
    page = form_at(browser, job).content.decode()
    key = re.search(r'name="client_key" value="([^"]+)"', page)[1]
    address = reverse("office:type_in", args=[job.pk, "component"])
    first = browser.post(address, {"client_key": key, **WINDOW})
    second = browser.post(address, {"client_key": key, **WINDOW})
    assert first.url == second.url
    assert TestRun.objects.count() == 1


@pytest.mark.parametrize(
    ("changes", "says", "anchor"),
    [
        ({"pressure": "1,500"}, "can be read as 1500", "pressure"),
        ({"total.flow": ""}, "either the fan pressures or the flow", "total"),
        ({"construction": ""}, "This field is missing", "construction"),
        ({"taken_at": "yesterday"}, "not a date with a time of day", "taken_at"),
        ({"units.flow": ""}, "not its unit", "units-flow"),
    ],
)
def test_a_refusal_stands_at_its_field_and_nothing_typed_is_lost(  # noqa: PLR0917  fixtures
    sign_in, cast, make_job, changes, says, anchor
):
    answer = send(sign_in(cast.office), make_job(), **changes)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert re.search(rf'href="#{anchor}"[^<]*>[^<]*{says}', page), page[:3000]
    assert 'value="Kitchen window"' in page
    assert not TestRun.objects.exists()
    assert not RefusedUpload.objects.exists()


def test_a_list_grows_by_a_row_and_keeps_what_was_typed(sign_in, cast, make_job):
    browser, job = sign_in(cast.office), make_job()
    address = reverse("office:type_in", args=[job.pk, "gauge_check"])
    assert browser.get(address).content.decode().count('name="hoses[') == 4
    page = browser.post(address, {"hoses[0].hose": "outside", "add": "hoses"}).content.decode()
    assert page.count('name="hoses[') == 2 * 4
    assert 'value="outside"' in page


def test_an_empty_row_between_others_is_dropped_and_errors_still_find_their_row(
    sign_in, cast, make_job
):
    browser, job = sign_in(cast.office), make_job()
    visit = job.visits.create(kind="test_in", planned_on="2026-10-14")
    address = reverse("office:type_in", args=[job.pk, "gauge_check"])
    typed = {
        "client_key": "5f0a6c1e-7a52-4d0b-9a53-0e1d5b6a0033",
        "method": "zero_and_hoses",
        "phase": "before",
        "visit": str(visit.pk),
        "taken_at": "2026-10-14T08:00",
        "units.pressure": "Pa",
        "gauge.serial": "QG-014",
        "gauge.baseline_subtracted": "no",
        "gauge.density_corrected": "no",
        "zeros[0].channel": "A",
        "zeros[0].reading": "0",
        "hoses[1].hose": "outside",
        "hoses[1].start": "80x",
    }
    page = browser.post(address, typed).content.decode()
    assert re.search(r'href="#hoses-1-start"', page)
    assert browser.post(address, typed | {"hoses[1].start": "80"}).status_code == 302
    assert '"reading":0.0' in TestRun.objects.get().document


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_can_be_typed_in_and_looked_up(sign_in, cast, make_job, kind):
    browser = sign_in(cast.office)
    page = form_at(browser, make_job(), kind).content.decode()
    assert KINDS[kind].form.title in page
    assert 'name="method"' in page
    lookup = browser.get(reverse("office:test_kind", args=[kind]))
    assert escape(KINDS[kind].form.purpose) in lookup.content.decode()


@pytest.mark.parametrize("kind", [one for one in KINDS if KINDS[one].form.moves_air])
def test_cautions_come_before_every_test_that_moves_air(sign_in, cast, make_job, kind):
    for page in (
        form_at(sign_in(cast.office), make_job(), kind).content.decode(),
        sign_in(cast.office).get(reverse("office:test_kind", args=[kind])).content.decode(),
    ):
        assert "Smell of gas" in page
        assert "licensed practitioner" in page


def test_turned_sides_are_logged_and_computed_anew(sign_in, cast, make_job, work_off):
    browser = sign_in(cast.office)
    send(browser, make_job(), pressure="75")
    work_off()
    run = TestRun.objects.get()
    assert run.result.verdict == "provisional"
    address = reverse("office:swap_sides", args=[run.pk])
    refused = browser.post(address, {"swap-channel": "A", "swap-reason": " "})
    assert refused.status_code == 422
    browser.post(address, {"swap-channel": "A", "swap-reason": "Hose labels on the photo."})
    work_off()
    run = TestRun.objects.get()
    assert run.result.verdict in {"valid", "advisory"}
    assert '"pressure":75.0' in run.document
    page = browser.get(reverse("office:test_run", args=[run.pk])).content.decode()
    assert "Channel A turned by odette" in page
    assert "Hose labels on the photo." in page
