"""Sending visit reports: outcome, safety stops, repeats, twins, refusals and strangers."""

import json
import threading
import uuid
from datetime import date

import pytest
from django.db import IntegrityError, connection, transaction
from rest_framework.test import APIClient

from agency.diagnostics.models import RefusedUpload, VisitReport
from agency.jobs.models import SafetyStop, Visit
from tests import builders

URL = "/api/v1/visit-reports/"


@pytest.fixture
def visit(make_job):
    return make_visit(make_job())


def make_visit(job):
    return Visit.objects.create(
        job=job, kind="test_in", planned_on=date(2026, 4, 14), crew=job.crew
    )


def report(at, **changes):
    return {
        "client_key": str(uuid.uuid4()),
        "visit": str(at.pk),
        "arrived_at": "2026-04-14T09:00:00-05:00",
        "left_at": "2026-04-14T11:30:00-05:00",
        "safety": {"gas": "clear", "carbon_monoxide": "clear", "fire": "not_here"},
        "not_safe": None,
        "not_possible": [{"kind": "component", "code": "no_time", "words": ""}],
        "setup": {"interior_doors": "open"},
        "note": "",
    } | changes


def send(phone, document):
    return phone.post(URL, json.dumps(document), content_type="application/json")


GAS = {"code": "gas", "words": "Strong smell at the meter, we are outside."}


def test_a_report_is_kept_word_for_word_and_ends_the_visit(phone, visit):
    said = report(visit)
    answer = send(phone, said)
    assert answer.status_code == 201, answer.json()
    assert answer.json()["status"] == "stored"
    stored = VisitReport.objects.get(pk=answer.json()["id"])
    assert json.loads(stored.document) == said
    visit.refresh_from_db()
    assert visit.outcome == "done"
    assert not SafetyStop.objects.exists()


def test_a_report_on_arrival_leaves_the_outcome_open(phone, visit):
    assert send(phone, report(visit, left_at=None)).status_code == 201
    visit.refresh_from_db()
    assert visit.outcome == ""


def test_gas_makes_the_visit_unsafe_and_stops_the_job(phone, visit):
    assert send(phone, report(visit, not_safe=GAS)).status_code == 201
    visit.refresh_from_db()
    assert visit.outcome == "unsafe"
    [stop] = visit.job.safety_stops.all()
    assert stop.hazard == "gas"
    assert GAS["words"] in stop.words
    assert any("Leave." in step for step in stop.steps)
    assert stop.is_open


def test_a_hazard_found_on_arrival_stops_the_job_even_when_the_crew_stayed(phone, visit):
    found = {"carbon_monoxide": "present"}
    assert send(phone, report(visit, safety=found)).status_code == 201
    visit.refresh_from_db()
    assert visit.outcome == "done"
    assert [stop.hazard for stop in visit.job.safety_stops.all()] == ["carbon_monoxide"]


@pytest.mark.parametrize("code", ["asbestos", "pets_children", "people", "other"])
def test_a_lesser_reason_makes_the_visit_unsafe_without_a_stop(phone, visit, code):
    reason = {"code": code, "words": "Not today."}
    assert send(phone, report(visit, not_safe=reason)).status_code == 201
    visit.refresh_from_db()
    assert visit.outcome == "unsafe"
    assert not SafetyStop.objects.exists()


def test_the_latest_moment_decides_the_outcome_in_whatever_order_reports_come(phone, make_job):
    morning = {"not_safe": GAS, "left_at": "2026-04-14T09:10:00-05:00"}
    afternoon = {
        "arrived_at": "2026-04-14T14:00:00-05:00",
        "left_at": "2026-04-14T16:00:00-05:00",
    }
    for first, second in ((morning, afternoon), (afternoon, morning)):
        visit = make_visit(make_job())
        send(phone, report(visit, **first))
        send(phone, report(visit, **second))
        visit.refresh_from_db()
        assert visit.outcome == "done"
        assert visit.job.safety_stops.count() == 1


def test_what_an_inspector_found_stands(phone, visit):
    Visit.objects.filter(pk=visit.pk).update(kind="final_inspection", outcome="failed")
    assert send(phone, report(visit)).status_code == 201
    visit.refresh_from_db()
    assert visit.outcome == "failed"


def test_a_repeat_gets_the_first_answer_and_has_no_further_effect(phone, visit):
    said = report(visit, not_safe=GAS)
    first = send(phone, said)
    SafetyStop.objects.all().delete()
    second = send(phone, said)
    assert second.status_code == 201
    assert second.json() == first.json()
    assert second.headers["Idempotent-Replay"] == "true"
    assert VisitReport.objects.count() == 1
    assert not SafetyStop.objects.exists()


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("left_at", None),
        ("arrived_at", "2026-04-14T09:00:01-05:00"),
        ("safety", {}),
        ("not_safe", GAS),
        ("not_possible", []),
        ("setup", {}),
        ("note", "Dog in the yard."),
        ("visit", "5f0a6c1e-7a52-4d0b-9a53-0e1d5b6a0099"),
    ],
)
def test_the_same_key_with_another_body_is_refused(phone, visit, name, value):
    said = report(visit)
    send(phone, said)
    answer = send(phone, said | {name: value})
    assert answer.status_code == 422
    [error] = answer.json()["errors"]
    assert (error["field"], error["code"]) == ("client_key", "key_reused")
    assert json.loads(VisitReport.objects.get().document) == said


