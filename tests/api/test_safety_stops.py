"""Safety stops over the API: a crew reads and acknowledges its own, nobody else's."""

import json
import uuid

import pytest

from tests.builders import make_stop

pytestmark = pytest.mark.django_db

LIST = "/api/v1/safety-stops/"


@pytest.fixture
def stop(make_job):
    """An open stop of the crew's job."""
    return make_stop(make_job(status="in_progress"), source=uuid.UUID(int=5))


def acknowledge(phone, stop, **said):
    return phone.post(f"{LIST}{stop.pk}/acknowledge/", said, format="json")


def told(answer):
    return [(error["field"], error["message"]) for error in answer.json()["errors"]]


def test_a_crew_reads_the_stops_of_its_own_jobs(phone, stop, make_job, cast):
    make_stop(make_job(crew=cast.other_crew))
    (row,) = phone.get(LIST).json()["results"]
    assert row["id"] == str(stop.pk)
    assert (row["job"], row["job_number"]) == (str(stop.job_id), stop.job.number)
    assert row["words"] == "Carbon monoxide in the room air is 38 ppm; the action level is 35 ppm."
    assert row["steps"][0] == "Open doors and windows."
    assert row["cautions"].startswith("Local code")
    assert row["source"] == str(uuid.UUID(int=5))
    assert (row["acknowledged_name"], row["acknowledged_at"], row["cleared_at"]) == ("", None, None)


def test_the_desk_reads_every_stop(sign_in, stop, make_job, cast):
    other = make_stop(make_job(crew=cast.other_crew))
    rows = sign_in(cast.office).get(LIST).json()["results"]
    assert {row["id"] for row in rows} == {str(stop.pk), str(other.pk)}


def test_one_jobs_stops(phone, stop, make_job):
    other = make_stop(make_job())
    rows = phone.get(LIST, {"job": str(other.job_id)}).json()["results"]
    assert [row["id"] for row in rows] == [str(other.pk)]
    assert phone.get(LIST, {"job": str(uuid.uuid4())}).json()["results"] == []


def test_a_job_that_is_no_id_is_refused_by_name(phone, stop):
    answer = phone.get(LIST, {"job": "12"})
    assert answer.status_code == 400
    assert told(answer)[0][0] == "job"


def test_acknowledged_by_name_with_the_phones_time(phone, stop, cast):
    answer = acknowledge(phone, stop, name="Casimir Oyelaran", at="2026-04-14T11:05:00-05:00")
    assert answer.status_code == 200
    assert answer.json()["acknowledged_name"] == "Casimir Oyelaran"
    stop.refresh_from_db()
    assert stop.acknowledged_at.isoformat() == "2026-04-14T16:05:00+00:00"
    assert stop.acknowledged_by == cast.crew_lead
    assert stop.is_open


def test_sent_again_it_changes_nothing(phone, stop):
    first = acknowledge(phone, stop, name="Casimir Oyelaran", at="2026-04-14T11:05:00-05:00")
    again = acknowledge(phone, stop, name="Casimir Oyelaran")
    assert again.status_code == 200
    assert again.json() == first.json()


def test_another_name_is_refused_in_words(phone, stop):
    acknowledge(phone, stop, name="Casimir Oyelaran")
    answer = acknowledge(phone, stop, name="Brannoch Teel")
    assert answer.status_code == 409
    assert "is acknowledged by Casimir Oyelaran already" in told(answer)[0][1]


@pytest.mark.parametrize(
    ("said", "field", "words"),
    [
        ({}, "name", "Send the name of whoever has read the stop."),
        ({"name": "  "}, "name", "The name is blank. Type the name of whoever has read the stop."),
        ({"name": "x" * 161}, "name", "no more than 160 characters"),
        ({"name": "Casimir", "at": "2026-04-14T11:05:00"}, "at", "The time has no zone."),
        ({"name": "Casimir", "at": "noon"}, "at", "wrong format"),
    ],
)
def test_what_cannot_be_read_is_refused_by_field(phone, stop, said, field, words):
    answer = acknowledge(phone, stop, **said)
    assert answer.status_code == 400
    ((named, message),) = told(answer)
    assert named == field
    assert words in message
    stop.refresh_from_db()
    assert not stop.is_acknowledged


def test_a_stranger_finds_no_such_stop(sign_in, stop, cast):
    browser = sign_in(cast.stranger)
    answer = browser.post(
        f"{LIST}{stop.pk}/acknowledge/", {"name": "Brannoch"}, content_type="application/json"
    )
    assert answer.status_code == 404
    assert browser.get(LIST).json()["count"] == 0
    stop.refresh_from_db()
    assert not stop.is_acknowledged


def test_a_stop_cannot_be_changed_or_cleared_here(phone, stop):
    assert phone.delete(f"{LIST}{stop.pk}/").status_code == 404
    assert phone.post(f"{LIST}{stop.pk}/clear/", {"reason": "Well."}).status_code == 404
    assert phone.post(LIST, {}, format="json").status_code == 405


def test_a_job_names_its_open_stops(phone, stop, cast):
    address = f"/api/v1/jobs/{stop.job_id}/"
    assert phone.get(address).json()["open_safety_stops"] == [str(stop.pk)]
    stop.acknowledge(cast.crew_lead, "Casimir")
    stop.clear(cast.inspector, "Flue pipe was refitted.")
    assert phone.get(address).json()["open_safety_stops"] == []


def test_finishing_a_stopped_job_is_refused_in_words(phone, stop):
    answer = phone.post(f"/api/v1/jobs/{stop.job_id}/finish/")
    assert answer.status_code == 409
    assert "has an open safety stop: Carbon monoxide in the room air" in told(answer)[0][1]
    stop.job.refresh_from_db()
    assert stop.job.status == "in_progress"


@pytest.mark.parametrize("number_of_jobs", [2, 12])
def test_queries_do_not_grow_with_the_stops(
    phone, make_job, django_assert_num_queries, number_of_jobs
):
    """Two for the token, phone, count, rows; for jobs the stops of all of them in one more."""
    for _ in range(number_of_jobs):
        make_stop(make_job())
    phone.get(LIST)
    with django_assert_num_queries(5):
        assert phone.get(LIST).json()["count"] == number_of_jobs
    with django_assert_num_queries(6):
        assert phone.get("/api/v1/jobs/").json()["count"] == number_of_jobs


def test_the_schema_describes_them(sign_in, cast):
    answer = sign_in(cast.office).get("/api/v1/schema/", headers={"accept": "application/json"})
    schema = json.loads(answer.content)
    (job,) = [
        parameter
        for parameter in schema["paths"][LIST]["get"]["parameters"]
        if parameter["name"] == "job"
    ]
    assert job["schema"]["format"] == "uuid"
    described = schema["components"]["schemas"]["SafetyStop"]["properties"]
    assert described["steps"] == {
        "type": "array",
        "items": {"type": "string"},
        "readOnly": True,
    }
    stops = schema["components"]["schemas"]["Job"]["properties"]["open_safety_stops"]
    assert stops["items"] == {"type": "string", "format": "uuid"}
