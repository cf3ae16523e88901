"""The report of one test run for the file: every kind, every reading, every word said about it."""

import json
import re
import uuid
from datetime import date
from pathlib import Path

import page as validator
import pytest
from django.urls import reverse

from agency.diagnostics.documents import KINDS
from agency.diagnostics.models import TestRun
from agency.diagnostics.photos import Photo
from agency.instruments.models import Calibration, Instrument
from agency.workflows import except_run
from tests.builders import make_document, make_photo
from tests.papers.reading import read

from .test_bench_pages import EXAMPLES, upload

pytestmark = pytest.mark.django_db

ENVELOPE = json.loads(
    (Path(__file__).parent.parent / "examples/iso9972_depressurization.json").read_text()
)
DOCUMENTS = EXAMPLES | {"envelope": ENVELOPE}


def report(browser, run) -> bytes:
    answer = browser.get(reverse("office:test_report", args=[run.pk]))
    assert answer.status_code == 200, answer.headers
    assert answer["Content-Type"] == "application/pdf"
    return b"".join(answer.streaming_content)


def text_of(pdf: bytes) -> str:
    return " ".join(read(pdf)[1])


def plain(text: str) -> str:
    """Without blanks: lines are broken anywhere in narrow columns."""
    return re.sub(r"[\s\u202f\u00a0]", "", text)


@pytest.fixture
def send(phone, make_job, work_off):
    """A document sent by the crew's phone and computed by a worker."""

    def sent(document, **changes) -> TestRun:
        job = make_job()
        content = document | {"client_key": str(uuid.uuid4()), "job": str(job.pk), "visit": None}
        answer = phone.post("/api/v1/test-runs/", content | changes, format="json")
        assert answer.status_code == 201, answer.content
        work_off()
        return TestRun.objects.get(pk=answer.json()["id"])

    return sent


@pytest.mark.parametrize("kind", DOCUMENTS)
def test_every_kind_is_reported_with_its_figures_checks_and_readings(  # noqa: PLR0917
    phone, sign_in, cast, make_job, work_off, send, kind
):
    if kind == "envelope":
        run = send(ENVELOPE)
    else:
        run = upload(phone, make_job(), kind)
        work_off()
    run = TestRun.objects.get(pk=run.pk)
    pdf = report(sign_in(cast.inspector), run)
    found = validator.validate_pdf_bytes(pdf, profile="ua1")
    assert found.is_compliant, [failure.message for failure in found.failures]
    text, result = plain(text_of(pdf)), run.result
    assert plain(KINDS[kind].form.title) in text
    for figure in result.figures.get("shown") or []:
        assert plain(figure["name"]) in text
    for check in result.checks:
        assert plain(check.get("source") or check.get("standard") or "") in text
    for told in (result.input_hash, run.document_hash, result.maths_version, str(run.pk)):
        assert plain(told) in text
    assert run.job.client.name not in text_of(pdf)


def test_every_raw_point_is_printed_as_it_was_sent(sign_in, cast, send):
    run = send(ENVELOPE)
    text = plain(text_of(report(sign_in(cast.office), run)))
    for series in ENVELOPE["series"]:
        for point in series["points"]:
            typed = f"{point['building_pressure']}".replace("-", "\u2212")
            assert typed in text, typed


def test_fit_is_drawn_with_words_for_those_who_do_not_see_it(sign_in, cast, send):
    reader, _ = read(report(sign_in(cast.office), send(ENVELOPE)))
    figures = []

    def walk(tag):
        tag = tag.get_object()
        if isinstance(tag, dict):
            if tag.get("/S") == "/Figure":
                figures.append(tag)
            below = tag.get("/K", [])
            for kid in below if isinstance(below, list) else [below]:
                walk(kid)

    walk(reader.trailer["/Root"]["/StructTreeRoot"]["/K"][0])
    assert [figure["/Alt"] for figure in figures] == ["Flow against house pressure"]


def test_header_row_stands_on_every_page_a_table_runs_over(sign_in, cast, send):
    point = {"building_pressure": -50.1, "flow": 2000.0, "seconds": 15}
    document = make_document()
    series = document["series"][0]
    many = [point | {"building_pressure": round(-15 - n / 2, 1)} for n in range(60)]
    run = send(document | {"series": [series | {"points": many}]})
    _, pages = read(report(sign_in(cast.office), run))
    carrying = [page for page in pages if "House pressure, Pa" in page]
    assert len(carrying) >= 2
    assert all(re.search(r"Page \d+ of \d+", page) for page in pages)


