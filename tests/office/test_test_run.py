"""A test run at its permanent address, reviewed or not, and the lists of runs."""

import json
import uuid

import pytest
from django.urls import reverse

from tests.builders import make_document

pytestmark = pytest.mark.django_db


def another(run, document):
    """A run like `run` with a document of its own; a stored one cannot be changed."""
    run.pk, run._state.adding = uuid.uuid4(), True
    run.client_key, run.document = uuid.uuid4(), json.dumps(document)
    run.save()
    return run


def test_shows_what_the_result_rests_on(sign_in, cast, make_job, make_run):
    run = make_run(make_job(), review="accepted", reviewed_by=cast.office)
    page = sign_in(cast.inspector).get(reverse("office:test_run", args=[run.pk])).content.decode()
    result = run.result
    for told in (result.method, result.edition, result.maths_version, result.input_hash):
        assert told in page
    assert run.document_hash in page


def test_document_as_received_is_shown_as_text(sign_in, cast, make_job, make_run):
    run = another(make_run(make_job()), make_document(note="<b>loose</b> hatch"))
    page = sign_in(cast.office).get(reverse("office:test_run", args=[run.pk])).content.decode()
    assert "<b>loose" not in page
    assert "&lt;b&gt;loose&lt;/b&gt; hatch" in page


def test_run_without_a_result_says_so(sign_in, cast, make_job, make_run):
    run = make_run(make_job())
    run.results.all().delete()
    page = sign_in(cast.office).get(reverse("office:test_run", args=[run.pk])).content.decode()
    assert "No result is computed yet." in page
    assert "Being computed" in page


def test_document_this_version_cannot_read_does_not_break_the_page(
    sign_in, cast, make_job, make_run
):
    run = another(make_run(make_job()), {"kind": "of old"})
    answer = sign_in(cast.office).get(reverse("office:test_run", args=[run.pk]))
    assert answer.status_code == 200
    assert "cannot lay this document out" in answer.content.decode()


@pytest.mark.parametrize(
    ("show", "expected"),
    [("to_review", 2), ("unreportable", 1), ("returned", 1), ("all", 4), ("nonsense", 4)],
)
def test_lists(sign_in, cast, make_job, make_run, show, expected):  # noqa: PLR0917
    make_run(make_job())
    make_run(make_job(), verdict="rejected")
    make_run(make_job(), review="returned", reviewed_by=cast.office)
    make_run(make_job(), review="accepted", reviewed_by=cast.office)
    answer = sign_in(cast.office).get(reverse("office:test_runs"), {"show": show})
    assert answer.context["page"].paginator.count == expected


@pytest.mark.parametrize("number_of_runs", [2, 9])
def test_queries_do_not_grow_with_the_list(  # noqa: PLR0917
    sign_in, cast, make_job, make_run, django_assert_num_queries, number_of_runs
):
    """Session, user, to-review count; count, rows and their results."""
    for _ in range(number_of_runs):
        make_run(make_job())
    browser = sign_in(cast.office)
    with django_assert_num_queries(6):
        browser.get(reverse("office:test_runs"))