@pytest.mark.parametrize(
    ("change", "field", "code"),
    [
        ({"visit": "soon"}, "visit", "not_a_uuid"),
        ({"visit": str(uuid.uuid4())}, "visit", "not_found"),
        ({"arrived_at": "2026-04-14T09:00:00"}, "arrived_at", "no_time_zone"),
        ({"left_at": "2026-04-14T08:00:00-05:00"}, "", "times_order"),
        ({"safety": {"gas": "maybe"}}, "safety.gas", "not_a_choice"),
        ({"not_safe": {"code": "gas", "words": ""}}, "not_safe.words", "too_short"),
        ({"not_safe": {"code": "aliens", "words": "x"}}, "not_safe.code", "not_a_choice"),
        (
            {"not_possible": [{"kind": "magic", "code": "other"}]},
            "not_possible[0].kind",
            "not_a_choice",
        ),
        (
            {"not_possible": [{"kind": "envelope", "code": "lazy"}]},
            "not_possible[0].code",
            "not_a_choice",
        ),
        ({"outcome": "done"}, "outcome", "unknown_field"),
        ({"note": "x" * 4001}, "note", "too_long"),
        ({"note": "nul \x00"}, "note", "unreadable_text"),
    ],
)
def test_a_bad_field_is_named_and_the_report_kept_aside(phone, visit, change, field, code):
    said = report(visit, **change)
    answer = send(phone, said)
    assert answer.status_code == 400, answer.json()
    [error] = answer.json()["errors"]
    assert (error["field"], error["code"]) == (field, code)
    assert error["message"]
    assert error["next_step"]
    assert not VisitReport.objects.exists()
    assert json.loads(RefusedUpload.objects.get().document) == said
    assert send(phone, report(visit, client_key=said["client_key"])).status_code == 201


@pytest.mark.parametrize("body", ["[]", "null", "7", '"text"'])
def test_a_body_that_is_no_object_is_refused_in_words(phone, db, body):
    answer = phone.post(URL, body, content_type="application/json")
    assert answer.status_code == 400
    assert all(error["message"] for error in answer.json()["errors"])


def test_a_visit_of_another_crew_is_not_found(phone, make_job, cast):
    answer = send(phone, report(make_visit(make_job(crew=cast.other_crew))))
    assert answer.status_code == 400
    assert answer.json()["errors"][0]["field"] == "visit"
    assert not VisitReport.objects.exists()


def test_only_a_paired_phone_reports(client, sign_in, cast, visit):
    body = json.dumps(report(visit))
    assert client.post(URL, body, content_type="application/json").status_code == 401
    browser = sign_in(cast.crew_lead)
    assert browser.post(URL, body, content_type="application/json").status_code == 403


def test_a_revoked_phone_is_told_so_and_nothing_is_kept(phone, visit):
    phone.device.revoke()
    answer = send(phone, report(visit))
    assert answer.status_code == 401
    assert answer.json()["errors"][0]["code"] == "device_revoked"
    assert not VisitReport.objects.exists()
    assert not RefusedUpload.objects.exists()


def test_the_database_refuses_to_change_a_report(phone, visit):
    send(phone, report(visit))
    with pytest.raises(IntegrityError, match="cannot be changed"), transaction.atomic():
        VisitReport.objects.update(not_safe="gas")


@pytest.mark.django_db(transaction=True, serialized_rollback=True)
@pytest.mark.skipif("connection.vendor == 'sqlite'", reason="a database in memory has one writer")
def test_twin_requests_make_one_report_and_one_stop():
    crew = builders.Crew.objects.create(name="Crew Alder")
    _, token = builders.make_device(builders.make_user("crew", "casimir", crew=crew))
    said = report(make_visit(builders.make_job(crew=crew)), not_safe=GAS)
    start, answers = threading.Barrier(8), []

    def twin():
        phone = APIClient()
        phone.credentials(HTTP_AUTHORIZATION=f"Token {token}")
        start.wait()
        answers.append(send(phone, said))
        connection.close()

    twins = [threading.Thread(target=twin) for _ in range(8)]
    for one in twins:
        one.start()
    for one in twins:
        one.join()
    assert {answer.status_code for answer in answers} == {201}
    assert len({json.dumps(answer.json(), sort_keys=True) for answer in answers}) == 1
    assert VisitReport.objects.count() == SafetyStop.objects.count() == 1
