"""The agency's main job from raw readings to certificate and report, in one process."""

import json
import math

import numpy as np
import pytest
import statsmodels.api as sm

from agency import workflows
from agency.certificates.models import Certificate
from agency.diagnostics.models import Comparison, TestRun
from agency.errors import ActionRefused
from agency.estimates.models import SavingsEstimate
from agency.outbox.models import Errand
from tests.builders import CFM, make_document, make_price, make_weather

BEFORE, AFTER = 210.0, 140.0
"""Coefficients of the two tests. [cfm/Pa^n]"""


@pytest.fixture
def tested_job(phone, make_job, work_off):
    """A job with one test before and one after the work, evaluated."""
    job = make_job(status="in_progress")
    records = [
        make_document(job=job, phase="before", coefficient_cfm=BEFORE),
        make_document(
            job=job,
            phase="after",
            coefficient_cfm=AFTER,
            taken_at="2026-04-21T15:30:00-05:00",
        ),
    ]
    answer = phone.post(
        "/api/v1/batches/", json.dumps({"records": records}), content_type="application/json"
    )
    assert [one["http_status"] for one in answer.json()["answers"]] == [201, 201]
    work_off()
    return job


def flow_50_by_statsmodels(document):
    """Least squares of ln Q on ln P, straight from the readings, in cfm."""
    series = document["series"][0]
    baseline = np.mean(
        [np.mean(series[name]["samples"]) for name in ("baseline_before", "baseline_after")]
    )
    pressure = [abs(point["building_pressure"] - baseline) for point in series["points"]]
    flow = [point["flow"] for point in series["points"]]
    fit = sm.OLS(np.log(flow), sm.add_constant(np.log(pressure))).fit()
    return math.exp(fit.params[0] + fit.params[1] * math.log(50))


def test_each_result_agrees_with_statsmodels_up_to_the_air(tested_job):
    """Raw least squares by statsmodels; the air corrections of 69 °F against 55 °F at 900 ft
    stay below 4 % by the ideal gas law (294 K / 286 K = 1.028, and the altitude's 1.6 %)."""
    for run in tested_job.test_runs.all():
        raw = flow_50_by_statsmodels(json.loads(run.document))
        assert run.result.flow_50 / CFM == pytest.approx(raw, rel=0.04)


def test_the_reduction_is_that_of_the_readings(tested_job, cast):
    """Both tests share the air, so the share gone is 1 - 140/210 up to the rounding of readings."""
    for run in tested_job.test_runs.all():
        assert run.result.verdict in {"valid", "advisory"}, run.result.checks
        workflows.accept_test_run(run.pk, cast.office)
    comparison = Comparison.objects.filter(job=tested_job).first()
    assert comparison.verdict == "detectable"
    assert comparison.reduction == pytest.approx(1 - AFTER / BEFORE, abs=0.001)
    assert 0 < comparison.reduction_uncertainty < 0.05


def test_from_readings_to_certificate_and_report(tested_job, cast, work_off, sign_in, agency):
    job = tested_job
    make_weather(job.house.county)
    make_price("natural_gas", "therm", "1.20")
    for run in job.test_runs.all():
        workflows.accept_test_run(run.pk, cast.office)
    workflows.finish_work(job.pk, cast.crew_lead)
    with pytest.raises(ActionRefused):
        workflows.record_inspection(job.pk, cast.manager, on=job.opened_on, passed=True, note="")
    workflows.record_inspection(
        job.pk, cast.inspector, on=job.opened_on.replace(month=4, day=28), passed=True, note=""
    )
    workflows.approve_job(job.pk, cast.manager)
    assert work_off() == 2
    estimate = SavingsEstimate.objects.get(job=job)
    assert estimate.refusals == [] or {one["part"] for one in estimate.refusals} == {"cooling"}
    dollars = estimate.figures["heating"]["dollars"]
    assert 0 < dollars["low"] < dollars["central"] < dollars["high"]
    certificate = Certificate.objects.get(job=job)
    assert certificate.file.read(5) == b"%PDF-"
    assert Errand.objects.exclude(state="done").count() == 0

    report = sign_in(cast.manager).get("/api/v1/reports/quarters/2026-Q2/").json()
    assert report["units"]["jobs"] == [str(job.pk)]
    assert report["pooled_reduction"]["value"] == pytest.approx(1 - AFTER / BEFORE, abs=0.001)


def test_the_work_told_twice_stores_nothing_twice(tested_job, cast, work_off, agency):
    for run in tested_job.test_runs.all():
        workflows.accept_test_run(run.pk, cast.office)
    workflows.finish_work(tested_job.pk, cast.crew_lead)
    workflows.record_inspection(
        tested_job.pk, cast.inspector, on=tested_job.opened_on, passed=True, note=""
    )
    workflows.approve_job(tested_job.pk, cast.manager)
    work_off()
    Errand.objects.update(state="queued")
    work_off()
    assert SavingsEstimate.objects.count() == 1
    assert Certificate.objects.count() == 1
    assert all(run.results.count() == 1 for run in TestRun.objects.all())


def test_an_unreviewed_run_holds_the_approval_up(tested_job, cast):
    for run in tested_job.test_runs.all():
        workflows.accept_test_run(run.pk, cast.office)
    workflows.finish_work(tested_job.pk, cast.crew_lead)
    workflows.record_inspection(
        tested_job.pk, cast.inspector, on=tested_job.opened_on, passed=True, note=""
    )
    for run in tested_job.test_runs.all():
        workflows.undo_review(run.pk, cast.office)
    with pytest.raises(ActionRefused, match="2 test run"):
        workflows.approve_job(tested_job.pk, cast.manager)


def test_a_returned_run_leaves_the_comparison(tested_job, cast):
    before, after = tested_job.test_runs.order_by("taken_at")
    workflows.accept_test_run(before.pk, cast.office)
    workflows.accept_test_run(after.pk, cast.office)
    workflows.send_back_test_run(after.pk, cast.office, "Basement door was shut.")
    newest = Comparison.objects.filter(job=tested_job).first()
    assert newest.verdict == "no_after"
    assert newest.reduction is None


def test_late_evidence_does_not_change_an_approved_job(phone, tested_job, cast, work_off, agency):
    for run in tested_job.test_runs.all():
        workflows.accept_test_run(run.pk, cast.office)
    workflows.finish_work(tested_job.pk, cast.crew_lead)
    workflows.record_inspection(
        tested_job.pk, cast.inspector, on=tested_job.opened_on, passed=True, note=""
    )
    workflows.approve_job(tested_job.pk, cast.manager)
    late = make_document(job=tested_job, phase="after", coefficient_cfm=100.0)
    answer = phone.post("/api/v1/test-runs/", json.dumps(late), content_type="application/json")
    assert answer.status_code == 201
    work_off()
    run = TestRun.objects.get(pk=answer.json()["id"])
    with pytest.raises(ActionRefused, match="late evidence"):
        workflows.accept_test_run(run.pk, cast.office)
