"""A hazard found in a combustion zone stops its job, once, until someone else clears it."""

import uuid
from datetime import UTC, datetime

import pytest

from agency import workflows
from agency.diagnostics.cautions import DEFER
from agency.diagnostics.models import TestRun
from agency.diagnostics.results import evaluate_run
from agency.diagnostics.storing import store_upload
from agency.errors import ActionRefused
from agency.jobs.models import SafetyStop

from .examples import example

pytestmark = pytest.mark.django_db

NOW = datetime(2026, 10, 15, 16, tzinfo=UTC)


@pytest.fixture
def job(make_job):
    """A job whose work goes on, with the shipped rule book."""
    return make_job(status="in_progress")


@pytest.fixture
def upload(device, job):
    """`upload(spillage_seconds)`: the example, stored as a phone sends it."""

    def send(spillage_seconds: float) -> TestRun:
        data = example("combustion_zone.json") | {"job": str(job.pk)}
        data["client_key"] = str(uuid.uuid4())
        data["appliances"][0]["spillage_seconds"] = spillage_seconds
        answer = store_upload(device, data, sent_at=NOW, now=NOW)
        return TestRun.objects.get(pk=answer.body["id"])

    return send


def test_an_uploaded_run_that_spills_stops_the_job(upload, job):
    run = upload(300)
    result = evaluate_run(run.pk)
    assert result.answer == "action"
    stop = SafetyStop.objects.get()
    assert (stop.job, stop.source) == (job, run.pk)
    assert (stop.hazard, stop.cautions) == ("combustion.spillage.1", DEFER)
    assert "300 s; the limit is <= 120 s by BPI-1200" in stop.words
    assert stop.steps[0].startswith("Turn the appliance off")


def test_the_job_cannot_be_called_well_while_it_is_open(upload, job, cast):
    evaluate_run(upload(300).pk)
    with pytest.raises(ActionRefused, match="open safety stop"):
        workflows.finish_work(job.pk, cast.crew_lead)


def test_evaluating_again_raises_no_second_stop(upload):
    run = upload(300)
    for _ in range(3):
        evaluate_run(run.pk)
    assert SafetyStop.objects.count() == 1


def test_evaluating_again_after_it_was_cleared_does_not_stop_the_job_anew(upload, job, cast):
    run = upload(300)
    evaluate_run(run.pk)
    stop = SafetyStop.objects.get()
    stop.acknowledge(cast.crew_lead, "Casimir Oyelaran")
    stop.clear(cast.inspector, "Vent connector was refitted and tested.")
    evaluate_run(run.pk)
    assert not SafetyStop.objects.open().exists()


def test_a_later_good_result_does_not_clear_the_stop(upload):
    evaluate_run(upload(300).pk)
    assert evaluate_run(upload(15).pk).answer == "met"
    assert SafetyStop.objects.get().is_open


def test_a_later_run_that_spills_again_stops_the_job_again(upload):
    for _ in range(2):
        evaluate_run(upload(300).pk)
    assert SafetyStop.objects.open().count() == 2


def test_a_run_without_hazard_stops_nothing(upload):
    evaluate_run(upload(15).pk)
    assert not SafetyStop.objects.exists()
