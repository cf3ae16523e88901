"""What the API gives out, to whom, and that the served schema describes it."""

import json

import pytest
from openapi_spec_validator import validate

from tests.builders import make_comparison

pytestmark = pytest.mark.django_db


def test_the_schema_is_valid_and_names_every_address(sign_in, cast):
    answer = sign_in(cast.office).get("/api/v1/schema/", headers={"accept": "application/json"})
    schema = json.loads(answer.content)
    validate(schema)
    assert set(schema["paths"]) == {
        "/api/v1/batches/",
        "/api/v1/bill-studies/",
        "/api/v1/bill-studies/{id}/",
        "/api/v1/devices/",
        "/api/v1/field/",
        "/api/v1/forms/",
        "/api/v1/forms/{kind}/",
        "/api/v1/jobs/",
        "/api/v1/jobs/{id}/",
        "/api/v1/jobs/{id}/finish/",
        "/api/v1/jobs/{id}/work-started/",
        "/api/v1/measures/",
        "/api/v1/measures/{id}/",
        "/api/v1/measures-estimates/",
        "/api/v1/measures-estimates/{id}/",
        "/api/v1/photos/",
        "/api/v1/photos/{id}/",
        "/api/v1/reports/quarters/{quarter}/",
        "/api/v1/reports/realisations/{grant}/",
        "/api/v1/safety-stops/",
        "/api/v1/safety-stops/{id}/acknowledge/",
        "/api/v1/test-runs/",
        "/api/v1/test-runs/{id}/",
        "/api/v1/visit-reports/",
    }
    document = schema["components"]["schemas"]["EnvelopeDocument"]
    assert set(document["required"]) >= {"kind", "client_key", "phase", "series", "units"}


def test_pairing_gives_a_token_that_is_stored_as_a_hash_only(client, cast):
    body = {"username": "casimir", "password": "quillmoor-tests-only-passphrase", "label": "Van 2"}
    answer = client.post("/api/v1/devices/", body, content_type="application/json")
    assert answer.status_code == 201
    token = answer.json()["token"]
    stored = cast.crew_lead.devices.get(label="Van 2").token
    assert token not in stored.digest
    assert len(stored.digest) == 128
    jobs = client.get("/api/v1/jobs/", headers={"authorization": f"Token {token}"})
    assert jobs.status_code == 200


def test_a_wrong_password_pairs_nothing(client, cast):
    body = {"username": "casimir", "password": "guess", "label": "Van 2"}
    answer = client.post("/api/v1/devices/", body, content_type="application/json")
    assert answer.status_code in {401, 403}
    assert not cast.crew_lead.devices.exists()


def test_a_crew_reads_its_own_jobs_only(phone, make_job, cast):
    own, other = make_job(), make_job(crew=cast.other_crew)
    listed = phone.get("/api/v1/jobs/").json()
    assert [job["id"] for job in listed["results"]] == [str(own.pk)]
    assert phone.get(f"/api/v1/jobs/{own.pk}/").status_code == 200
    assert phone.get(f"/api/v1/jobs/{other.pk}/").status_code == 404
    assert phone.post(f"/api/v1/jobs/{other.pk}/finish/").status_code == 404


def test_the_number_of_queries_does_not_grow_with_the_list(
    phone, make_job, make_run, django_assert_max_num_queries
):
    for _ in range(12):
        make_run(make_job())
    with django_assert_max_num_queries(6):
        assert phone.get("/api/v1/jobs/").json()["count"] == 12
    with django_assert_max_num_queries(7):
        assert phone.get("/api/v1/test-runs/").json()["count"] == 12


def test_finishing_twice_is_refused_in_words(phone, make_job):
    job = make_job(status="in_progress")
    assert phone.post(f"/api/v1/jobs/{job.pk}/finish/").json()["status"] == "tested_out"
    answer = phone.post(f"/api/v1/jobs/{job.pk}/finish/")
    assert answer.status_code == 409
    assert "is tested out" in answer.json()["errors"][0]["message"]


def test_the_first_working_day_is_written_down(phone, make_job):
    job = make_job(status="in_progress")
    address = f"/api/v1/jobs/{job.pk}/work-started/"
    assert (
        phone.post(address, {"on": "2026-04-20"}, format="json").json()["work_started_on"]
        == "2026-04-20"
    )
    answer = phone.post(address, {"on": "20/04/2026"}, format="json")
    assert answer.status_code == 400
    assert answer.json()["errors"][0]["field"] == "on"


def test_reports_are_for_the_desk(phone, sign_in, cast, make_job, make_run):
    job = make_job(status="approved")
    make_comparison(job, make_run(job, "before", 3000.0), make_run(job, "after", 2100.0))
    address = "/api/v1/reports/quarters/2026-Q2/"
    assert phone.get(address).status_code == 403
    report = sign_in(cast.manager).get(address).json()
    assert report["units"]["n"] == 1
    assert report["pooled_reduction"]["value"] == pytest.approx(0.3)
    assert sign_in(cast.manager).get("/api/v1/reports/quarters/soon/").status_code == 409


def test_reading_needs_a_sign_in(client, make_job, make_run):
    run = make_run(make_job())
    for address in ("jobs/", "test-runs/", f"test-runs/{run.pk}/", "reports/quarters/2026-Q2/"):
        assert client.get(f"/api/v1/{address}").status_code == 401
