"""Sending test runs: one by one, in batches, twice, changed, broken, and by strangers."""

import copy
import json
import uuid

import pytest
from django.db import IntegrityError, connection, transaction

from agency.diagnostics.models import RefusedUpload, TestRun
from agency.outbox.models import Errand
from tests.builders import make_device, make_document, make_user

URL = "/api/v1/test-runs/"
BATCH = "/api/v1/batches/"


def send(phone, document, url=URL):
    return phone.post(url, json.dumps(document), content_type="application/json")


def test_a_record_is_kept_word_for_word(phone, make_job):
    document = make_document(job=make_job())
    answer = send(phone, document)
    assert answer.status_code == 201, answer.json()
    run = TestRun.objects.get(pk=answer.json()["id"])
    assert json.loads(run.document) == document
    assert list(json.loads(run.document)) == list(document)
    assert run.job.status == "in_progress"


def test_the_evaluation_is_promised_in_the_same_transaction(phone, make_job):
    answer = send(phone, make_document(job=make_job()))
    errand = Errand.objects.get()
    assert str(errand.subject) == answer.json()["id"]
    assert errand.state == "queued"


def test_a_repeat_gets_the_first_answer(phone, make_job):
    document = make_document(job=make_job())
    first, second = send(phone, document), send(phone, document)
    assert second.status_code == first.status_code == 201
    assert second.json() == first.json()
    assert second.headers["Idempotent-Replay"] == "true"
    assert TestRun.objects.count() == 1
    assert Errand.objects.count() == 1


def test_a_repeat_after_years_still_gets_the_first_answer(phone, make_job, time_machine):
    time_machine.move_to("2026-04-14T16:00:00Z", tick=False)
    document = make_document(job=make_job())
    first = send(phone, document)
    time_machine.move_to("2026-06-20T16:00:00Z", tick=False)
    second = send(phone, document)
    assert second.json() == first.json()


def _changed(document, name):
    other = copy.deepcopy(document)
    value = other[name]
    if isinstance(value, str):
        other[name] = {
            "phase": "after",
            "method": "e779",
            "taken_at": "2026-04-14T10:06:00-05:00",
            "operator": "Someone Else",
            "kind": "ducts",
            "job": str(uuid.uuid4()),
        }[name]
    elif isinstance(value, list):
        other[name][0]["points"][0]["building_pressure"] -= 0.1
    else:
        other[name] = {**value, "note": "changed"}
    return other


@pytest.mark.parametrize(
    "name",
    [
        "kind",
        "job",
        "phase",
        "method",
        "taken_at",
        "operator",
        "units",
        "gauge",
        "conditions",
        "setup",
        "series",
    ],
)
def test_the_same_key_with_another_body_is_refused(phone, make_job, name):
    document = make_document(job=make_job())
    first = send(phone, document)
    answer = send(phone, _changed(document, name))
    assert answer.status_code == 422
    [error] = answer.json()["errors"]
    assert (error["field"], error["code"]) == ("client_key", "key_reused")
    assert error["value"] == document["client_key"]
    assert "new key" in error["next_step"]
    assert json.loads(TestRun.objects.get(pk=first.json()["id"]).document) == document


def test_phone_paired_again_gets_the_first_answer_again(phone, make_job, cast):
    document = make_document(job=make_job())
    first = send(phone, document)
    _, token = make_device(cast.crew_lead)
    phone.credentials(HTTP_AUTHORIZATION=f"Token {token}")
    answer = send(phone, document)
    assert (answer.status_code, answer.json()) == (201, first.json())
    assert TestRun.objects.count() == 1


def test_phone_of_another_person_may_use_the_same_key(phone, make_job, cast):
    document = make_document(job=make_job())
    send(phone, document)
    _, token = make_device(make_user("crew", "corisande", crew=cast.crew))
    phone.credentials(HTTP_AUTHORIZATION=f"Token {token}")
    assert send(phone, document).status_code == 201
    assert TestRun.objects.count() == 2


def test_equal_readings_under_a_new_key_are_pointed_out(phone, make_job):
    document = make_document(job=make_job())
    first = send(phone, document)
    answer = send(phone, {**document, "client_key": str(uuid.uuid4())})
    assert answer.json()["looks_like"] == first.json()["id"]


