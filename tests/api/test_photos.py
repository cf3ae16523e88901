"""Sending photos: kept once, made anew, shown to those who may see them, refused in words."""

import json
import threading
import uuid
from datetime import date
from io import BytesIO
from pathlib import Path

import pytest
from django.conf import settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from PIL import Image
from rest_framework.test import APIClient

from agency.diagnostics.models import Photo, RefusedUpload
from agency.jobs.models import Visit
from tests import builders
from tests.diagnostics.pictures import HOSTILE, SECRETS, picture, telling_picture

URL = "/api/v1/photos/"


def form(of_job, body=None, name="IMG_0001.jpg", **changes):
    said = {
        "client_key": str(uuid.uuid4()),
        "job": str(of_job.pk),
        "caption": "Rim joist, north side",
        "taken_at": "2026-04-14T10:20:00-05:00",
        "file": SimpleUploadedFile(name, picture() if body is None else body, "image/jpeg"),
    } | changes
    return {name: value for name, value in said.items() if value is not None}


def send(phone, said):
    if "file" in said and hasattr(said["file"], "seek"):
        said["file"].seek(0)
    return phone.post(URL, said, format="multipart")


@pytest.fixture(autouse=True)
def own_files(settings, tmp_path):
    """A folder of its own: tests of other processes keep photos at the same time."""
    settings.MEDIA_ROOT = tmp_path / "media"


def files():
    return sorted(one for one in Path(settings.MEDIA_ROOT).rglob("photos/**/*") if one.is_file())


def test_a_photo_is_made_anew_and_nothing_of_the_camera_is_stored_or_served(phone, make_job):
    before = set(files())
    answer = send(phone, form(make_job(), telling_picture(orientation=6)))
    assert answer.status_code == 201, answer.content
    photo = Photo.objects.get(pk=answer.json()["id"])
    served = b"".join(phone.get(f"{URL}{photo.pk}/").streaming_content)
    stored = [one.read_bytes() for one in set(files()) - before]
    assert len(stored) == 2
    for body in (*stored, served):
        assert not [secret for secret in (*SECRETS, b"Exif", b"<script") if secret in body]
    assert Image.open(BytesIO(served)).size == (photo.width, photo.height) == (480, 640)
    assert photo.bytes == len(served)
    assert photo.caption == "Rim joist, north side"


@pytest.mark.parametrize(
    "name",
    [
        "../../x.jpg",
        "..\\x",
        "x%00.jpg",
        "CON",
        "n" * 300,
        '"; filename=evil.html',
        "a.php",
        "Casimir's phone 555-0142.jpg",
    ],
)
def test_the_stored_name_is_ours(phone, make_job, name):
    answer = send(phone, form(make_job(), name=name))
    assert answer.status_code == 201
    photo = Photo.objects.get()
    folder, _, stem = photo.file.name.rpartition("/")
    assert folder == "photos"
    assert len(stem) == 36
    assert uuid.UUID(stem.removesuffix(".jpg"))
    served = phone.get(f"{URL}{photo.pk}/").headers["Content-Disposition"]
    assert served == f'inline; filename="{photo.pk}.jpg"'


def test_it_is_served_as_a_picture_and_nothing_else(phone, make_job):
    answer = send(phone, form(make_job(), picture() + b"<script>alert(1)</script>"))
    served = phone.get(f"{URL}{answer.json()['id']}/")
    assert served.headers["Content-Type"] == "image/jpeg"
    assert served.headers["X-Content-Type-Options"] == "nosniff"
    assert served.headers["Content-Security-Policy"] == "default-src 'none'; sandbox"
    assert served.headers["Cache-Control"] == "no-store"


@pytest.mark.parametrize("name", HOSTILE)
def test_what_is_no_photo_is_refused_and_nothing_is_kept(phone, make_job, name):
    before = files()
    answer = send(phone, form(make_job(), HOSTILE[name]))
    assert answer.status_code == 400
    [error] = answer.json()["errors"]
    assert error["field"] == "file"
    assert error["message"]
    assert error["next_step"]
    assert not Photo.objects.exists()
    assert not RefusedUpload.objects.exists()
    assert files() == before


def test_a_repeat_gets_the_first_answer_and_leaves_no_second_file(phone, make_job):
    said = form(make_job())
    first = send(phone, said)
    kept = files()
    second = send(phone, said)
    assert second.json() == first.json()
    assert second.headers["Idempotent-Replay"] == "true"
    assert Photo.objects.count() == 1
    assert files() == kept


@pytest.mark.parametrize(
    "change",
    [
        {"caption": "Another"},
        {"taken_at": "2026-04-14T10:21:00-05:00"},
        {"test_key": str(uuid.uuid4())},
        {"file": SimpleUploadedFile("b.jpg", picture(641), "image/jpeg")},
    ],
)
def test_the_same_key_with_another_photo_is_refused(phone, make_job, change):
    said = form(make_job())
    send(phone, said)
    answer = send(phone, said | change)
    assert answer.status_code == 422
    assert answer.json()["errors"][0]["code"] == "key_reused"
    assert Photo.objects.get().caption == "Rim joist, north side"