def test_overrides_are_told_by_name_and_reason(sign_in, cast, make_job, make_run):
    run = make_run(make_job())
    result = run.result
    result.checks = [
        {
            "code": "odd.value",
            "severity": "question",
            "status": "advisory",
            "confirmed": False,
            "message": "The wind was 31 mph.",
        }
    ]
    result.save()
    run.confirm("odd.value", cast.office, "Read twice at the airfield.")
    run.swap_sides("A", cast.manager, "The crew's photo shows the hoses.")
    gauge = Instrument.objects.create(kind="gauge", serial="QG-014")
    except_run(gauge.pk, run.pk, cast.manager, reason="Read beside another.", on=date(2027, 1, 1))
    text = plain(text_of(report(sign_in(cast.manager), run)))
    for told in (
        "Confirmed: The wind was 31 mph.",
        "odette, office",
        "Read twice at the airfield.",
        "Channel A: input and reference side turned",
        "The crew's photo shows the hoses.",
        "Pressure gauge QG-014 may stand although no calibration",
        "marisol, manager",
        "Read beside another.",
    ):
        assert plain(told) in text, told


@pytest.mark.parametrize(
    ("calibrated", "due", "told"),
    [
        (date(2026, 1, 10), date(2027, 1, 10), "Jan 10, 2026, due Jan 10, 2027: current"),
        (date(2024, 1, 10), date(2025, 1, 10), "Jan 10, 2024, due Jan 10, 2025: overdue"),
        (date(2026, 6, 1), date(2027, 6, 1), "none before the test"),
    ],
)
def test_calibration_is_told_as_it_stood_on_the_day(  # noqa: PLR0917
    sign_in, cast, send, calibrated, due, told
):
    """The document was made on Apr 14, 2026."""
    gauge = Instrument.objects.create(kind="gauge", serial="QG-014")
    Calibration.objects.create(instrument=gauge, calibrated_on=calibrated, due_on=due)
    text = plain(text_of(report(sign_in(cast.office), send(make_document()))))
    assert plain(told) in text


def test_photos_of_the_test_are_listed_with_their_hash(sign_in, cast, make_job, make_run):
    run = make_run(make_job())
    photo = make_photo(run.job, device=run.device, caption="Fan in door")
    Photo.objects.filter(pk=photo.pk).update(test_key=run.client_key)
    other = make_photo(run.job, device=run.device, caption="Another test")
    text = plain(text_of(report(sign_in(cast.office), run)))
    assert plain("Fan in door") in text
    assert photo.document_hash in text
    assert plain(other.caption) not in text


def test_instrument_nobody_registered_is_told_so(sign_in, cast, send):
    text = plain(text_of(report(sign_in(cast.office), send(make_document()))))
    assert plain("not in the register") in text


def test_decisions_and_their_days_are_in_the_history(sign_in, cast, make_job, make_run):
    run = make_run(make_job())
    run.send_back(cast.office, "The attic hatch was open.")
    text = plain(text_of(report(sign_in(cast.office), run)))
    assert plain("Review: Returned by odette") in text
    assert plain("The attic hatch was open.") in text
    assert plain("from To review to Returned") in text


def test_run_that_is_not_computed_yet_has_a_report_that_says_so(sign_in, cast, make_job, make_run):
    run = make_run(make_job())
    run.results.all().delete()
    text = text_of(report(sign_in(cast.office), run))
    assert "Being computed" in text
    assert "No check is made yet." in text


def test_report_too_long_to_print_is_refused_in_words(sign_in, cast, make_job, make_run):
    """A note of 1 MB, as the database may hold it; the run itself stays readable."""
    run = make_run(make_job())
    run.review, run.review_reason = "returned", "word " * 200_000
    run.reviewed_by = cast.office
    run.save()
    browser = sign_in(cast.office)
    answer = browser.get(reverse("office:test_report", args=[run.pk]), follow=True)
    assert answer.redirect_chain[-1][0] == reverse("office:test_run", args=[run.pk])
    assert "600,000 are the most" in answer.content.decode()


def test_page_of_the_run_leads_to_its_report(sign_in, cast, make_job, make_run):
    run = make_run(make_job())
    page = sign_in(cast.office).get(reverse("office:test_run", args=[run.pk])).content.decode()
    assert reverse("office:test_report", args=[run.pk]) in page