def test_a_bad_record_does_not_sink_the_rest(phone, make_job):
    job = make_job()
    records = [make_document(job=job) for _ in range(50)]
    bad = [3, 9, 17, 24, 31, 40, 49]
    for number in bad:
        records[number]["series"][0]["points"][2]["flow"] = "1,850"
    answer = send(phone, {"records": records}, BATCH)
    assert answer.status_code == 200
    answers = answer.json()["answers"]
    assert [i for i, one in enumerate(answers) if one["http_status"] != 201] == bad
    for number in bad:
        [error] = answers[number]["answer"]["errors"]
        assert error["field"] == "series[0].points[2].flow"
        assert "1,850" in error["message"] + str(error["value"])
        assert error["next_step"]
    assert TestRun.objects.count() == 43
    again = send(phone, {"records": records}, BATCH)
    assert TestRun.objects.count() == 43
    assert sum(one["replay"] for one in again.json()["answers"]) == 43


def test_a_refused_record_is_kept_aside_and_its_key_stays_free(phone, make_job):
    document = make_document(job=make_job())
    document["gauge"]["serial"] = 14
    assert send(phone, document).status_code == 400
    kept = RefusedUpload.objects.get()
    assert json.loads(kept.document) == document
    assert kept.reasons[0]["field"] == "gauge.serial"
    assert send(phone, document).status_code == 400
    assert RefusedUpload.objects.count() == 1
    document["gauge"]["serial"] = "QG-014"
    assert send(phone, document).status_code == 201


def test_the_phone_clock_is_stored_beside_ours(phone, make_job, time_machine):
    time_machine.move_to("2026-04-14T16:00:00Z", tick=False)
    document = make_document(job=make_job())
    send(phone, {"sent_at": "2026-04-14T16:12:00Z", "records": [document]}, BATCH)
    run = TestRun.objects.get()
    assert run.clock_ahead_by.total_seconds() == 720
    assert run.corrected_taken_at.isoformat() == "2026-04-14T14:53:00+00:00"


def test_a_job_of_another_crew_is_not_found(phone, make_job, cast):
    job = make_job(crew=cast.other_crew)
    answer = send(phone, make_document(job=job))
    assert answer.status_code == 400
    assert answer.json()["errors"][0]["field"] == "job"
    assert TestRun.objects.count() == 0
    assert RefusedUpload.objects.count() == 1


def test_nobody_uploads_without_a_paired_phone(client, sign_in, cast, make_job):
    document = json.dumps(make_document(job=make_job()))
    assert client.post(URL, document, content_type="application/json").status_code == 401
    browser = sign_in(cast.office)
    assert browser.post(URL, document, content_type="application/json").status_code == 403
    assert browser.post(BATCH, "{}", content_type="application/json").status_code == 403


def test_a_revoked_phone_is_told_so(phone, make_job):
    phone.device.revoke()
    answer = send(phone, make_document(job=make_job()))
    assert answer.status_code == 401
    assert answer.json()["errors"][0]["code"] == "device_revoked"
    assert TestRun.objects.count() == 0


@pytest.mark.parametrize(
    "body",
    [
        b"",
        b"{",
        b"[]",
        b"null",
        b'{"kind": "envelope", "kind": "envelope"}',
        b"\xff\xfe{\x00}\x00",
        b"\xef\xbb\xbf{}",
        b"[" * 5000 + b"]" * 5000,
        b'{"a": ' * 400 + b"1" + b"}" * 400,
        b'{"kind": "envelope", "note": "\\ud800"}',
        b'{"kind": "envelope", "note": "\\u0000"}',
        b'{"kind": "envelope", "x": NaN}',
        b'{"kind": "envelope", "x": 1e309}',
    ],
)
def test_unreadable_bodies_are_refused_in_words(phone, db, body):
    answer = phone.post(URL, body, content_type="application/json")
    assert answer.status_code == 400
    for error in answer.json()["errors"]:
        assert error["message"]


def test_other_content_types_are_refused(phone, db):
    assert phone.post(URL, "a=1", content_type="text/plain").status_code == 415


def test_the_database_refuses_to_change_a_document(phone, make_job):
    send(phone, make_document(job=make_job()))
    with pytest.raises(IntegrityError, match="cannot be changed"), transaction.atomic():
        TestRun.objects.update(document="{}")
    with connection.cursor() as cursor:
        cursor.execute("SELECT document FROM diagnostics_testrun")
        assert cursor.fetchone()[0] != "{}"
