"""Every kind of test, from an uploaded example document to its page at the desk."""

import json
import re
import uuid
from pathlib import Path

import pytest
from django.urls import reverse
from django.utils.html import escape

from agency.diagnostics.documents import KINDS
from agency.diagnostics.models import TestRun

pytestmark = pytest.mark.django_db

EXAMPLES = {
    data["kind"]: data
    for path in sorted((Path(__file__).parent.parent / "examples").glob("*.json"))
    if (data := json.loads(path.read_text()))["kind"] != "envelope"
}


def upload(phone, job, kind):
    """The example of a kind as this job's phone would send it."""
    visit = job.visits.create(kind="test_in", planned_on="2026-10-14")
    document = EXAMPLES[kind] | {"client_key": str(uuid.uuid4()), "job": str(job.pk)}
    if document.get("visit"):
        document["visit"] = str(visit.pk)
    answer = phone.post("/api/v1/test-runs/", document, format="json")
    assert answer.status_code == 201, answer.content
    return TestRun.objects.get(pk=answer.json()["id"])


def test_every_kind_has_an_example():
    assert set(EXAMPLES) == set(KINDS) - {"envelope"}


@pytest.mark.parametrize("kind", EXAMPLES)
def test_an_uploaded_example_is_computed_and_shown(  # noqa: PLR0917  fixtures
    phone, sign_in, cast, make_job, work_off, kind
):
    run = upload(phone, make_job(), kind)
    work_off()
    result = TestRun.objects.get(pk=run.pk).result
    assert result.verdict in {"valid", "advisory", "provisional"}, result.checks
    assert result.answer
    assert result.input_hash
    page = sign_in(cast.office).get(reverse("office:test_run", args=[run.pk])).content.decode()
    assert escape(result.figures["words"]) in page
    assert KINDS[kind].form.title in page
    for figure in result.figures["shown"]:
        assert escape(figure["name"]) in page
    if result.figures["drawing"]:
        assert page.count('class="drawing"') >= 2
    readings = page[page.index('id="readings"') :]
    assert len(re.findall(r"<td|<dd", readings)) > 5
    again = phone.get(f"/api/v1/test-runs/{run.pk}/").json()["result"]
    assert again["answer"] == result.answer
    assert again["figures"]["shown"] == result.figures["shown"]


@pytest.mark.parametrize("kind", EXAMPLES)
def test_evaluating_again_gives_the_same_result(phone, make_job, work_off, kind):
    from agency.diagnostics.results import evaluate_run

    run = upload(phone, make_job(), kind)
    work_off()
    first = TestRun.objects.get(pk=run.pk).result
    second = evaluate_run(run.pk)
    assert second.pk == first.pk
    assert second.figures == first.figures