@pytest.mark.parametrize(
    ("changes", "field", "code"),
    [
        ({"client_key": "7"}, "client_key", "not_a_uuid"),
        ({"client_key": None}, "client_key", "missing"),
        ({"job": str(uuid.uuid4())}, "job", "not_found"),
        ({"visit": str(uuid.uuid4())}, "visit", "not_found"),
        ({"taken_at": "yesterday"}, "taken_at", "not_a_time"),
        ({"taken_at": "2026-04-14T10:20:00"}, "taken_at", "no_time_zone"),
        ({"caption": "x" * 241}, "caption", "too_long"),
        ({"caption": ["one", "two"]}, "caption", "wrong_type"),
        ({"file": None}, "file", "missing"),
        ({"file": "text in place of a file"}, "file", "missing"),
        ({"is_staff": "1"}, "is_staff", "unknown_field"),
        ({"bytes": "1"}, "bytes", "unknown_field"),
        ({"second": SimpleUploadedFile("b.jpg", b"x")}, "second", "unknown_field"),
    ],
)
def test_a_bad_field_is_named(phone, make_job, changes, field, code):
    answer = send(phone, form(make_job(), **changes))
    assert answer.status_code == 400
    assert [(one["field"], one["code"]) for one in answer.json()["errors"]] == [(field, code)]
    assert not Photo.objects.exists()


def test_empty_fields_of_a_form_count_as_not_said(phone, make_job):
    assert send(phone, form(make_job(), visit="", test_key="", caption="")).status_code == 201


def test_a_photo_may_come_before_its_test_and_finds_it_later(phone, make_job):
    job = make_job()
    document = builders.make_document(job=job)
    send(phone, form(job, test_key=document["client_key"]))
    photo = Photo.objects.get()
    assert photo.test_run is None
    phone.post("/api/v1/test-runs/", json.dumps(document), content_type="application/json")
    assert str(photo.test_run.client_key) == document["client_key"]


def test_a_visit_of_another_job_is_refused(phone, make_job):
    other = Visit.objects.create(job=make_job(), kind="test_in", planned_on=date(2026, 4, 14))
    assert send(phone, form(make_job(), visit=str(other.pk))).status_code == 400


def test_a_crew_sees_and_sends_photos_of_its_own_jobs_only(phone, make_job, cast):
    answer = send(phone, form(make_job(crew=cast.other_crew)))
    assert answer.json()["errors"][0]["field"] == "job"
    mine = send(phone, form(make_job())).json()["id"]
    stranger = APIClient()
    _, token = builders.make_device(cast.stranger)
    stranger.credentials(HTTP_AUTHORIZATION=f"Token {token}")
    assert stranger.get(f"{URL}{mine}/").status_code == 404
    assert phone.get(f"{URL}{uuid.uuid4()}/").status_code == 404
    assert APIClient().get(f"{URL}{mine}/").status_code == 401


def test_a_revoked_phone_is_told_so_and_nothing_is_kept(phone, make_job):
    before = files()
    phone.device.revoke()
    answer = send(phone, form(make_job()))
    assert answer.status_code == 401
    assert answer.json()["errors"][0]["code"] == "device_revoked"
    assert files() == before


def test_more_bytes_than_a_photo_needs_are_refused_unread(phone, make_job):
    answer = send(phone, form(make_job(), b"\xff\xd8" + bytes(12_000_001)))
    assert answer.status_code == 413
    [error] = answer.json()["errors"]
    assert error["code"] == "too_large"
    assert "12 MB" in error["message"]


def test_a_form_of_too_many_fields_is_refused_in_words(phone, make_job):
    said = form(make_job()) | {f"f{number}": "x" for number in range(1100)}
    answer = send(phone, said)
    assert answer.status_code == 400
    assert answer.json()["errors"][0]["message"]


@pytest.mark.parametrize(
    ("kind", "body", "status"),
    [
        ("application/json", b"{}", 415),
        ("image/jpeg", b"\xff\xd8", 415),
        ("multipart/form-data", b"x", 400),
        ("multipart/form-data; boundary=b", b"--b\r\nno header", 400),
        ("multipart/form-data; boundary=" + "b" * 300, b"--b--", 415),
    ],
)
def test_a_body_that_is_no_form_is_refused_in_words(phone, db, kind, body, status):
    answer = phone.generic("POST", URL, body, content_type=kind)
    assert answer.status_code == status
    assert all(one["message"] for one in answer.json()["errors"])


@pytest.mark.django_db(transaction=True, serialized_rollback=True)
@pytest.mark.skipif("connection.vendor == 'sqlite'", reason="a database in memory has one writer")
def test_twin_requests_make_one_photo_and_leave_no_files_behind():
    crew = builders.Crew.objects.create(name="Crew Alder")
    _, token = builders.make_device(builders.make_user("crew", "casimir", crew=crew))
    said = form(builders.make_job(crew=crew))
    body, before = said.pop("file").read(), set(files())
    start, answers = threading.Barrier(6), []

    def twin():
        phone = APIClient()
        phone.credentials(HTTP_AUTHORIZATION=f"Token {token}")
        start.wait()
        answers.append(send(phone, said | {"file": SimpleUploadedFile("a.jpg", body)}))
        connection.close()

    twins = [threading.Thread(target=twin) for _ in range(6)]
    for one in twins:
        one.start()
    for one in twins:
        one.join()
    assert {answer.status_code for answer in answers} == {201}
    assert len({answer.json()["id"] for answer in answers}) == 1
    assert Photo.objects.count() == 1
    assert len(set(files()) - before) == 2
