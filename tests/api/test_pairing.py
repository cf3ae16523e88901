"""Pairing a phone with a code: once, soon, for one person, and not by guessing."""

import threading
from datetime import timedelta

import pytest
from django.core.cache import cache
from django.db import connection
from django.utils import timezone
from rest_framework.test import APIClient

from agency.accounts.models import Device, PairingCode
from tests import builders

URL = "/api/v1/devices/"


@pytest.fixture(autouse=True)
def no_guesses_yet():
    cache.clear()


@pytest.fixture
def code(cast):
    return PairingCode.make(cast.crew_lead, made_by=cast.office, now=timezone.now())


def pair(client, code, label="Blue phone"):
    return client.post(URL, {"code": code, "label": label}, content_type="application/json")


def refused(answer):
    [error] = answer.json()["errors"]
    return answer.status_code, error["field"], error["code"]


def test_a_code_gives_its_person_a_phone_that_may_read(client, cast, code):
    answer = pair(client, code)
    assert answer.status_code == 201
    said = answer.json()
    assert (said["name"], said["crew"]) == (str(cast.crew_lead), "Crew Alder")
    device = Device.objects.get(pk=said["device"])
    assert (device.user, device.label) == (cast.crew_lead, "Blue phone")
    jobs = client.get("/api/v1/jobs/", headers={"authorization": f"Token {said['token']}"})
    assert jobs.status_code == 200


def test_a_code_may_be_typed_in_small_letters_and_with_its_dash(client, code):
    assert pair(client, f" {code[:4]}-{code[4:]} ".lower()).status_code == 201


def test_a_code_works_once(client, code):
    assert pair(client, code).status_code == 201
    assert refused(pair(client, code)) == (400, "code", "code_refused")
    assert Device.objects.count() == 1


def test_a_code_dies_after_fifteen_minutes(client, code, time_machine):
    made = timezone.now()
    time_machine.move_to(made + timedelta(minutes=15, seconds=1))
    assert refused(pair(client, code)) == (400, "code", "code_refused")
    assert not Device.objects.exists()


def test_a_new_code_ends_the_older_one_of_the_same_person_only(client, cast, code):
    others = PairingCode.make(cast.stranger, made_by=cast.office, now=timezone.now())
    PairingCode.make(cast.crew_lead, made_by=cast.office, now=timezone.now())
    assert pair(client, code).status_code == 400
    assert pair(client, others).json()["crew"] == "Crew Birch"


def test_the_code_of_someone_who_left_pairs_nothing(client, cast, code):
    cast.crew_lead.is_active = False
    cast.crew_lead.save()
    assert pair(client, code).status_code == 400


def test_the_database_holds_no_code(code):
    [row] = PairingCode.objects.values()
    assert code not in str(row)
    assert len(row["code_hash"]) == 64


def test_guessing_is_slowed_down_and_a_right_code_waits_too(client, code):
    for _ in range(20):
        assert refused(pair(client, "AAAA2222")) == (400, "code", "code_refused")
    answer = pair(client, code)
    assert refused(answer) == (429, "", "throttled")
    assert int(answer.headers["Retry-After"]) == 900
    assert not Device.objects.exists()


def test_right_codes_from_one_office_are_never_slowed_down(client, cast):
    for _ in range(25):
        code = PairingCode.make(cast.crew_lead, made_by=cast.office, now=timezone.now())
        assert pair(client, code).status_code == 201


@pytest.mark.parametrize(
    "body",
    [
        {"label": "x"},
        {"label": "x", "username": "casimir"},
        {"label": "x", "code": "A", "username": "casimir", "password": "b"},
        {"code": "AAAA2222"},
        {"label": "", "code": "AAAA2222"},
        {"label": "x", "code": "A" * 21},
        {"label": "x\x00", "code": "AAAA2222"},
        {"label": "x", "code": {"$ne": ""}},
    ],
)
def test_an_incomplete_or_odd_request_is_refused_in_words(client, db, body):
    answer = client.post(URL, body, content_type="application/json")
    assert answer.status_code == 400
    assert all(error["message"] for error in answer.json()["errors"])


def test_a_revoked_phone_is_not_revived_by_its_old_code(client, code):
    token = pair(client, code).json()["token"]
    Device.objects.get().revoke()
    answer = client.get("/api/v1/jobs/", headers={"authorization": f"Token {token}"})
    assert answer.json()["errors"][0]["code"] == "device_revoked"
    assert pair(client, code).status_code == 400


@pytest.mark.django_db(transaction=True, serialized_rollback=True)
@pytest.mark.skipif("connection.vendor == 'sqlite'", reason="a database in memory has one writer")
def test_of_twin_requests_one_gets_the_phone():
    crew = builders.Crew.objects.create(name="Crew Alder")
    lead = builders.make_user("crew", "casimir", crew=crew)
    code = PairingCode.make(lead, made_by=lead, now=timezone.now())
    start, statuses = threading.Barrier(6), []

    def twin():
        start.wait()
        answer = APIClient().post(URL, {"code": code, "label": "Twin"}, format="json")
        statuses.append(answer.status_code)
        connection.close()

    twins = [threading.Thread(target=twin) for _ in range(6)]
    for one in twins:
        one.start()
    for one in twins:
        one.join()
    assert sorted(statuses) == [201, 400, 400, 400, 400, 400]
    assert Device.objects.count() == 1
