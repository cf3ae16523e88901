"""A visit on paper: every reading asked for has its box and unit; nothing is fetched for it."""

from datetime import date
from io import BytesIO

import pytest
from django.urls import reverse
from pypdf import PdfReader

from agency.diagnostics.cautions import CAUTIONS
from agency.diagnostics.documents import KINDS
from agency.diagnostics.form_definitions import REGISTERED, definition_of
from agency.diagnostics.models import RequiredTest
from agency.jobs.models import Visit
from agency.office.worksheet import worksheet_html
from agency.office.worksheet_form import MOST_COLUMNS, block_of
from agency.papers.printing import printed
from agency.people.models import Client
from tests.builders import make_house, make_stop

pytestmark = pytest.mark.django_db


@pytest.fixture
def visit(make_job, agency):
    job = make_job(house=make_house(volume_cuft=None))
    for place, kind in enumerate(("gauge_check", "envelope")):
        RequiredTest.objects.create(
            program=job.program, visit_kind="test_in", kind=kind, place=place
        )
    return Visit.objects.create(
        job=job, kind="test_in", planned_on=date(2026, 4, 14), crew=job.crew
    )


def text_of(pdf):
    return " ".join(" ".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages).split())


def labels_in(block):
    yield from (box.label for box in block.boxes)
    for inner in block.inside:
        yield from labels_in(inner)


def tables_in(block):
    if block.rows:
        yield block
    for inner in block.inside:
        yield from tables_in(inner)


def asked_in(fields):
    for one in fields:
        if one["path"] in REGISTERED:
            continue
        if "fields" in one:
            yield from asked_in(one["fields"])
        else:
            yield one["label"].lower()


def test_the_worksheet_names_house_client_visit_and_tests(sign_in, cast, visit):
    make_stop(visit.job)
    answer = sign_in(cast.office).get(reverse("office:worksheet", args=[visit.pk]))
    assert answer.headers["Content-Type"] == "application/pdf"
    assert visit.job.number in answer.headers["Content-Disposition"]
    assert answer.headers["Content-Disposition"].startswith("attachment")
    said = text_of(b"".join(answer.streaming_content))
    for words in (
        visit.job.house.address,
        visit.job.client.name,
        "Crew Alder",
        "Apr 14, 2026",
        "1. Gauge and hose check",
        "2. Building tightness",
        "Smell of gas, or a gas alarm",
        "Stopped: Carbon monoxide in the room air is 38 ppm",
        "Fan pressure",
        "Pa / in. w.c.",
        "cfm / m³/h / L/s / m³/s",
    ):
        assert words in said
    assert "Volume not measured" in said


def test_it_is_a_tagged_paper_with_a_title(visit):
    reader = PdfReader(BytesIO(printed(worksheet_html(visit))))
    assert reader.metadata.title == f"Worksheet: Test-in, job {visit.job.number}"
    assert reader.trailer["/Root"]["/MarkInfo"]["/Marked"]
    assert reader.trailer["/Root"]["/Lang"] == "en-US"


@pytest.mark.parametrize("kind", KINDS)
def test_every_reading_of_every_kind_has_its_box(kind):
    form = definition_of(kind, [])
    drawn = list(labels_in(block_of("", form["fields"], form["units"])))
    missing = [
        label
        for label in asked_in(form["fields"])
        if not any(label in one.lower() for one in drawn)
    ]
    assert not missing


@pytest.mark.parametrize("kind", KINDS)
def test_no_table_is_too_wide_for_the_page_or_without_rows_to_fill_in(kind):
    form = definition_of(kind, [])
    for table in tables_in(block_of("", form["fields"], form["units"])):
        assert 1 <= len(table.boxes) <= MOST_COLUMNS
        assert len(table.empty_rows) >= 2


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_can_be_printed(visit, kind):
    RequiredTest.objects.all().delete()
    RequiredTest.objects.create(program=visit.job.program, visit_kind="test_in", kind=kind)
    assert KINDS[kind].form.title in text_of(printed(worksheet_html(visit)))


def test_only_the_required_way_is_offered(visit):
    RequiredTest.objects.filter(kind="envelope").update(method="one_point")
    page = worksheet_html(visit)
    assert "One pressure" in page
    assert "9972" not in page


def test_cautions_stand_on_it_only_where_a_fan_moves_air(visit):
    assert all(one.look_for in worksheet_html(visit) for one in CAUTIONS)
    RequiredTest.objects.filter(kind="envelope").delete()
    assert not any(one.look_for in worksheet_html(visit) for one in CAUTIONS)


def test_a_visit_that_requires_nothing_says_so(visit):
    RequiredTest.objects.all().delete()
    assert "requires no test on this visit" in worksheet_html(visit)


def test_what_people_typed_is_text_and_fetches_nothing(make_job, agency):
    hostile = '<img src="http://127.0.0.1:9/x"><link rel=attachment href="file:///etc/passwd">'
    client = Client.objects.create(name=hostile, phone="555-0142")
    job = make_job(client=client, house=make_house(address="<script>alert(1)</script>"))
    visit = Visit.objects.create(job=job, kind="work", planned_on=date(2026, 4, 14))
    page = worksheet_html(visit)
    assert "<img" not in page
    assert "<script" not in page
    assert "alert(1)" in text_of(printed(page))


def test_a_crew_and_strangers_do_not_get_it_at_the_desk(client, sign_in, cast, visit):
    address = reverse("office:worksheet", args=[visit.pk])
    assert client.get(address).status_code == 302
    assert sign_in(cast.crew_lead).get(address).status_code == 404


def test_the_job_page_leads_to_it(sign_in, cast, visit):
    page = sign_in(cast.office).get(reverse("office:job", args=[visit.job_id])).content.decode()
    assert reverse("office:worksheet", args=[visit.pk]) in page
